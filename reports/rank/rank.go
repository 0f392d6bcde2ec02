package rank

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/result"
	"nightfloor/reports/stations"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// Of ranks the setups of a selection by SNR against the reference, in each segment
// over the whole time and over each period of the day that the data covers. The seed is
// that of the resampling behind best_share.
func Of(in input.Selection, seed uint64) result.Rank {
	rank := result.Rank{Schema: result.SchemaRank, Simulated: in.Simulated(), Reference: in.Reference, Segments: []result.RankSegment{}}
	controls := in.Controls()
	places := in.Suns()
	for _, segment := range in.Ranked() {
		m := matrix.New(in.Input, segment)
		periods := m.Periods(places)
		for _, p := range []string{result.PeriodAll, result.PeriodDay, result.PeriodDusk, result.PeriodNight, result.PeriodDawn} {
			if rounds := periods[p]; len(rounds) > 0 {
				ranked := rankOver(m, p, rounds, in.Reference, controls, seed)
				if p == result.PeriodAll {
					ranked.Doubts = append(ranked.Doubts, tunedOut(in.Input, segment)...)
				}
				rank.Segments = append(rank.Segments, ranked)
			}
		}
	}
	return rank
}

// A comparison is one segment over one period while it is being ranked.
type comparison struct {
	matrix     *matrix.Matrix
	rounds     []int // of the matrix
	ref        int   // index of the reference among the matrix's setups, −1: not there
	lines      []int // that count
	found      stations.Lines
	effects    []*effect
	jackknives []*stats.Jackknife // by setup; nil where nothing is known
	blocks     int
	r          float64 // correlation of neighbouring rounds
}

// rankOver ranks the setups of the matrix over some of its rounds.
func rankOver(m *matrix.Matrix, period string, rounds []int, ref survey.Setup, controls map[survey.Setup]bool, seed uint64) result.RankSegment {
	c := &comparison{matrix: m, rounds: rounds, ref: slices.Index(m.Setups, ref)}
	c.found = stations.Find(m, rounds)
	c.lines = c.found.Stations
	c.compare()
	out := result.RankSegment{Segment: m.Segment.Name, Low: m.Segment.Low, High: m.Segment.High, Period: period, Of: result.OfCarriers, Setups: []result.RankSetup{}, Controls: []result.Control{}}
	for k := range m.Setups {
		if m.Tried(k, rounds) {
			out.Setups = append(out.Setups, c.setup(k))
		}
	}
	c.order(out.Setups)
	c.shares(out.Setups, seed)
	out.Verdict = c.verdict(out.Setups)
	out.Doubts = c.doubts(out.Setups)
	if period == result.PeriodAll {
		out.Controls = controlled(m, rounds, c.lines, controls)
		out.Doubts = append(out.Doubts, controlDoubts(out.Controls)...)
	}
	return out
}

// compare fits each setup against the reference.
func (c *comparison) compare() {
	m := c.matrix
	c.effects = make([]*effect, len(m.Setups))
	c.jackknives = make([]*stats.Jackknife, len(m.Setups))
	if c.ref < 0 {
		return
	}
	for k := range m.Setups {
		if k == c.ref {
			continue
		}
		if e := newEffect(m, k, c.ref, c.rounds, c.lines); e.shared > 0 {
			c.effects[k] = e
		}
	}
	c.r = neighbours(c.effects)
	blockOf, count := stats.Blocks(len(c.rounds), c.r)
	c.blocks = count
	for k, e := range c.effects {
		if e != nil && len(e.tracks) > e.underNoise() {
			c.jackknives[k] = e.newJackknife(blockOf, count, c.r)
		}
	}
	if m.Measured(c.ref, c.rounds) > 0 {
		// The difference of the reference from itself is 0 whatever block is left out.
		zero := &stats.Jackknife{Change: make([]float64, count), Weight: make([]float64, count), Widen: 1}
		c.jackknives[c.ref] = zero
	}
}

