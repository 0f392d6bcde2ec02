package rank

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/reports/doubt"
	"nightfloor/reports/halves"
	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/noise"
	"nightfloor/reports/onair"
	"nightfloor/reports/result"
	"nightfloor/reports/series"
	"nightfloor/reports/stations"
	"nightfloor/reports/stats"
	"nightfloor/reports/strata"
	"nightfloor/survey"
)

// A House is what is known of the noise around.
type House struct {
	Found  *noise.Found    // its sources, whose lines rank no setup; nil: none were sought
	States []strata.Source // their hours, and those of steps of the floor that no source explains
	Air    *onair.Air      // what is on the air of amateur bands; nil: nobody looked
}

// Of ranks the setups of a selection by SNR against the reference, in each segment
// over the whole time and over each period of the day that the data covers, and over each state of
// the noise sources that matters. The seed is that of the draws behind best_share.
func Of(in input.Selection, house House, seed uint64) result.Rank {
	rank := result.Rank{Schema: result.SchemaRank, Simulated: in.Simulated(), Reference: in.Reference, Segments: []result.RankSegment{}}
	places := in.Suns()
	for _, segment := range in.Ranked() {
		m := matrix.New(in.Input, segment)
		r := &ranking{matrix: m, apart: in.Apart(), removed: in.Removed(), air: house.Air, listed: in.Listed(segment.Name), ref: slices.Index(m.Setups, in.Reference), controls: in.Controls(), antennas: in.Antennas(), places: places, seed: seed}
		r.finder = stations.New(m, stations.Known{Found: house.Found, Controls: r.controls})
		r.changes = halves.Of(in.Input, m.Rounds)
		r.states, r.floors = statesOf(m, r.ref, house.States, r.changes)
		periods := m.Periods(places)
		for _, p := range []string{result.PeriodAll, result.PeriodDay, result.PeriodDusk, result.PeriodNight, result.PeriodDawn} {
			if rounds := periods[p]; len(rounds) > 0 {
				ranked := r.over(p, rounds)
				if p == result.PeriodAll {
					ranked[0].Doubts = append(ranked[0].Doubts, tunedOut(in.Input, segment)...)
					r.addHalves(&ranked[0])
				}
				rank.Segments = append(rank.Segments, ranked...)
			}
		}
	}
	return rank
}

// A ranking is one segment while it is being ranked.
type ranking struct {
	matrix   *matrix.Matrix
	ref      int // index of the reference among the matrix's setups, −1: not there
	controls map[survey.Setup]bool
	apart    map[survey.Setup]bool           // no candidates: controls, and those of removed
	removed  map[survey.Setup]survey.Antenna // measured with other antennas removed
	antennas map[survey.Setup]survey.Antenna // as the plans have them
	places   map[int64]input.SunAt
	air      *onair.Air
	listed   []survey.Hz // frequencies of beacons and time signals that the plan names
	finder   *stations.Finder
	states   *strata.Choice
	changes  []halves.Change // of the wiring
	floors   [][]float64     // by setup and round, dB at one gain
	seed     uint64
	whole    *comparison // over all rounds, once it is made
}

// over ranks the setups over some of the rounds: over all states of the noise sources first, then, where
// the period is the whole time, over each of them.
func (r *ranking) over(period string, rounds []int) []result.RankSegment {
	c := &comparison{matrix: r.matrix, rounds: rounds, ref: r.ref, apart: r.apart, controls: r.controls, antennas: r.antennas, states: r.states, changes: r.changes}
	if r.whole != nil && len(rounds) == len(r.whole.rounds) { // a night that is nothing but night
		*c = *r.whole
	} else {
		r.compare(c)
	}
	if period == result.PeriodAll {
		r.whole = c
	}
	c.night = nightsOf(r.matrix, period, rounds, r.places)
	all := c.ranked(look{}, r.seed)
	all.Doubts = append(c.doubts(all.Setups), all.Doubts...)
	if period != result.PeriodAll {
		all.Period = period
		return []result.RankSegment{all}
	}
	all.Controls = controlled(r.matrix, rounds, slices.Concat(c.found.Control, c.lines), r.antennas)
	var alone []survey.Setup
	all.Coupling, alone = c.coupling(r.removed)
	all.Doubts = slices.Concat(all.Doubts, controlDoubts(all.Controls), couplingDoubts(all.Coupling, alone))
	out := []result.RankSegment{all}
	for _, state := range c.statesToTell() {
		out = append(out, c.ranked(state, r.seed))
	}
	return out
}

