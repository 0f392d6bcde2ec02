package reports

import (
	"math"
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/stats"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A cell is what one round found in one segment through one setup: the sweeps
// of its visits put together in linear power.
type cell struct {
	gain     survey.Gain
	floor    float64   // density, full-scale units per hertz
	limited  int       // readings whose floor is the receiver's own
	step     survey.DB // standard error of the gain where a calibration measured it
	snr      []float64 // by line: carrier over floor density, Hz; NaN where not measured
	sigma    []float64 // by line: standard error of snr, Hz
	external externalNoise

	off      float64 // degrees from the asked bearing to where it was seen to point, mean
	readings int
	seen     int       // of them, those of which that is known
	power    []float64 // sums while the cell is filled
	variance []float64
	times    []int
}

// Outer is what of a cell's floor comes from outside: the receiver's own noise is out of
// it by subtraction of powers where it is known. Densities as the cell's floor.
type externalNoise struct {
	floor      float64
	sigma      float64 // standard error of the readings, once the receiver's noise is out of them
	systematic float64 // standard error of what was subtracted: the calibration's, alike in all cells
	thin       int     // readings under plainMargin
}

// A roundMatrix is one segment: setups by rounds by lines.
type roundMatrix struct {
	segment survey.Segment
	setups  []survey.Setup                        // in order of appearance
	rounds  []input.RoundKey                      // in order of time
	middle  []time.Time                           // of each round
	length  []time.Duration                       // of each round, over the readings used
	cut     string                                // what to hold against segments of several cuts; "" where all are alike
	cells   [][]*cell                             // by setup and round; nil where nothing usable was measured
	flags   [][][]string                          // by setup and round: those raised, also of readings left out
	lines   []float64                             // frequency of each line, Hz
	own     []bool                                // by line: it is the receiver's own
	left    struct{ overload, noFloor, gain int } // readings left out
}

// newRoundMatrix gathers the readings of one segment. Sweeps come in order of time.
// Overloaded readings are left out, and so are those without a floor.
func newRoundMatrix(in input.Input, segment survey.Segment) *roundMatrix {
	f := &roundMatrix{segment: segment}
	var ids identities
	setupOf, roundOf := map[survey.Setup]int{}, map[input.RoundKey]int{}
	var spans, used []input.Span
	var own ownLines
	pointed := pointed(in)
	for _, s := range in.Sweeps {
		for i := range s.Readings {
			r := &s.Readings[i]
			if r.Segment.Name != segment.Name || r.Segment.Low > segment.Low || r.Segment.High < segment.High {
				continue
			}
			if r.Segment != segment {
				f.cut = cutDoubt(segment)
			}
			k, ok := setupOf[s.Setup]
			if !ok {
				k = len(f.setups)
				setupOf[s.Setup] = k
				f.setups = append(f.setups, s.Setup)
				f.cells = append(f.cells, nil)
				f.flags = append(f.flags, nil)
			}
			key := input.RoundKey{Survey: s.Survey, Round: s.Round}
			n, ok := roundOf[key]
			if !ok {
				n = len(f.rounds)
				roundOf[key] = n
				f.rounds = append(f.rounds, key)
				spans, used = append(spans, input.SpanOf(r)), append(used, input.Span{})
			}
			spans[n] = spans[n].With(input.SpanOf(r))
			known := in.CalibrationOf(s, i)
			own.add(r, known)
			if !f.add(k, n, r, known, &ids) {
				continue
			}
			f.cells[k][n].point(s.Setup.Bearing, pointed[visitKey{s.Survey, s.Visit}])
			if used[n] == (input.Span{}) {
				used[n] = input.SpanOf(r)
			} else {
				used[n] = used[n].With(input.SpanOf(r))
			}
		}
	}
	f.lines = ids.frequencies()
	f.own = own.among(f.lines)
	f.finish(spans, used)
	return f
}

// add puts one reading into its cell, or counts it among those left out.
func (f *roundMatrix) add(setup, round int, r *survey.Reading, known *input.CalibrationFor, ids *identities) (used bool) {
	for len(f.cells[setup]) <= round {
		f.cells[setup] = append(f.cells[setup], nil)
		f.flags[setup] = append(f.flags[setup], nil)
	}
	f.flags[setup][round] = append(f.flags[setup][round], r.Quality.Flags...)
	switch {
	case r.Quality.Has(survey.FlagOverload):
		f.left.overload++
		return false
	case r.Floor == nil || !stats.Finite(r.Floor.Density.Linear()) || r.Floor.Density.Linear() == 0:
		f.left.noFloor++
		return false
	}
	c := f.cells[setup][round]
	if c == nil {
		c = &cell{gain: r.Gain}
		if r.Gain.Exact && known != nil {
			c.step = known.Step
		}
		f.cells[setup][round] = c
	}
	// Levels within a cell are referred to the gain of its first reading. Where no
	// gain is known it counts as unchanged: it was one visit to one setup.
	lower, ok := input.Refer(r.Gain, c.gain)
	if !ok {
		f.left.gain++
		return false
	}
	if r.Segment != f.segment {
		r = within(r, f.segment)
	}
	scale := stats.FromDecibel(-float64(lower))
	c.external.add(r, known, scale)
	c.add(r, ids.assign(r), scale)
	return true
}

// within gives the reading with the carriers that lie in the segment.
func within(r *survey.Reading, segment survey.Segment) *survey.Reading {
	part := *r
	part.Carriers = slices.DeleteFunc(slices.Clone(r.Carriers), func(c survey.Carrier) bool {
		return c.Frequency < segment.Low || c.Frequency > segment.High
	})
	return &part
}

func cutDoubt(s survey.Segment) string {
	return "readings of it were cut differently: carriers are compared where all overlap, " + wording.Edges(s.Low, s.High) + ", and each floor is that of its own cut"
}

// A visitKey names a visit: visits count within their survey.
type visitKey struct {
	survey int64
	visit  int
}

// pointed gives where the antenna was seen to point during a visit, where that is known.
func pointed(in input.Input) map[visitKey]survey.Bearing {
	at := map[visitKey]survey.Bearing{}
	for _, v := range in.Visits {
		if v.Bearing.Known {
			at[visitKey{v.Survey, v.Number}] = v.Bearing
		}
	}
	return at
}

// point notes where the antenna was seen to point during a reading. Opposite bearings are
// one.
func (c *cell) point(asked, at survey.Bearing) {
	if asked.Known && at.Known {
		c.off += math.Remainder(at.Deg-asked.Deg, 180)
		c.seen++
	}
}

// add takes a reading's floor, and the receiver's own noise out of it.
func (o *externalNoise) add(r *survey.Reading, known *input.CalibrationFor, scale float64) {
	floor := r.Floor.Density.Linear() * scale
	d, ok := known.Margin(r)
	if !ok {
		o.floor += floor
		return
	}
	if d < input.PlainMargin {
		o.thin++
	}
	left := floor * stats.FromDecibel(input.ExternalCorrection(d))
	o.floor += left
	if sigma := float64(r.Floor.Sigma); stats.Finite(sigma) {
		e := left * input.ErrorGain(max(input.LimitedMargin, d)) * stats.Relative(sigma)
		o.sigma += e * e
	}
	if sigma := float64(known.Noise.Sigma); stats.Finite(sigma) {
		o.systematic += (floor - left) * stats.Relative(sigma)
	}
}

func (c *cell) add(r *survey.Reading, lines []int, scale float64) {
	c.readings++
	c.floor += r.Floor.Density.Linear() * scale
	if r.Quality.Has(survey.FlagReceiverLimited) {
		c.limited++
	}
	for i, line := range lines {
		if need := line + 1 - len(c.power); need > 0 {
			c.power = append(c.power, make([]float64, need)...)
			c.variance = append(c.variance, make([]float64, need)...)
			c.times = append(c.times, make([]int, need)...)
		}
		carrier := &r.Carriers[i]
		if !stats.Finite(carrier.Power) || !stats.Finite(carrier.Sigma) {
			continue
		}
		c.power[line] += carrier.Power * scale
		c.variance[line] += carrier.Sigma * carrier.Sigma * scale * scale
		c.times[line]++
	}
}

// finish turns sums into means and puts the rounds into order of time.
func (f *roundMatrix) finish(spans, used []input.Span) {
	order := make([]int, len(f.rounds))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return spans[a].First.Compare(spans[b].First) })
	rounds := make([]input.RoundKey, len(order))
	f.middle = make([]time.Time, len(order))
	f.length = make([]time.Duration, len(order))
	for i, from := range order {
		rounds[i] = f.rounds[from]
		f.length[i] = used[from].Last.Sub(used[from].First)
		f.middle[i] = spans[from].First.Add(spans[from].Last.Sub(spans[from].First) / 2)
	}
	f.rounds = rounds
	for k := range f.cells {
		sorted, flags := make([]*cell, len(order)), make([][]string, len(order))
		for i, from := range order {
			if from < len(f.cells[k]) {
				sorted[i], flags[i] = f.cells[k][from], f.flags[k][from]
			}
			if sorted[i] != nil {
				sorted[i].finish(len(f.lines))
			}
		}
		f.cells[k], f.flags[k] = sorted, flags
	}
}

