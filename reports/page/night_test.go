package page

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// The invented night of these tests: a whip, a loop and a dipole in study and
// loft, 16:00 to 04:00 UTC, marked simulated. Levels are plausible, nothing more.

var (
	nightStart = time.Date(2026, 11, 3, 16, 0, 0, 0, time.UTC)

	whipStudy  = survey.Setup{Antenna: "whip", Placement: "study"}
	loopStudy  = survey.Setup{Antenna: "loop", Placement: "study", Bearing: survey.BearingOf(40)}
	loopLoft   = survey.Setup{Antenna: "loop", Placement: "loft", Bearing: survey.BearingOf(40)}
	loopTurned = survey.Setup{Antenna: "loop", Placement: "loft", Bearing: survey.BearingOf(130)}
	dipole     = survey.Setup{Antenna: "dipole", Placement: "loft", Bearing: survey.BearingOf(90)}
	whipLoft   = survey.Setup{Antenna: "whip", Placement: "loft"}
	allSetups  = []survey.Setup{whipStudy, loopStudy, loopLoft, loopTurned, dipole, whipLoft}

	nightSegments = []survey.Segment{
		{Name: "49 m", Low: 5900e3, High: 6200e3},
		{Name: "41 m", Low: 7200e3, High: 7450e3},
		{Name: "31 m", Low: 9400e3, High: 9900e3},
		{Name: "25 m", Low: 11600e3, High: 12100e3},
	}
)

func db(x float64) *survey.DB { d := survey.DB(x); return &d }

// ranked makes one setup's place: advantage, half width of its interval, and
// the change of the floor.
func ranked(s survey.Setup, rank int, advantage, half, floor, share float64, may bool) result.RankSetup {
	r := result.RankSetup{Setup: s, Rank: rank, SNRAdvantage: db(advantage), FloorChange: db(floor),
		SignalChange: db(advantage + floor), BestShare: &share, MayBeBest: may, Rounds: 24, Carriers: 17, Flags: []string{}}
	if half > 0 {
		r.Low, r.High = db(advantage-half), db(advantage+half)
	}
	return r
}

func reference(s survey.Setup, rank int, share float64, may bool) result.RankSetup {
	r := ranked(s, rank, 0, 0, 0, share, may)
	r.Low, r.High = db(0), db(0)
	return r
}

func rankOf(s survey.Segment, period string, doubts []doubt.Doubt, setups ...result.RankSetup) result.RankSegment {
	if doubts == nil {
		doubts = []doubt.Doubt{}
	}
	return result.RankSegment{Segment: s.Name, Low: s.Low, High: s.High, Period: period, Of: result.OfCarriers, Verdict: verdictOf(setups), Setups: setups, Doubts: doubts}
}

// verdictOf says what a ranking comes to in which those that may be the best are marked: the lead is
// known to 1 dB, or to 0.2 dB more than itself where it is a tie.
func verdictOf(setups []result.RankSetup) *result.Verdict {
	if len(setups) < 2 {
		return nil
	}
	v := &result.Verdict{Kind: result.VerdictFewRounds}
	for _, s := range setups {
		if s.MayBeBest {
			v.Setups = append(v.Setups, s.Setup)
		}
		if s.Low != nil && *s.Low != *s.High {
			v.Kind = result.VerdictTie
		}
	}
	if v.Kind == result.VerdictFewRounds {
		return v
	}
	lead := float64(*setups[0].SNRAdvantage - *setups[1].SNRAdvantage)
	half := lead + 0.2
	if len(v.Setups) == 1 {
		v.Kind, half = result.VerdictBest, min(1, 0.8*lead)
	} else {
		v.MoreRounds = new(14)
	}
	v.Lead, v.Low, v.High = db(lead), db(lead-half), db(lead+half)
	return v
}

