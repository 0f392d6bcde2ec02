package matrix

import (
	"math"
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A Cell is what one round found in one segment through one setup: the sweeps
// of its visits put together in linear power.
type Cell struct {
	Gain     survey.Gain
	Floor    float64   // density, full-scale units per hertz
	Limited  int       // readings whose floor is the receiver's own
	Coarse   int       // readings in which the converter had too little drive
	Step     survey.DB // standard error of the gain where a calibration measured it
	Snr      []float64 // by line: carrier over floor density, Hz; NaN where not measured
	Sigma    []float64 // by line: standard error of snr, Hz
	Place    []float64 // by line: frequency at which it was detected, mean, Hz; NaN where it was not
	Quiet    []float64 // by line: standard error that snr would have with no line there, Hz
	External externalNoise
	Span     input.Span // from the first of its readings to the last

	Off      float64 // degrees from the asked bearing to that at which it was seen to point, mean
	Readings int
	Seen     int       // readings for which Off is known
	power    []float64 // sums while the cell is filled
	variance []float64
	quiet    []float64 // variance with no line there, NaN where a reading lacks it
	times    []int
	detected []int
}

// externalNoise is the part of a cell's floor that comes from outside the receiver, whose own
// noise is subtracted, as power, where it is known. Densities are in the units of the cell's
// floor.
type externalNoise struct {
	Floor      float64
	Sigma      float64 // standard error of the readings, once the receiver's noise is out of them
	Systematic float64 // standard error of what was subtracted: the calibration's, alike in all cells
	Thin       int     // readings less than input.PlainMargin over the receiver's own noise
	Own        float64 // density of own noise, by a terminator in turns; NaN where not of all readings
	OwnSigma   float64 // standard error of Own, alike in all cells
	Receiver   float64 // density of the receiver's own noise at the cell's gain; NaN where not measured of all readings
	Unmeasured int     // readings through an amplifier whose noise is not known
}

// A Matrix is one segment: setups by rounds by lines.
type Matrix struct {
	Segment survey.Segment
	Setups  []survey.Setup   // in order of appearance
	Rounds  []input.RoundKey // in order of time
	spans   []input.Span     // of each round, over all of its readings
	Length  []time.Duration  // of each round, over the readings used
	Cut     bool             // some readings were cut differently: the segment is what all hold
	Cells   [][]*Cell        // by setup and round; nil where nothing usable was measured
	Flags   [][][]string     // by setup and round: those raised, also of readings left out
	Lines   []float64        // frequency of each line, Hz
	Own     []bool           // by line: it is the receiver's own
	Left    struct {         // readings left out
		Overload, NoFloor, Gain int
		Gainless                bool // some of them since a gain is not known at all
	}
	setupOf map[survey.Setup]int
	roundOf map[input.RoundKey]int
}

// New gathers the readings of one segment. Sweeps come in order of time.
// Overloaded readings are left out, and so are those without a floor.
func New(in input.Input, segment survey.Segment) *Matrix {
	m := &Matrix{Segment: segment, setupOf: map[survey.Setup]int{}, roundOf: map[input.RoundKey]int{}}
	var ids identities
	var used []input.Span // by round
	own := ownLines{met: map[float64][]meeting{}}
	pointed := pointed(in)
	for _, s := range in.Sweeps {
		for i := range s.Readings {
			r := &s.Readings[i]
			if !m.Holds(r.Segment) {
				continue
			}
			m.Cut = m.Cut || r.Segment != segment
			k, n := m.placeOf(s)
			if n == len(used) {
				m.spans, used = append(m.spans, input.Span{}), append(used, input.Span{})
			}
			m.spans[n] = m.spans[n].With(input.SpanOf(r))
			known := in.CalibrationOf(s, i)
			own.add(r, known)
			if !m.add(k, n, r, known, &ids) {
				continue
			}
			m.Cells[k][n].point(s.Setup.Bearing, pointed[visitKey{s.Survey, s.Visit}])
			used[n] = used[n].With(input.SpanOf(r))
		}
	}
	m.Lines = ids.frequencies()
	m.Own = own.among(m.Lines)
	for _, s := range used {
		m.Length = append(m.Length, s.Last.Sub(s.First))
	}
	for _, cells := range m.Cells {
		for _, c := range cells {
			if c != nil {
				c.finish(len(m.Lines))
			}
		}
	}
	m.guessQuiet()
	return m
}

// Holds tells whether a reading of a segment covers the matrix's: it has the same name, and is cut
// no narrower.
func (m *Matrix) Holds(s survey.Segment) bool {
	return s.Name == m.Segment.Name && s.Low <= m.Segment.Low && s.High >= m.Segment.High
}

// placeOf gives a sweep's setup and round, and makes room for those that are new.
func (m *Matrix) placeOf(s *survey.Sweep) (setup, round int) {
	k, ok := m.setupOf[s.Setup]
	if !ok {
		k = len(m.Setups)
		m.setupOf[s.Setup], m.Setups = k, append(m.Setups, s.Setup)
		m.Cells, m.Flags = append(m.Cells, make([]*Cell, len(m.Rounds))), append(m.Flags, make([][]string, len(m.Rounds)))
	}
	key := input.RoundKey{Survey: s.Survey, Round: s.Round}
	n, ok := m.roundOf[key]
	if !ok {
		n = len(m.Rounds)
		m.roundOf[key], m.Rounds = n, append(m.Rounds, key)
		for k := range m.Cells {
			m.Cells[k], m.Flags[k] = append(m.Cells[k], nil), append(m.Flags[k], nil)
		}
	}
	return k, n
}

// CellOf gives the cell of a sweep, nil where nothing usable was measured.
func (m *Matrix) CellOf(s *survey.Sweep) *Cell {
	k, known := m.setupOf[s.Setup]
	n, there := m.roundOf[input.RoundKey{Survey: s.Survey, Round: s.Round}]
	if !known || !there {
		return nil
	}
	return m.Cells[k][n]
}

// add puts one reading into its cell, or counts it among those left out.
func (m *Matrix) add(setup, round int, r *survey.Reading, known *input.CalibrationFor, ids *identities) (used bool) {
	m.Flags[setup][round] = append(m.Flags[setup][round], r.Quality.Flags...)
	switch {
	case r.Quality.Has(survey.FlagOverload):
		m.Left.Overload++
		return false
	case r.Floor == nil || !stats.Finite(r.Floor.Density.Linear()) || r.Floor.Density.Linear() == 0:
		m.Left.NoFloor++
		return false
	}
	c := m.Cells[setup][round]
	if c == nil {
		c = &Cell{Gain: r.Gain}
		if r.Gain.Exact && known != nil {
			c.Step = known.Step
		}
		m.Cells[setup][round] = c
	}
	// Levels within a cell are referred to the gain of its first reading. Where no
	// gain is known it counts as unchanged: it was one visit to one setup.
	lower, ok := input.Refer(r.Gain, c.Gain)
	if !ok {
		m.Left.Gain++
		m.Left.Gainless = m.Left.Gainless || !r.Gain.Known || !c.Gain.Known
		return false
	}
	if r.Segment != m.Segment {
		r = within(r, m.Segment)
	}
	scale := stats.FromDecibel(-float64(lower))
	c.External.add(r, known, scale)
	c.Span = c.Span.With(input.SpanOf(r))
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
func (c *Cell) point(asked, at survey.Bearing) {
	if asked.Known && at.Known {
		c.Off += math.Remainder(at.Deg-asked.Deg, 180)
		c.Seen++
	}
}

// add takes a reading's floor, and the receiver's own noise out of it.
func (o *externalNoise) add(r *survey.Reading, known *input.CalibrationFor, scale float64) {
	floor := r.Floor.Density.Linear() * scale
	if known != nil && known.Unmeasured {
		o.Unmeasured++
	}
	d, ok := known.Margin(r)
	if !ok {
		o.Floor, o.Own, o.Receiver = o.Floor+floor, math.NaN(), math.NaN()
		return
	}
	noise := known.Noise.Density.Linear() * scale
	if o.Own += noise; known.Noise.Basis != input.ByTerminator { // a calibration's drifts
		o.Own = math.NaN()
	}
	if o.Receiver += noise; known.Noise.Basis == input.ByReplaced || known.Noise.Rough() {
		o.Receiver = math.NaN()
	}
	if d < input.PlainMargin {
		o.Thin++
	}
	left := floor * stats.FromDecibel(known.Noise.Correction(d))
	readings, own := known.Noise.Errors(d)
	o.Floor += left
	if sigma := float64(r.Floor.Sigma); stats.Finite(sigma) {
		e := left * readings * stats.Relative(sigma)
		o.Sigma += e * e
	}
	if sigma := float64(known.Noise.Sigma); stats.Finite(sigma) {
		o.Systematic += left * own * stats.Relative(sigma)
		o.OwnSigma += noise * stats.Relative(sigma)
	}
}

func (c *Cell) add(r *survey.Reading, lines []int, scale float64) {
	c.Readings++
	c.Floor += r.Floor.Density.Linear() * scale
	if r.Quality.Has(survey.FlagReceiverLimited) {
		c.Limited++
	}
	if r.Quality.Has(survey.FlagLowDrive) {
		c.Coarse++
	}
	for i, line := range lines {
		c.grow(line + 1)
		carrier := &r.Carriers[i]
		if !stats.Finite(carrier.Power) || !stats.Finite(carrier.Sigma) {
			continue
		}
		c.power[line] += carrier.Power * scale
		c.variance[line] += carrier.Sigma * carrier.Sigma * scale * scale
		if carrier.Quiet > 0 {
			c.quiet[line] += carrier.Quiet * carrier.Quiet * scale * scale
		} else {
			c.quiet[line] = math.NaN()
		}
		c.times[line]++
		if carrier.Detected {
			c.Place[line] += float64(carrier.Frequency)
			c.detected[line]++
		}
	}
}

// grow makes room for so many lines.
func (c *Cell) grow(lines int) {
	if need := lines - len(c.power); need > 0 {
		c.power = append(c.power, make([]float64, need)...)
		c.variance = append(c.variance, make([]float64, need)...)
		c.quiet = append(c.quiet, make([]float64, need)...)
		c.times = append(c.times, make([]int, need)...)
		c.Place = append(c.Place, make([]float64, need)...)
		c.detected = append(c.detected, make([]int, need)...)
	}
}

// finish turns sums into means.
func (c *Cell) finish(lines int) {
	all := float64(c.Readings)
	c.Floor /= all
	c.External.Floor, c.External.Sigma, c.External.Systematic = c.External.Floor/all, math.Sqrt(c.External.Sigma)/all, c.External.Systematic/all
	c.External.Own, c.External.OwnSigma, c.External.Receiver = c.External.Own/all, c.External.OwnSigma/all, c.External.Receiver/all
	if c.Seen > 0 {
		c.Off /= float64(c.Seen)
	}
	c.grow(lines)
	c.Snr, c.Sigma, c.Quiet = make([]float64, lines), make([]float64, lines), make([]float64, lines)
	for i := range c.Snr {
		c.Place[i] /= float64(c.detected[i]) // NaN of none
		if c.times[i] == 0 {
			c.Snr[i], c.Sigma[i], c.Quiet[i] = math.NaN(), math.NaN(), math.NaN()
			continue
		}
		n := float64(c.times[i])
		c.Snr[i] = c.power[i] / n / c.Floor
		c.Sigma[i] = math.Sqrt(c.variance[i]) / n / c.Floor
		c.Quiet[i] = math.Sqrt(c.quiet[i]) / n / c.Floor
	}
	c.power, c.variance, c.quiet, c.detected = nil, nil, nil, nil
}

// IsLimited tells whether most of the cell's readings show the receiver's own noise.
func (c *Cell) IsLimited() bool { return 2*c.Limited > c.Readings }

// IsCoarse tells whether the converter had too little drive in most of the cell's readings.
func (c *Cell) IsCoarse() bool { return 2*c.Coarse > c.Readings }

// Middle gives the middle of a round, over all of its readings.
func (m *Matrix) Middle(round int) time.Time { return m.spans[round].Middle() }

// Measured counts the rounds, of some, in which the setup was measured.
func (m *Matrix) Measured(k int, rounds []int) (times int) {
	for _, n := range rounds {
		if m.Cells[k][n] != nil {
			times++
		}
	}
	return times
}

// Tried tells whether the setup was in place in any of the rounds, even if all of its
// readings were left out.
func (m *Matrix) Tried(k int, rounds []int) bool {
	return m.Measured(k, rounds) > 0 || slices.ContainsFunc(rounds, func(n int) bool { return len(m.Flags[k][n]) > 0 })
}

// Periods gives the rounds of each period, by the middle of each round and the place of its
// survey; rounds whose place is not known stand in PeriodAll only.
func (m *Matrix) Periods(places map[int64]input.SunAt) map[string][]int {
	rounds := map[string][]int{}
	for n, key := range m.Rounds {
		rounds[result.PeriodAll] = append(rounds[result.PeriodAll], n)
		if at, ok := places[key.Survey]; ok {
			p := input.PeriodAt(m.spans[n].Middle(), at.Lat, at.Lon)
			rounds[p] = append(rounds[p], n)
		}
	}
	return rounds
}