func (c *cell) finish(lines int) {
	all := float64(c.readings)
	c.floor /= all
	c.external.floor, c.external.sigma, c.external.systematic = c.external.floor/all, math.Sqrt(c.external.sigma)/all, c.external.systematic/all
	if c.seen > 0 {
		c.off /= float64(c.seen)
	}
	c.snr, c.sigma = make([]float64, lines), make([]float64, lines)
	for i := range c.snr {
		if i >= len(c.times) || c.times[i] == 0 {
			c.snr[i], c.sigma[i] = math.NaN(), math.NaN()
			continue
		}
		n := float64(c.times[i])
		c.snr[i] = c.power[i] / n / c.floor
		c.sigma[i] = math.Sqrt(c.variance[i]) / n / c.floor
	}
	c.power, c.variance, c.times = nil, nil, nil
}

// isLimited tells whether most of the cell's readings show the receiver's own noise.
func (c *cell) isLimited() bool { return 2*c.limited > c.readings }

// present tells whether the setup was measured in any of the rounds.
func (f *roundMatrix) present(k int, rounds []int) bool {
	return slices.ContainsFunc(rounds, func(n int) bool { return f.cells[k][n] != nil })
}

// tried tells whether the setup was in place in any of the rounds, be it that all of
// its readings had to be left out.
func (f *roundMatrix) tried(k int, rounds []int) bool {
	return f.present(k, rounds) || slices.ContainsFunc(rounds, func(n int) bool { return len(f.flags[k][n]) > 0 })
}
