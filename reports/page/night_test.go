package page

import (
	"math"
	"math/rand/v2"
	"time"

	"nightfloor/reports"
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
func ranked(s survey.Setup, rank int, advantage, half, floor, share float64, may bool) reports.RankSetup {
	r := reports.RankSetup{Setup: s, Rank: rank, SNRAdvantage: db(advantage), FloorChange: db(floor),
		SignalChange: db(advantage + floor), BestShare: &share, MayBeBest: may, Rounds: 24, Carriers: 17, Flags: []string{}}
	if half > 0 {
		r.Low, r.High = db(advantage-half), db(advantage+half)
	}
	return r
}

func reference(s survey.Setup, rank int, share float64, may bool) reports.RankSetup {
	r := ranked(s, rank, 0, 0, 0, share, may)
	r.Low, r.High = db(0), db(0)
	return r
}

func rankOf(s survey.Segment, period string, doubts []string, setups ...reports.RankSetup) reports.RankSegment {
	if doubts == nil {
		doubts = []string{}
	}
	return reports.RankSegment{Segment: s.Name, Low: s.Low, High: s.High, Period: period, Setups: setups, Doubts: doubts}
}

// nightRank holds a clear winner, a tie, no difference, and a night that differs.
func nightRank() reports.Rank {
	at20 := func(s reports.RankSegment) reports.RankSegment {
		for i := range s.Setups {
			s.Setups[i].Rounds = 20
		}
		return s
	}
	flagged := ranked(whipLoft, 6, -3.4, 1.6, 1.1, 0, false)
	flagged.Flags = []string{survey.FlagReceiverLimited}
	s := nightSegments
	return reports.Rank{Schema: reports.SchemaRank, Simulated: true, Reference: whipStudy, Segments: []reports.RankSegment{
		rankOf(s[0], "all", nil, ranked(loopLoft, 1, 4.1, 0.9, -4.4, 0.61, true), ranked(dipole, 2, 3.8, 1.2, -1.0, 0.38, true),
			ranked(loopTurned, 3, 1.9, 1.0, -4.0, 0.01, false), ranked(loopStudy, 4, 0.7, 0.8, -2.1, 0, false), reference(whipStudy, 5, 0, false), flagged),
		at20(rankOf(s[0], "night", nil, ranked(loopStudy, 1, 5.2, 1.9, -5.0, 0.97, true), ranked(loopLoft, 2, 2.0, 1.1, -3, 0.03, false), reference(whipStudy, 3, 0, false))),
		rankOf(s[1], "all", []string{"7 rounds: intervals are wide"}, ranked(dipole, 1, 0.4, 1.0, 0.2, 0.4, true), reference(whipStudy, 2, 0.35, true), ranked(loopLoft, 3, -0.2, 1.3, -2, 0.25, true)),
		rankOf(s[2], "all", nil, ranked(loopLoft, 1, 6.2, 1.1, -5.2, 0.98, true), ranked(loopTurned, 2, 3.3, 1.2, -4.9, 0.02, false),
			ranked(dipole, 3, 2.1, 1.4, 0.5, 0, false), reference(whipStudy, 4, 0, false), ranked(loopStudy, 5, -0.6, 0.9, -1.9, 0, false)),
		at20(rankOf(s[2], "night", nil, ranked(loopLoft, 1, 7.5, 1.8, -6.0, 0.99, true), reference(whipStudy, 2, 0, false))),
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

func nightFloor() reports.FloorTable {
	t := reports.FloorTable{Schema: reports.SchemaFloor, Simulated: true}
	for i, s := range nightSegments {
		for h := range 12 {
			for j, setup := range allSetups {
				if h == 8 && j == 2 {
					continue // the loop in the loft was out for an hour
				}
				m := nightLevel(i, j, float64(h)+0.5)
				t.Rows = append(t.Rows, reports.FloorRow{Segment: s.Name, Low: s.Low, High: s.High, Setup: setup, Readings: 40, Gain: db(29.7),
					From: nightStart.Add(time.Duration(h) * time.Hour), To: nightStart.Add(time.Duration(h+1) * time.Hour),
					DBFSHz: &reports.Quantiles{P10: m - 0.9, P50: m, P90: m + 1.6}})
			}
		}
	}
	return t
}

// nightPicture makes rows × columns of exponentially distributed noise averaged
// 40 times, some broadcasters and a comb that drifts while the supply runs.
func nightPicture(rng *rand.Rand, i, j, rows, columns int) reports.Waterfall {
	s := nightSegments[i]
	p := reports.Waterfall{Segment: s.Name, Setup: allSetups[j], Low: s.Low, High: s.High, Columns: columns, Gain: db(29.7)}
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
func nightEvents() (events []reports.QualityEvent) {
	for h := range 12 {
		events = append(events, reports.QualityEvent{At: nightStart.Add(time.Duration(h) * time.Hour), Text: "kettle on"})
	}
	events[1].Text = "<b>dish</b>\u202ewasher on"
	return append(events, reports.QualityEvent{At: nightStart.Add(13 * time.Hour), Text: "loop repeaked", Repeaked: new("loop")})
}

func nightQuality() reports.Quality {
	first, last, ending := nightStart.Add(12*time.Second), nightStart.Add(12*time.Hour), "done: 24 rounds"
	return reports.Quality{Schema: reports.SchemaQuality, Surveys: []reports.QualitySurvey{{Survey: 1, Simulated: true,
		First: &first, Last: &last, Rounds: 24, Sweeps: 900, Readings: 3600,
		Flagged: map[string]int{"overload": 3, "receiver-limited": 41, "short": 0}, Ending: &ending,
		Gaps:   []reports.QualityGap{{From: nightStart.Add(8 * time.Hour), To: nightStart.Add(9 * time.Hour), Why: "receiver unplugged"}},
		Events: nightEvents()}}}
}

// night makes the whole report, with pictures of rows × columns.
func night(rows, columns int) *reports.Report {
	rng := rand.New(rand.NewPCG(1, 2))
	site := survey.Site{Name: "Lindenhof 3", Locator: "JO51AA", MainsHz: 50, Surroundings: "residential"}
	r := &reports.Report{Title: "Study or loft?", Simulated: true, Made: nightStart.Add(13 * time.Hour), Version: "0.0.0-test", Site: site,
		Surveys: []survey.Survey{{ID: 1, Kind: survey.KindRecord, Simulated: true, Site: site, First: whipStudy,
			Receiver: "simulated house, seed 1", Start: nightStart, End: nightStart.Add(12 * time.Hour), Ending: "done: 24 rounds"}},
		Rank: nightRank(), Floor: nightFloor(), Quality: nightQuality(),
		Doubts: []string{"One night: another may differ.", "The receiver has no calibration: levels are against full scale only."}}
	for i := range nightSegments {
		for j := range allSetups {
			r.Pictures = append(r.Pictures, nightPicture(rng, i, j, rows, columns))
		}
	}
	return r
}

// smallNight is the fixed report behind the golden file: two segments, two
// setups, pictures of a few places.
func smallNight() *reports.Report {
	r := night(4, 12)
	keep := func(segment string, s survey.Setup) bool {
		return (segment == "49 m" || segment == "31 m") && (s == whipStudy || s == loopLoft)
	}
	r.Rank.Segments = []reports.RankSegment{r.Rank.Segments[0], r.Rank.Segments[1], r.Rank.Segments[3]}
	for i := range r.Rank.Segments {
		var kept []reports.RankSetup
		for _, s := range r.Rank.Segments[i].Setups {
			if keep("31 m", s.Setup) {
				s.Rank = len(kept) + 1
				s.MayBeBest = s.Rank == 1
				kept = append(kept, s)
			}
		}
		r.Rank.Segments[i].Setups = kept
	}
	var rows []reports.FloorRow
	for _, row := range r.Floor.Rows {
		if keep(row.Segment, row.Setup) && row.From.Before(nightStart.Add(3*time.Hour)) {
			rows = append(rows, row)
		}
	}
	r.Floor.Rows = rows
	var pictures []reports.Waterfall
	for _, p := range r.Pictures {
		if keep(p.Segment, p.Setup) {
			pictures = append(pictures, p)
		}
	}
	r.Pictures = pictures
	return r
}
