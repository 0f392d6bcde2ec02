package floor

import (
	"math"
	"slices"

	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// What tells that the receiver's own filter ends within the usable passband (METHODS.md 4.9).
const (
	edgeCell  = 2500.0 // Hz; the level of a cell is that of the lowest tenth of its columns
	edgeReach = 2      // cells on either side of which the least counts: within 12.5 kHz there is noise between stations 10 kHz apart (TestEdgeBetweenStations)
	// edgeDrop is 20 dB: what lies beyond is at least so far under what lies within (TestEdgeOfTwentyDecibels).
	edgeDrop = 100.0
	// edgeInside is 10 dB: nothing within comes nearer to what lies beyond (TestWhatIsNoEdge).
	edgeInside = 10.0
	// edgeTransition is in what it falls, Hz: twice as steep as the steepest noise (METHODS.md 4.4; TestWhatIsNoEdge).
	edgeTransition = 40e3
	// edgeSlope is 1.5 dB: what is heard begins where levels rise inward by less over 10 kHz, which is as steep as noise
	// is; and it ends under that by edgeFlat, 1 dB, at the most (TestEdgeOfAGentleFilter).
	edgeSlope, edgeSlopeCells = 1.4, 4
	edgeFlat                  = 0.8
	// edgeNarrow is the width, Hz, up to which what stands up may be one transmission (METHODS.md 4.6; TestWhatIsNoEdge).
	edgeNarrow = 60e3
	// edgeStation is 20 dB over the noise within: what stands up by that is no part of a data signal (TestWhatIsNoEdge).
	edgeStation = 100.0
	// edgeUnrest is the unrest, a relative variance, that noise within has at the most in half a second (METHODS.md
	// 5.11). Programmes that meet have 0.46 and more, noise in bursts with the mains 0.015, in 40 pulses a second 0.1;
	// in a quarter of a second programmes have 0.25, in an eighth 0.02, for syllables last longer (simulated;
	// TestNoEdges, TestFilterEdgeIsFlagged).
	edgeUnrest = 0.2
	// edgeNotch is how near, Hz, an edge must lie to that of a band which devices leave out of what they radiate
	// for it to be theirs (METHODS.md 11.3; TestNotchIsNoEdge).
	edgeNotch = 5e3
)

// Columns are the columns From … To−1 of a passband.
type Columns struct{ From, To int }

// Within gives the columns of both.
func (c Columns) Within(d Columns) Columns { return Columns{max(c.From, d.From), min(c.To, d.To)} }

// An EdgeFinder tells which columns the receiver's own filter lets through, where it is narrower
// than the usable passband: noise falls by 20 dB, steeply and to the passband's end. Buffers are reused.
type EdgeFinder struct {
	a            *spectrum.Averages
	binWidth     float64
	width        int       // columns in a cell
	level, least []float64 // by cell: level; the least of those about
	sorted       []float64
	quiet        []bool // columns between stations
	none         []bool // frames left out
	unrest       Unrest
}

// Find gives the columns that the receiver's filter lets through: all where no edge is sure. left are
// bands that devices leave out of what they radiate.
func (f *EdgeFinder) Find(a *spectrum.Averages, s *spectrum.Spectrogram, left []Columns) Columns {
	binWidth := s.BinWidth()
	f.a, f.binWidth, f.width = a, binWidth, max(8, int(math.Round(edgeCell/binWidth)))
	if len(f.quiet) != len(a.Mean) || len(f.none) < s.Frames {
		f.quiet, f.none = make([]bool, len(a.Mean)), make([]bool, s.Frames)
	}
	f.gather()
	all, within := Columns{0, len(a.Mean)}, Columns{0, len(a.Mean)}
	cells := len(f.level)
	high, aboveHigh := f.edge(func(k int) int { return k })
	low, belowLow := f.edge(func(k int) int { return cells - 1 - k })
	low = cells - low
	if low > 0 {
		within.From = low * f.width
	}
	if high < cells {
		within.To = high * f.width
	}
	if within == all || f.notched(within, left) || !f.heard(s, low, high, max(aboveHigh, belowLow)) {
		return all
	}
	return within
}

// gather fills the levels of the cells.
func (f *EdgeFinder) gather() {
	f.level, f.least = f.level[:0], f.least[:0]
	for k := 0; 2*k*f.width+f.width < 2*len(f.a.Mean); k++ {
		f.sorted = append(f.sorted[:0], f.columns(f.a.Mean, k)...)
		f.level = append(f.level, stat.Select(f.sorted, len(f.sorted)/10))
	}
	for k := range f.level {
		f.least = append(f.least, slices.Min(f.level[max(0, k-edgeReach):min(len(f.level), k+edgeReach+1)]))
	}
}

// columns gives the values of a cell's columns.
func (f *EdgeFinder) columns(of []float64, cell int) []float64 {
	return of[cell*f.width : min(len(of), (cell+1)*f.width)]
}

// edge gives the first cell that no longer is within, counted by at from the other end, and the greatest level
// beyond. It is the number of cells where nothing falls. The cell in which it falls is not within, nor is that before.
func (f *EdgeFinder) edge(at func(int) int) (end int, beyond float64) {
	cells := len(f.level)
	reach := max(1, min(cells/8, int(math.Round(edgeTransition/f.binWidth/float64(f.width)))))
	for k := cells - 1 - reach; k > 0; k-- {
		beyond = max(beyond, f.least[at(k+reach)])
		if !(f.least[at(k)] > edgeDrop*beyond) {
			continue
		}
		for k >= edgeSlopeCells && f.least[at(k-edgeSlopeCells)] > edgeSlope*f.least[at(k)] {
			k--
		}
		flat := edgeFlat * f.least[at(k)]
		for range edgeReach { // cells before the edge whose least is that of cells beyond
			if k+1 < cells && f.level[at(k+1)] > flat {
				k++
			}
		}
		return k, beyond
	}
	return cells, 0
}

// notched tells whether an edge is that of a band which devices leave out, to whose end the passband does not reach.
func (f *EdgeFinder) notched(within Columns, left []Columns) bool {
	near := func(a, b int) bool { return math.Abs(float64(a-b))*f.binWidth <= edgeNotch }
	for _, c := range left {
		if within.To < len(f.a.Mean) && near(within.To, c.From) && c.To >= len(f.a.Mean) ||
			within.From > 0 && near(within.From, c.To) && c.From <= 0 {
			return true
		}
	}
	return false
}

// heard tells whether the cells low…high−1 are what a receiver hears, and not signals: the tuned frequency is among
// them, noise stands everywhere in them over what lies beyond, and it is steady; in few of them stations stand.
func (f *EdgeFinder) heard(s *spectrum.Spectrogram, low, high int, beyond float64) bool {
	middle := len(f.level) / 2
	if low >= middle || high <= middle || !(slices.Min(f.level[low:high]) > edgeInside*beyond) || !f.steady(s, low, high) {
		return false
	}
	return float64((high-low)*f.width)*f.binWidth > edgeNarrow || f.stations(low, high)
}

// steady tells whether what lies between stations in the cells low…high−1 goes up and down as noise does, in all of
// them alike, and not as programmes do.
func (f *EdgeFinder) steady(s *spectrum.Spectrogram, low, high int) bool {
	clear(f.quiet)
	for k := low; k < high; k++ {
		if f.level[k] > 2*f.least[k] {
			continue
		}
		for i, p := range f.columns(f.a.Mean, k) {
			f.quiet[k*f.width+i] = p < 1.3*f.level[k] // about the mean of which it is the lowest tenth
		}
	}
	f.unrest.Reset()
	f.unrest.Add(s, f.quiet, f.none[:s.Frames], low*f.width, min(s.Bins, high*f.width))
	syllables := min(1, float64(s.Frames*s.Hop)/s.Rate/0.5)
	return f.unrest.excess() < edgeUnrest*syllables*syllables
}

// stations tells whether two stations or more stand in the cells low…high−1, and none as strong beyond.
func (f *EdgeFinder) stations(low, high int) bool {
	top := func(k int) float64 { return slices.Max(f.columns(f.a.Mean, k)) }
	n, weakest, middle, noise := 0, math.Inf(1), len(f.level)/2, slices.Max(f.least[low:high])
	for k := max(1, low); k < min(high, len(f.level)-1); k++ {
		here := top(k)
		if k == middle || k == middle-1 || here < edgeStation*noise || here < top(k-1) || here < top(k+1) {
			continue // the DC spike, or no summit
		}
		n, weakest = n+1, min(weakest, here)
	}
	for k := range f.level {
		if (k < low-1 || k > high) && top(k) > weakest {
			return false
		}
	}
	return n > 1
}