// nightRank holds a clear winner, a tie, no difference, a night that differs, a dusk of too few rounds,
// and a noise source without which another setup is the best.
func nightRank() result.Rank {
	at := func(rounds int, s result.RankSegment) result.RankSegment {
		for i := range s.Setups {
			s.Setups[i].Rounds = rounds
		}
		return s
	}
	flagged := ranked(whipLoft, 6, -3.4, 1.6, 1.1, 0, false)
	flagged.Flags = []string{survey.FlagReceiverLimited}
	s := nightSegments
	supply := at(12, rankOf(s[0], "all", nil, ranked(loopLoft, 1, 7.9, 1.1, -7.1, 0.99, true), ranked(dipole, 2, 3.1, 1.4, -1.0, 0.01, false), reference(whipStudy, 3, 0, false)))
	supply.State = new("source 1 on")
	few := []result.RankSetup{ranked(dipole, 1, 4, 0, 0, 0, true), reference(whipStudy, 2, 0, true)}
	few[0].BestShare, few[1].BestShare, few[1].Low, few[1].High = nil, nil, nil, nil
	whole := rankOf(s[0], "all", nil, ranked(loopLoft, 1, 4.1, 0.9, -4.4, 0.61, true), ranked(dipole, 2, 3.8, 1.2, -1.0, 0.38, true),
		ranked(loopTurned, 3, 1.9, 1.0, -4.0, 0.01, false), ranked(loopStudy, 4, 0.7, 0.8, -2.1, 0, false), reference(whipStudy, 5, 0, false), flagged)
	whole.Halves = []result.Halves{{Changed: "idle", First: "open", Second: "50 ohm", RoundsFirst: 12, RoundsSecond: 12, Setups: []result.HalvesSetup{
		{Setup: loopLoft, Advantage: &result.Estimate{DB: db(2), Low: db(1.1), High: db(2.9)}, OwnFloor: &result.Estimate{DB: db(-0.3), Low: db(-1.5), High: db(0.9)}},
		{Setup: whipStudy, OwnFloor: &result.Estimate{DB: db(0.4)}},
	}}}
	return result.Rank{Schema: result.SchemaRank, Simulated: true, Reference: whipStudy, Segments: []result.RankSegment{
		whole,
		supply,
		at(20, rankOf(s[0], "night", nil, ranked(loopStudy, 1, 5.2, 1.9, -5.0, 0.97, true), ranked(loopLoft, 2, 2.0, 1.1, -3, 0.03, false), reference(whipStudy, 3, 0, false))),
		rankOf(s[1], "all", []doubt.Doubt{{Kind: "7 rounds: intervals are wide"}}, ranked(dipole, 1, 0.4, 1.0, 0.2, 0.4, true), reference(whipStudy, 2, 0.35, true), ranked(loopLoft, 3, -0.2, 1.3, -2, 0.25, true)),
		at(4, rankOf(s[1], "dusk", nil, few...)),
		rankOf(s[2], "all", nil, ranked(loopLoft, 1, 6.2, 1.1, -5.2, 0.98, true), ranked(loopTurned, 2, 3.3, 1.2, -4.9, 0.02, false),
			ranked(dipole, 3, 2.1, 1.4, 0.5, 0, false), reference(whipStudy, 4, 0, false), ranked(loopStudy, 5, -0.6, 0.9, -1.9, 0, false)),
		at(20, rankOf(s[2], "night", nil, ranked(loopLoft, 1, 7.5, 1.8, -6.0, 0.99, true), reference(whipStudy, 2, 0, false))),
		rankOf(s[3], "all", nil, reference(whipStudy, 1, 0.8, true), ranked(dipole, 2, -1.2, 1.5, 0.7, 0.2, true), ranked(loopLoft, 3, -4.4, 4.2, -6, 0, false)),
	}}
}

// nightLevel is the floor of segment i through setup j at h hours after the
// start, in dBFS/Hz: noise of the evening falls off, one supply runs 19–23 h.
func nightLevel(i, j int, h float64) float64 {
	l := -97 - 2.5*float64(i) - 1.7*float64(j) - 4/(1+math.Exp(-(h-6)))
	if h > 3 && h < 7 && j < 2 {
		l += 5
	}
	return l
}