// compare compares all setups by what the segment offers: frequencies that the plan lists; on an amateur
// band what is on the air, where there is enough; else the carriers of stations.
func (r *ranking) compare(c *comparison) {
	c.found = r.finder.In(c.rounds)
	switch {
	case len(r.listed) > 0:
		c.of = result.OfListed
		for _, l := range r.finder.Listed(r.listed, c.rounds) {
			c.listed = append(c.listed, result.ListedLine{Frequency: l.Frequency, Heard: l.Heard, Rounds: len(c.rounds), Counts: l.Line >= 0})
			if l.Line >= 0 {
				c.lines = append(c.lines, l.Line)
			}
		}
	case r.matrix.Segment.Amateur() && r.air != nil:
		c.of, c.air = result.OfTransmissions, r.air
		if c.compare(); c.answered() || len(c.found.Stations) == 0 {
			return
		}
		fallthrough
	default:
		c.of, c.lines = result.OfCarriers, c.found.Stations
	}
	c.compare()
}

// ranked ranks all setups in one way of looking at the comparison.
func (c *comparison) ranked(l look, seed uint64) result.RankSegment {
	m := c.matrix
	out := result.RankSegment{Segment: m.Segment.Name, Low: m.Segment.Low, High: m.Segment.High, Period: result.PeriodAll, Of: c.of,
		Listed: append([]result.ListedLine{}, c.listed...), Setups: []result.RankSetup{}, Controls: []result.Control{}, Doubts: []doubt.Doubt{}}
	if l.state != "" {
		out.State = &l.state
	}
	for k := range m.Setups {
		if m.Tried(k, c.rounds) {
			out.Setups = append(out.Setups, c.setup(l, k))
		}
	}
	c.order(out.Setups)
	c.best(l, out.Setups, seed)
	out.Verdict = c.verdict(l, out.Setups)
	return out
}

// setup gives what is known of one setup, before it is ranked.
func (c *comparison) setup(l look, k int) result.RankSetup {
	s := result.RankSetup{Setup: c.matrix.Setups[k], Apart: c.apart[c.matrix.Setups[k]], Flags: c.flags(k)}
	if k == c.ref {
		c.ownPlace(l, &s)
		return s
	}
	p := c.pairs[[2]int{k, c.ref}]
	if p == nil {
		return s
	}
	s.Rounds, s.Carriers = l.shared(p), p.carriers
	floor := l.of(p, p.floors.fit, c.weights)
	if floor != nil && floor.Rounds > 0 {
		s.FloorChange = result.DB(floor.Mean)
	}
	m := l.of(p, p.fit, c.weights)
	if m == nil || m.Rounds == 0 {
		return s
	}
	s.Rounds, s.SNRAdvantage = min(s.Rounds, m.Rounds), result.DB(m.Mean)
	if signal := l.of(p, p.signals(), c.weights); s.FloorChange != nil && signal != nil && signal.Rounds > 0 {
		s.SignalChange = result.DB(signal.Mean + float64(*s.FloorChange))
	}
	if low, high, ok := m.Interval(); ok && !c.slow && s.Rounds >= stats.MinRounds {
		s.Low, s.High = result.DB(low), result.DB(high)
		s.Nights = c.nights(l, p)
	}
	return s
}

