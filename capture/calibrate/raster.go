package calibrate

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"

	"nightfloor/survey"
)

// Rules for the raster.
const (
	raster = float64(survey.BroadcastRaster)
	// stationOff is how far off the raster most broadcasters are at most, Hz.
	stationOff = 15.0
	// lineDoubt is how far off it one commonly is, and how uncertain the frequency of a
	// carrier is, Hz (TestStationsOwnError).
	lineDoubt = 1.0
	// mostFalseAlarm is the highest probability that carriers at random frequencies agree
	// as well, everything that was tried counted, at which a clock error is claimed.
	mostFalseAlarm = 1e-3
	// leastStations is the least number that agree: three may do so by chance
	// (TestThreeStations).
	leastStations = 4
)

// byRaster finds the clock error that puts the most carriers onto the raster.
func (k *Calibrator) byRaster(lines []clockLine, offset survey.Hz) (survey.ClockError, error) {
	if len(lines) < leastStations {
		return survey.ClockError{}, fmt.Errorf("%w: %s heard, and it takes %d or more; listen in a band that is open, longer with --for, or name a station with --frequency", ErrClock, survey.Count(len(lines), "steady carrier"), leastStations)
	}
	s := newRasterSearch(lines, offset, k.tunerError)
	best := s.best()
	if best.stations < leastStations || s.falseAlarm(best) > mostFalseAlarm {
		return survey.ClockError{}, fmt.Errorf("%w: of %d steady carriers at most %d agree on one clock error, which chance alone may do; listen in a broadcast band that is open, or name a station with --frequency", ErrClock, len(lines), best.stations)
	}
	if rival := s.rival(best); rival.stations > 0 {
		return survey.ClockError{}, fmt.Errorf("%w: %d stations fit %+.1f ppm, and %d fit %+.1f ppm; add segments of other bands to the plan, or name a station with --frequency", ErrClock, best.stations, best.e*1e6, rival.stations, rival.e*1e6)
	}
	return s.clockError(best), nil
}

// A rasterSearch seeks the clock error at which carriers stand on the raster. The tuner's
// own step shifts all carriers of a tuning alike, by tunerError at most: one offset is
// fitted to each tuning, and a station may be off by stationOff beside that.
//
// Through an up-converter one turn of the raster is 40 ppm: what fits in one
// tuning fits there at every turn, and only another tuning tells which is right.
type rasterSearch struct {
	lines      []clockLine
	offset     survey.Hz
	tunerError float64
	highest    float64 // frequency that is tuned to
	groups     [][]int // lines by tuning; all in one where nothing is fitted to tunings
}

// newRasterSearch takes lines in the order of their tunings.
func newRasterSearch(lines []clockLine, offset, tunerError survey.Hz) rasterSearch {
	s := rasterSearch{lines: lines, offset: offset, tunerError: float64(tunerError)}
	for i, l := range lines {
		s.highest = max(s.highest, float64(l.tuned))
		if i == 0 || tunerError > 0 && l.tuning != lines[i-1].tuning {
			s.groups = append(s.groups, nil)
		}
		last := len(s.groups) - 1
		s.groups[last] = append(s.groups[last], i)
	}
	return s
}

// A rasterFit is what one clock error makes of the lines.
type rasterFit struct {
	e, score float64
	on       []bool // by line: on the raster
	stations int    // that are on it
	tunings  int    // that have any
}

// candidates gives the clock errors that put some line onto the raster, for offsets of the
// tuner in steps of half of stationOff.
func (s rasterSearch) candidates() []float64 {
	steps := math.Ceil(s.tunerError / (stationOff / 2))
	var out []float64
	for _, l := range s.lines {
		reach := float64(l.tuned) * mostClockError
		for at := math.Ceil((float64(l.heard) - reach) / raster); at*raster <= float64(l.heard)+reach; at++ {
			for n := -steps; n <= steps; n++ {
				off := s.tunerError * n / max(steps, 1)
				out = append(out, (at*raster+off+float64(s.offset))/float64(l.tuned)-1)
			}
		}
	}
	return out
}

// fit judges a clock error.
func (s rasterSearch) fit(e float64) rasterFit {
	f := rasterFit{e: e, on: make([]bool, len(s.lines))}
	for _, group := range s.groups {
		var near []int // those that some offset puts onto the raster
		var offs []float64
		for _, i := range group {
			if off := offRasterBy(s.lines[i], e, s.offset); math.Abs(off) <= s.tunerError+stationOff {
				near, offs = append(near, i), append(offs, off)
			}
		}
		if len(near) == 0 {
			continue
		}
		tuner, most := s.tunerOffset(offs)
		f.score += most
		f.tunings++
		for j, i := range near {
			if math.Abs(offs[j]-tuner) <= stationOff {
				f.on[i] = true
				f.stations++
			}
		}
	}
	return f
}

// tunerOffset gives the offset within tunerError that suits the lines of a tuning best,
// from how far each is off the raster, and its score.
func (s rasterSearch) tunerOffset(offs []float64) (tuner, most float64) {
	most = -1
	for _, at := range offs {
		at = max(-s.tunerError, min(s.tunerError, at))
		score := 0.0
		for _, off := range offs {
			by := (off - at) / stationOff
			score += max(0, 1-by*by)
		}
		if score > most {
			tuner, most = at, score
		}
	}
	return tuner, most
}

// best gives the fit that puts the most onto the raster.
func (s rasterSearch) best() rasterFit {
	return s.bestWhere(func(rasterFit) bool { return true })
}