func nightFloor() result.FloorTable {
	t := result.FloorTable{Schema: result.SchemaFloor, Simulated: true}
	for i, s := range nightSegments {
		for h := range 12 {
			for j, setup := range allSetups {
				if h == 8 && j == 2 {
					continue // the loop in the loft was out for an hour
				}
				m := nightLevel(i, j, float64(h)+0.5)
				t.Rows = append(t.Rows, result.FloorRow{Segment: s.Name, Low: s.Low, High: s.High, Setup: setup, Readings: 40, Gain: db(29.7),
					From: nightStart.Add(time.Duration(h) * time.Hour), To: nightStart.Add(time.Duration(h+1) * time.Hour),
					DBFSHz: &result.Quantiles{P10: m - 0.9, P50: m, P90: m + 1.6}})
			}
		}
	}
	return t
}

// nightPicture makes rows × columns of exponentially distributed noise averaged
// 40 times, some broadcasters and a comb that drifts while the supply runs.
func nightPicture(rng *rand.Rand, i, j, rows, columns int) result.Waterfall {
	s := nightSegments[i]
	p := result.Waterfall{Segment: s.Name, Setup: allSetups[j], Low: s.Low, High: s.High, Columns: columns, Gain: db(29.7)}
	for r := range rows {
		h := 12 * (float64(r) + 0.5) / float64(rows)
		if h > 8 && h < 9 && j == 2 {
			continue
		}
		p.Times = append(p.Times, nightStart.Add(time.Duration(h*float64(time.Hour))))
		for c := range columns {
			l := nightLevel(i, j, h) + rng.NormFloat64()*4.34/math.Sqrt(40)
			if c%(columns/9+1) == 3 && (c*7)%5 != 1 {
				l += 14 + 8*math.Sin(h*2+float64(c)) - float64(j%3)
			}
			if h > 3 && h < 7 && math.Abs(math.Mod(float64(c)+h*2, 22)-11) < 1 {
				l += max(0, 9-3*float64(j))
			}
			p.DBFSHz = append(p.DBFSHz, float32(l))
		}
	}
	return p
}

// nightEvents are more than are shown, one of which makes the loop another antenna.
func nightEvents() (events []result.QualityEvent) {
	for h := range 12 {
		events = append(events, result.QualityEvent{At: nightStart.Add(time.Duration(h) * time.Hour), Text: "kettle on"})
	}
	events[1].Text = "<b>dish</b>\u202ewasher on"
	return append(events, result.QualityEvent{At: nightStart.Add(13 * time.Hour), Text: "loop repeaked", Repeaked: new("loop")})
}

func nightQuality() result.Quality {
	first, last, ending := nightStart.Add(12*time.Second), nightStart.Add(12*time.Hour), "done: 24 rounds"
	return result.Quality{Schema: result.SchemaQuality, Surveys: []result.QualitySurvey{{Survey: 1, Simulated: true,
		First: &first, Last: &last, Rounds: 24, Sweeps: 900, Readings: 3600,
		Flagged: map[string]int{"overload": 3, "receiver-limited": 41, "short": 0}, Ending: &ending,
		Gaps:   []result.QualityGap{{From: nightStart.Add(8 * time.Hour), To: nightStart.Add(9 * time.Hour), Why: "receiver unplugged"}},
		Events: nightEvents()}}}
}

// hoursFrom gives a stretch of time in hours after the start.
func hoursFrom(from, to float64) result.NoiseHours {
	at := func(h float64) time.Time { return nightStart.Add(time.Duration(h * float64(time.Hour))) }
	return result.NoiseHours{From: at(from), To: at(to)}
}

// strengthThrough makes the strength of a source through one setup in one segment.
func strengthThrough(s survey.Setup, segment int, level, half float64) result.NoiseStrength {
	x := nightSegments[segment]
	return result.NoiseStrength{Setup: s, Segment: x.Name, SegmentLow: x.Low, SegmentHigh: x.High, Level: db(level), Low: db(level - half), High: db(level + half), Rounds: 9}
}

