package floor

import (
	"math"

	"nightfloor/dsp/baseline"
	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// A mask tells which columns are taken by signals. It has one set of columns for each
// half of the averages: what is free is chosen on one half and measured on the other
// (METHODS.md 3.7), so that fluctuations do not choose themselves.
type mask struct {
	fixed []bool       // by lines, the DC spike, images: the same for both halves
	taken [2][]bool    // by half: fixed, and what stands out of that half's noise
	noise [2][]float64 // by half: the local noise that it stands out of
}

// Scales of the search for what stands out of the noise, in cells of 500 Hz
// (0: a single bin), with the standard errors that it takes. Noise passes one
// in 10^5 or so; what it costs is free bins, not bias. METHODS.md 4.7; TestExcess,
// TestExcessAtEachScale.
var excessScales = []struct {
	cells int
	z     float64
}{{0, 5}, {1, 4.4}, {5, 4}, {10, 4}, {20, 4}}

// A Masker makes masks. Buffers are reused.
type Masker struct {
	binWidth float64
	lowest   int
	line     *baseline.Baseline
	mask     mask
	level    int         // of the guards of mask
	weak     []Line      // too weak for a guard, in columns that no other line takes
	united   [2][][2]int // columns from…to that one half tells and both leave out
}

// NewMasker readies a Masker for averages with the columns of s.
func NewMasker(s *spectrum.Spectrogram) *Masker {
	m := &Masker{binWidth: s.BinWidth(), lowest: s.Lowest, line: baseline.New(s.Bins, s.BinWidth())}
	m.mask.fixed = make([]bool, s.Bins)
	for h := range 2 {
		m.mask.taken[h], m.mask.noise[h] = make([]bool, s.Bins), make([]float64, s.Bins)
	}
	return m
}

// A Line is a line as the mask sees it: where, and how far over the noise
// in one column.
type Line struct {
	Column float64
	Over   float64
	Quiet  bool // has no sidebands: the DC spike
}

// A guard is how much room lines get on either side for their sidebands.
type guard struct {
	radius float64 // Hz
	over   float64 // lines this far over the noise in a bin get it
}

// Mask takes what lines and all that stands out of the noise take. level says how much
// room lines get for their sidebands, from 0, the most, to Levels−1, none. Columns that are not
// within are taken.
func (m *Masker) Mask(a *spectrum.Averages, within Columns, lines []Line, level int) {
	m.level = level
	for b := range m.mask.fixed {
		m.mask.fixed[b] = b < within.From || b >= within.To
	}
	for _, l := range lines {
		m.guard(l, guards[level].guard)
	}
	m.findWeak(lines)
	for h := range 2 {
		copy(m.mask.taken[h], m.mask.fixed)
		m.excess(a.Halves[h], a.Looks, m.mask.taken[h], m.mask.noise[h])
	}
	m.unite(a)
}

// Free writes which of the columns first…last are free; all others are not.
func (m *Masker) Free(to []bool, first, last int) {
	clear(to)
	for b := first; b < last; b++ {
		to[b] = !m.mask.taken[0][b] && !m.mask.taken[1][b]
	}
}

// guard takes a line's skirts, and its guard.
func (m *Masker) guard(l Line, g guard) {
	reach := fft.HannSkirt(l.Over)
	if l.Quiet {
		reach = max(reach, 3, spectrum.DCGuard/m.binWidth)
	} else if l.Over >= g.over {
		reach = max(reach, g.radius/m.binWidth)
	}
	from := max(0, int(math.Ceil(l.Column-reach)))
	to := min(len(m.mask.fixed)-1, int(math.Floor(l.Column+reach)))
	for b := from; b <= to; b++ {
		m.mask.fixed[b] = true
	}
}

// findWeak notes the lines that have no guard though others have, and stand beside free columns.
func (m *Masker) findWeak(lines []Line) {
	m.weak = m.weak[:0]
	if m.level == Levels-1 {
		return
	}
	open := func(b float64) bool { return b >= 0 && int(b) < len(m.mask.fixed) && !m.mask.fixed[int(b)] }
	for _, l := range lines {
		beside := fft.HannSkirt(l.Over) + 1
		if !l.Quiet && l.Over < guards[m.level].over && (open(l.Column-beside) || open(l.Column+beside)) {
			m.weak = append(m.weak, l)
		}
	}
}

// excess takes the columns that stand out of the local noise at any scale, and
// writes that noise.
func (m *Masker) excess(power []float64, looks float64, taken []bool, noise []float64) {
	l := m.line
	if !l.Fit(power, taken, looks) {
		clear(noise)
		return
	}
	l.Level(noise)
	for _, scale := range excessScales {
		if scale.cells == 0 {
			m.single(power, looks, taken, noise, scale.z)
		} else {
			m.blocks(looks, taken, noise, scale.cells, scale.z)
		}
		l.Sum(power, taken) // what a finer scale took does not speak at a coarser one
	}
}

// blocks takes blocks of cells, half overlapping, that stand out.
func (m *Masker) blocks(looks float64, taken []bool, noise []float64, cells int, z float64) {
	l := m.line
	span, margin := cells*l.CellWidth, l.CellWidth*min(cells, 2) // a block's edges are not quite steep
	for from := 0; from < len(taken); from += max(1, span/2) {
		to := min(from+span, len(taken))
		level, n := l.Mean(from, to)
		if n*4 < span || level <= noise[(from+to)/2]*stat.NoiseQuantile(looks*float64(n)/fft.BinExcess, z) {
			continue
		}
		for b := max(0, from-margin); b < min(len(taken), to+margin); b++ {
			taken[b] = true
		}
	}
}

// single takes bins that stand out alone, with the main lobe about them.
func (m *Masker) single(power []float64, looks float64, taken []bool, noise []float64, z float64) {
	limit := stat.NoiseQuantile(looks, z)
	for b, p := range power {
		if p <= limit*noise[b] {
			continue
		}
		for k := max(0, b-2); k <= min(len(taken)-1, b+2); k++ {
			taken[k] = true
		}
	}
}

// strongExcess is how many standard errors an excess takes in one half that
// noise cannot have made: the choice of it does not bias the mean.
const strongExcess = 6.5

// unionCells is how finely, in cells of the baseline, an excess is looked at.
const unionCells = 10

// unite takes in both halves the columns that only one took where the excess is
// strong. A packet of some 20 ms may lie within the turn of one half, which finds
// it while the other, whose choice counts, does not. A marginal excess stays
// where it is, for fluctuations must not be chosen by themselves.
func (m *Masker) unite(a *spectrum.Averages) {
	for h := range 2 {
		own, other := m.mask.taken[h], m.mask.taken[1-h]
		m.united[h] = m.united[h][:0]
		for b := 0; b < len(own); {
			if !own[b] || other[b] {
				b++
				continue
			}
			from, sum, noise := b, 0.0, 0.0
			for b < len(own) && own[b] && !other[b] && b-from < unionCells*m.line.CellWidth {
				sum, noise = sum+a.Halves[h][b], noise+m.mask.noise[h][b]
				b++
			}
			if sum > noise*stat.NoiseQuantile(a.Looks*float64(b-from)/fft.BinExcess, strongExcess) {
				m.united[h] = append(m.united[h], [2]int{from, b})
			}
		}
	}
	for h, runs := range m.united {
		for _, r := range runs {
			for b := r[0]; b < r[1]; b++ {
				m.mask.taken[1-h][b] = true
			}
		}
	}
}