// ownPlace gives what is known of the reference: it is compared with itself, in all rounds in which it
// was measured, or in those of the state that any other shares with it.
func (c *comparison) ownPlace(l look, s *result.RankSetup) {
	s.Rounds, s.Carriers = c.matrix.Measured(c.ref, c.rounds), len(c.lines)
	if l.state != "" {
		s.Rounds = 0
		for k := range c.matrix.Setups {
			if p := c.pairs[[2]int{k, c.ref}]; p != nil && p.fit != nil {
				s.Rounds = max(s.Rounds, l.shared(p))
			}
		}
	}
	if c.of == result.OfTransmissions {
		for k := range c.matrix.Setups {
			if p := c.pairs[[2]int{k, c.ref}]; p != nil {
				s.Carriers = max(s.Carriers, p.carriers)
			}
		}
	}
	if c.offers() {
		s.SNRAdvantage, s.SignalChange, s.FloorChange = result.DB(0), result.DB(0), result.DB(0)
		if s.Rounds >= stats.MinRounds {
			s.Low, s.High = result.DB(0), result.DB(0)
		}
	}
}

// flags gives the flags of the setup's readings in these rounds; overload stands
// for readings that were left out.
func (c *comparison) flags(k int) []string {
	all := []string{}
	for _, n := range c.rounds {
		all = append(all, c.matrix.Flags[k][n]...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// order sorts by advantage and gives the ranks; a setup without an advantage, or apart,
// comes last and has no rank (0).
func (c *comparison) order(setups []result.RankSetup) {
	advantage := func(s result.RankSetup) float64 {
		if s.SNRAdvantage == nil {
			return math.Inf(-1)
		}
		return float64(*s.SNRAdvantage)
	}
	last := map[bool]int{true: 1}
	slices.SortStableFunc(setups, func(a, b result.RankSetup) int {
		return cmp.Or(cmp.Compare(last[a.Apart], last[b.Apart]), cmp.Compare(advantage(b), advantage(a)))
	})
	for i := range setups {
		if setups[i].SNRAdvantage != nil && !setups[i].Apart {
			setups[i].Rank = i + 1
		}
	}
}

// best fills in which setups may be the best, jointly, and how often draws say so. Without an
// interval a setup is told apart from none. The first may be the best even where others, which
// share other rounds with the reference, say otherwise.
func (c *comparison) best(l look, setups []result.RankSetup, seed uint64) {
	var ranked, sure []int // of setups: with a rank, which come first, and with an interval
	var advantages []*series.Mixture
	for i := range setups {
		x := &setups[i]
		if x.MayBeBest = x.Rank > 0; x.MayBeBest {
			ranked = append(ranked, c.index(*x))
		}
		if x.Rank > 0 && x.Low != nil {
			sure = append(sure, i)
			m := c.advantage(l, c.index(*x), c.ref) // nil: of the reference
			advantages = append(advantages, m)
		}
	}
	if len(sure) < 2 {
		return
	}
	may := series.MayBeBest(len(ranked), func(i, j int) *series.Mixture { return c.advantage(l, ranked[i], ranked[j]) })
	for i := range ranked {
		setups[i].MayBeBest = may[i] || i == sure[0]
	}
	share := series.BestShares(advantages, seed)
	for n, i := range sure {
		setups[i].BestShare = &share[n]
	}
	c.doubtTheFirst(l, setups)
}

// doubtTheFirst lets the second setup be the best, too, while the interval of the first one's lead holds 0: of two
// setups one side of 95 % excludes sooner than the interval, and of more another one may exclude it. Else
// one would hear best with a lead that may be none.
func (c *comparison) doubtTheFirst(l look, setups []result.RankSetup) {
	if setups[1].Rank == 0 {
		return
	}
	m := c.advantage(l, c.index(setups[0]), c.index(setups[1]))
	if m == nil {
		return
	}
	if low, _, ok := m.Interval(); ok && low <= 0 {
		setups[1].MayBeBest = true
	}
}