// nightNoise holds the supply of nightLevel, one that is hardly ever off, impulses of which
// little is known, and what is the receiver's own.
func nightNoise() result.NoiseSources {
	supply := result.NoiseSource{ID: 1, Kind: survey.FindingComb, Spacing: new(survey.Hz(65012.3)), Envelope: new(survey.Hz(100)), Mains: new(survey.Hz(50)),
		Lines: new(24), Depth: new(0.48), ShareOfRounds: 0.33, Drift: new(-3.1), Likely: result.LikelySupply, Confidence: 0.999999,
		Hours:    []result.NoiseHours{hoursFrom(3.03, 6.97)},
		Evidence: []string{"up to 24 lines in view at whole multiples of 65.0123 kHz, on 49 m, 41 m, 31 m and 25 m", "comes on 3 minutes after sunset, once"},
		Against:  []string{}}
	for i := range nightSegments {
		for j, setup := range allSetups {
			supply.Strength = append(supply.Strength, strengthThrough(setup, i, 8.2-3*float64(j)-0.4*float64(i), 0.6))
		}
	}
	few, none := &supply.Strength[3], &supply.Strength[5]
	few.Low, few.High, few.Rounds = nil, nil, 4
	none.Level, none.Low, none.High = nil, nil, db(-7.5)
	always := result.NoiseSource{ID: 2, Kind: survey.FindingMains, Envelope: new(survey.Hz(100)), Mains: new(survey.Hz(50)), Depth: new(0.3),
		ShareOfRounds: 0.94, Likely: result.LikelyDimmer, Confidence: 0.9999,
		Hours:    []result.NoiseHours{hoursFrom(0.1, 2), hoursFrom(2.6, 4), hoursFrom(4.5, 4.5), hoursFrom(9.2, 11.9)},
		Evidence: []string{"noise is modulated at 100.0 Hz, twice the mains frequency, on 49 m: two spikes a mains period"},
		Against:  []string{"arcing looks the same where it strikes at the peaks of the voltage", "heard through one setup only"},
		Strength: []result.NoiseStrength{strengthThrough(whipStudy, 0, -4.1, 0.2)}}
	clicks := result.NoiseSource{ID: 4, Kind: survey.FindingImpulses, Rate: new(survey.Hz(0.26)), ShareOfRounds: 1, Likely: result.LikelyNotKnown, Confidence: 0.9994,
		Hours:    []result.NoiseHours{hoursFrom(0, 12)},
		Evidence: []string{"0.3 a second, 42 impulses counted in 3 min of listening"}, Against: []string{"switches, thermostats and lightning all click: nothing tells them apart here"}}
	own := result.NoiseSource{ID: 3, Kind: survey.FindingComb, Spacing: new(survey.Hz(28800)), Lines: new(30), ShareOfRounds: 1, Likely: result.LikelyOwn, Confidence: 0.9999,
		Hours: []result.NoiseHours{hoursFrom(0, 12)}, Evidence: []string{"as strong through terminator on 49 m as through any antenna"}, Against: []string{}}
	r := result.NoiseSources{Schema: result.SchemaNoiseSources, Simulated: true, Sources: []result.NoiseSource{supply, always, own, clicks},
		OwnLines: []result.OwnLine{{Frequency: new(survey.Hz(9.6e6)), Why: "stood there with a terminator in place of the antenna, calibration of 2026-11-03"},
			{Offset: new(survey.Hz(-33300)), Why: "moves with the tuning: at the same offset from it at 3 tunings"}}, Doubts: []doubt.Doubt{}}
	r.Rises = nightRises()
	for i := range r.Sources {
		s := &r.Sources[i]
		s.First, s.Last = s.Hours[0].From, s.Hours[len(s.Hours)-1].To
	}
	return r
}