// bestWhere gives the best of the fits that count; its stations are 0 where there is none.
func (s rasterSearch) bestWhere(counts func(rasterFit) bool) (best rasterFit) {
	for _, e := range s.candidates() {
		if f := s.fit(e); f.score > best.score && counts(f) {
			best = f
		}
	}
	return best
}

// offsets gives how many offsets of a tuning can be told apart, since a station may be off
// by stationOff.
func (s rasterSearch) offsets() float64 { return 1 + s.tunerError/stationOff }

// rasterShare is the probability that a carrier at a random frequency is on the raster.
const rasterShare = 2 * stationOff / raster

// falseAlarm gives the probability that carriers at random frequencies fit as well at any
// clock error, with an offset fitted to each tuning but one, whose offset is the clock
// error's.
func (s rasterSearch) falseAlarm(f rasterFit) float64 {
	cells := (mostClockError*s.highest + s.tunerError) / stationOff
	return binomialTail(len(s.lines), f.stations, rasterShare) * cells * math.Pow(s.offsets(), float64(f.tunings-1))
}

// rival gives the strongest fit at another clock error that the best one does not
// refute; its stations are 0 where there is none.
func (s rasterSearch) rival(best rasterFit) rasterFit {
	same := 2 * (s.tunerError + stationOff) / s.highest
	needed := s.needed(best)
	return s.bestWhere(func(f rasterFit) bool { return math.Abs(f.e-best.e) > same && !best.refutes(f, needed) })
}

// needed gives, for each number of lines that another clock error leaves off the raster,
// how many of them must fit the best one for that to be more than chance, at any multiple
// of the raster's period.
func (s rasterSearch) needed(best rasterFit) []int {
	turns := 1 + 2*mostClockError*s.highest/raster
	tried := turns * math.Pow(s.offsets(), float64(best.tunings))
	out := make([]int, len(s.lines)+1)
	for left := range out {
		for out[left] <= left && binomialTail(left+1, out[left]+1, rasterShare)*tried > mostFalseAlarm {
			out[left]++
		}
	}
	return out
}

// refutes tells whether f excludes another fit: as many lines as are needed fit f and not
// the other, and at least twice as many as fit only the other.
func (f rasterFit) refutes(other rasterFit, needed []int) bool {
	left, more, less := 0, 0, 0
	for i := range f.on {
		switch {
		case other.on[i] && !f.on[i]:
			less++
		case !other.on[i]:
			left++
			if f.on[i] {
				more++
			}
		}
	}
	return more >= needed[left] && 2*less <= more
}

// clockError gives the clock error of a fit: the weighted mean of the medians of the
// tunings.
func (s rasterSearch) clockError(f rasterFit) survey.ClockError {
	sum, weights := 0.0, 0.0
	for _, group := range s.groups {
		var errs []float64
		for _, i := range group {
			if l := s.lines[i]; f.on[i] {
				errs = append(errs, f.e-offRasterBy(l, f.e, s.offset)/float64(l.tuned))
			}
		}
		if len(errs) == 0 {
			continue
		}
		e, scatter := medianAndError(errs)
		tuned := float64(s.lines[group[0]].tuned)
		common := s.tunerError / math.Sqrt(3) / tuned // of all stations of a tuning
		each := lineDoubt / math.Sqrt(float64(len(errs))) / tuned
		weight := 1 / (scatter*scatter + common*common + each*each)
		sum, weights = sum+e*weight, weights+weight
	}
	return survey.ClockError{PPM: 1e6 * sum / weights, Sigma: 1e6 / math.Sqrt(weights), Stations: f.stations}
}

// broadcasters gives how many of the lines stand on the raster as a band of
// broadcasters does: most of them, more than chance puts there, and not evenly
// spaced by combSpacing or more, as the lines of one clock are. 0: they do not.
func (s rasterSearch) broadcasters() int {
	if len(s.lines) < leastStations {
		return 0
	}
	best := s.best()
	if best.stations < leastStations || 2*best.stations <= len(s.lines) || s.falseAlarm(best) > mostFalseAlarm {
		return 0
	}
	first, spacing := math.NaN(), 0
	for i, l := range s.lines {
		if !best.on[i] {
			continue
		}
		at := math.Round((float64(l.tuned)*(1+best.e) - float64(s.offset)) / raster)
		if math.IsNaN(first) {
			first = at
		}
		spacing = commonDivisor(spacing, int(math.Abs(at-first)))
	}
	if float64(spacing)*raster >= combSpacing {
		return 0
	}
	return best.stations
}

// combSpacing is from where on a common spacing is that of a clock's lines: four
// broadcasters stand at equal offsets of a raster of 50 kHz in one of a thousand cases
// (TestOwnLinesOfAnAntenna).
const combSpacing = 50e3

// commonDivisor gives the greatest common divisor.
func commonDivisor(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// offRasterBy gives how far a line stands off the raster, Hz, if the clock is off by e.
func offRasterBy(l clockLine, e float64, offset survey.Hz) float64 {
	at := float64(l.tuned)*(1+e) - float64(offset)
	return at - raster*math.Round(at/raster)
}

// binomialTail gives the probability that of n carriers m or more lie where each lies with
// probability p. One of the m led there and is not counted.
func binomialTail(n, m int, p float64) float64 {
	switch {
	case m <= 1:
		return 1
	case m > n:
		return 0
	}
	return mathext.RegIncBeta(float64(m-1), float64(n-m+1), p)
}