// setup gives what is known of one setup, before it is ranked.
func (c *comparison) setup(k int) result.RankSetup {
	s := result.RankSetup{Setup: c.matrix.Setups[k], Flags: c.flags(k)}
	if k == c.ref {
		s.Rounds, s.Carriers = c.matrix.Measured(k, c.rounds), len(c.lines)
		if len(c.lines) > 0 {
			s.SNRAdvantage, s.SignalChange, s.FloorChange = result.DB(0), result.DB(0), result.DB(0)
			if s.Rounds >= stats.MinRounds {
				s.Low, s.High = result.DB(0), result.DB(0)
			}
		}
		return s
	}
	e, j := c.effects[k], c.jackknives[k]
	if e == nil {
		return s
	}
	s.Rounds, s.Carriers = e.shared, len(e.tracks)
	floors := c.floorChange(k)
	s.FloorChange = floors.change
	if j == nil {
		return s
	}
	s.SNRAdvantage = result.DB(j.Full)
	if s.FloorChange != nil && floors.left == 0 { // else it would mix different rounds
		if e := c.effectIn(floors, k); len(e.tracks) > e.underNoise() {
			s.SignalChange = result.DB(e.advantage() + float64(*s.FloorChange))
		}
	}
	if low, high, ok := j.Interval(); ok && e.shared >= stats.MinRounds {
		s.Low, s.High = result.DB(low), result.DB(high)
	}
	return s
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

// A floorDifference is how the floor through a setup stands against that through the reference.
type floorDifference struct {
	change *survey.DB  // mean over shared rounds of the difference in dB; nil where it is not known
	why    doubt.Doubt // it is not known
	left   int         // rounds left out since one of both shows the receiver's own noise
	blind  int         // rounds left out since the gain of one of both is not known
	rounds []int       // the others
	step   float64     // standard error of the measured step where the gains of both differ; 0 where they do not
}

// floorChange compares the floors of a setup and the reference, which needs gains that are known
// against each other, and readings of which most show more than the receiver's own noise.
func (c *comparison) floorChange(k int) (d floorDifference) {
	if c.mostlyLimited(k) || c.mostlyLimited(c.ref) {
		return floorDifference{why: doubt.New(doubt.LimitedFloors)}
	}
	var sum float64
	for _, round := range c.rounds {
		a, b := c.matrix.Cells[k][round], c.matrix.Cells[c.ref][round]
		if a == nil || b == nil {
			continue
		}
		switch {
		case a.IsLimited() || b.IsLimited():
			d.left++
			continue
		case !a.Gain.Known || !b.Gain.Known:
			d.blind++
			continue
		}
		offset, ok := a.Gain.Comparable(b.Gain)
		if !ok {
			return floorDifference{why: doubt.New(doubt.UnknownGain, advice(false))}
		}
		if a.Gain != b.Gain {
			d.step = max(d.step, math.Hypot(float64(a.Step), float64(b.Step)))
		}
		sum += stats.Decibel(a.Floor/b.Floor) - float64(offset)
		d.rounds = append(d.rounds, round)
	}
	switch {
	case len(d.rounds) == 0 && d.blind > 0:
		return floorDifference{why: doubt.New(doubt.UnknownGain, advice(true))}
	case len(d.rounds) == 0:
		return floorDifference{why: doubt.New(doubt.LimitedFloors)}
	}
	d.change = result.DB(sum / float64(len(d.rounds)))
	return d
}

// advice says what to do about gains that are not known at all; nothing about steps between
// those that are.
func advice(unknown bool) (d doubt.Doubt) {
	if unknown {
		d.Kind = doubt.GiveGain
	}
	return d
}

// effectIn gives how a setup stands against the reference in the rounds of which the change of
// floor is, so that the change of signal is of these rounds, too.
func (c *comparison) effectIn(floors floorDifference, k int) *effect {
	if floors.blind > 0 {
		return newEffect(c.matrix, k, c.ref, floors.rounds, c.lines)
	}
	return c.effects[k]
}

// mostlyLimited tells whether most of the setup's readings show the receiver's own
// noise: its floor is then an upper bound, by which nothing is ranked.
func (c *comparison) mostlyLimited(k int) bool {
	limited, readings := 0, 0
	for _, round := range c.rounds {
		if cell := c.matrix.Cells[k][round]; cell != nil {
			limited, readings = limited+cell.Limited, readings+cell.Readings
		}
	}
	return 2*limited > readings
}

// order sorts by advantage and gives the ranks; a setup without an advantage
// comes last and has no rank (0).
func (c *comparison) order(setups []result.RankSetup) {
	advantage := func(s result.RankSetup) float64 {
		if s.SNRAdvantage == nil {
			return math.Inf(-1)
		}
		return float64(*s.SNRAdvantage)
	}
	slices.SortStableFunc(setups, func(a, b result.RankSetup) int { return cmp.Compare(advantage(b), advantage(a)) })
	for i := range setups {
		if setups[i].SNRAdvantage != nil {
			setups[i].Rank = i + 1
		}
	}
}

// shares fills in which setups may be the best, and how often resamples say so.
// Without intervals no two setups are told apart: all that are ranked may be the best.
// Others are compared with the best setup that has an interval, not with one that came
// first in a few rounds only.
func (c *comparison) shares(setups []result.RankSetup, seed uint64) {
	var sure []int // of setups, those with an interval
	var contenders []*stats.Jackknife
	for i := range setups {
		s := &setups[i]
		s.MayBeBest = s.Rank > 0
		if s.Low != nil {
			sure, contenders = append(sure, i), append(contenders, c.jackknives[slices.Index(c.matrix.Setups, s.Setup)])
		}
	}
	if len(sure) < 2 {
		return
	}
	share := stats.BestShares(contenders, seed)
	for n, i := range sure {
		low, high, ok := contenders[n].Minus(contenders[0]).Interval()
		setups[i].BestShare = &share[n]
		setups[i].MayBeBest = n == 0 || !ok || low <= 0 && high >= 0
	}
}