// nightRises hold the steps of the supply and of something that was still on at the end,
// interference over much of the spectrum, and what the ionosphere did.
func nightRises() []result.Rise {
	at := func(h float64) *time.Time { t := hoursFrom(h, h).From; return &t }
	rise := func(kind string, from, to *time.Time, level float64, segments ...string) result.Rise {
		return result.Rise{Kind: kind, From: from, To: to, Segments: segments, Measured: len(nightSegments), Setup: whipStudy, Level: db(level), Low: db(level - 0.7), High: db(level + 0.7),
			Events: []result.QualityEvent{}, Sources: []int{}, Evidence: []string{}, Against: []string{}}
	}
	supply := rise(result.RiseStep, at(3.03), at(6.97), 5, "49 m", "41 m", "31 m")
	supply.Events, supply.Sources = []result.QualityEvent{{At: *at(3), Text: "dishwasher on"}}, []int{1}
	supply.Evidence = []string{"the floor steps by 3 dB or more in 3 of 4 segments at once, through 2 of 6 setups", "source 1 (65.0 kHz comb, mains-modulated) comes on and goes off with it"}
	supply.Strength = []result.NoiseStrength{strengthThrough(whipStudy, 0, 5, 0.7), strengthThrough(loopLoft, 0, 3.1, 0.5), strengthThrough(whipStudy, 1, 4.6, 0.6)}
	late := rise(result.RiseStep, at(10.5), nil, 3.4, "49 m", "41 m", "31 m", "25 m")
	late.Against = []string{"seen through one setup only: a change of that antenna or its amplifier looks the same"}
	broad := rise(result.RiseBroadband, at(7.2), at(7.9), 4.1, "49 m")
	broad.Low, broad.High, broad.Sources = nil, nil, []int{2, 4}
	broad.Evidence = []string{"Vd is over 1.5 dB in 6 of 6 floors of a round that are raised, in 3 of 40 that are not"}
	return []result.Rise{rise(result.RiseNight, at(1.5), at(5), 4, "49 m", "41 m"), supply, broad, rise(result.RiseNight, at(9), at(10), 3.2, "49 m"), late}
}

// night makes the whole report, with pictures of rows × columns.
func night(rows, columns int) *result.Report {
	rng := rand.New(rand.NewPCG(1, 2))
	site := survey.Site{Name: "Lindenhof 3", Locator: "JO51AA", MainsHz: 50, Surroundings: "residential"}
	r := &result.Report{Title: "Study or loft?", Simulated: true, Made: nightStart.Add(13 * time.Hour), Version: "0.0.0-test", Site: site,
		Surveys: []survey.Survey{{ID: 1, Kind: survey.KindRecord, Simulated: true, Site: site, First: whipStudy,
			Receiver: "simulated house, seed 1", Start: nightStart, End: nightStart.Add(12 * time.Hour), Ending: "done: 24 rounds"}},
		Rank: nightRank(), Floor: nightFloor(), Quality: nightQuality(), Noise: nightNoise(),
		Doubts: []doubt.Doubt{{Kind: "One night: another may differ."}, {Kind: "The receiver has no calibration: levels are against full scale only."}}}
	for i := range nightSegments {
		for j := range allSetups {
			r.Pictures = append(r.Pictures, nightPicture(rng, i, j, rows, columns))
		}
	}
	return r
}

// smallNight is the fixed report behind the golden file: two segments, two
// setups, pictures of a few places.
func smallNight() *result.Report {
	r := night(4, 12)
	keep := func(segment string, s survey.Setup) bool {
		return (segment == "49 m" || segment == "31 m") && (s == whipStudy || s == loopLoft)
	}
	r.Rank.Segments = []result.RankSegment{r.Rank.Segments[0], r.Rank.Segments[1], r.Rank.Segments[2], r.Rank.Segments[5]}
	for i := range r.Rank.Segments {
		var kept []result.RankSetup
		for _, s := range r.Rank.Segments[i].Setups {
			if keep("31 m", s.Setup) {
				s.Rank = len(kept) + 1
				s.MayBeBest = s.Rank == 1
				kept = append(kept, s)
			}
		}
		r.Rank.Segments[i].Setups = kept
		r.Rank.Segments[i].Verdict = verdictOf(kept)
	}
	var rows []result.FloorRow
	for _, row := range r.Floor.Rows {
		if keep(row.Segment, row.Setup) && row.From.Before(nightStart.Add(3*time.Hour)) {
			rows = append(rows, row)
		}
	}
	r.Floor.Rows = rows
	var pictures []result.Waterfall
	for _, p := range r.Pictures {
		if keep(p.Segment, p.Setup) {
			pictures = append(pictures, p)
		}
	}
	r.Pictures = pictures
	for i := range r.Noise.Sources {
		s := &r.Noise.Sources[i]
		s.Strength = slices.DeleteFunc(s.Strength, func(x result.NoiseStrength) bool { return !keep(x.Segment, x.Setup) })
	}
	return r
}
