package lines

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/dsp/floor"
	"nightfloor/dsp/spectrum"
)

// A Line is one coherent line.
type Line struct {
	Frequency float64 // Hz, absolute
	Power     float64 // full-scale units, the line's own, noise subtracted
	Sigma     float64 // standard error of Power
	Quiet     float64 // what Sigma would be with no line there
	OverFloor float64 // power over the floor in one resolution, a ratio
	doubt     float64 // standard error of Frequency, Hz
}

// Where lines are looked for, METHODS.md 6.1.
const (
	candidateOverFloor = 3.5  // power in a column over the rough floor: 10 dB less 1.4 dB of scalloping and 3 dB for scatter (TestLinesNearCentre)
	maxCandidates      = 1500 // a chunk, the strongest; bounds the time
	rippleRatio        = 4.0  // power in a column over what the skirts of lines found put there, from which it is no ripple; chosen
	ownBin             = 0.75 // bins from its column beyond which a line is another column's: half and what noise adds; chosen
)

// A chunkLine is a coherent line found in one chunk.
type chunkLine struct {
	column int
	offset float64 // Hz from the centre
	zoomedLine
	image    bool // it is the mirror image of a stronger line
	sideband bool // it is a sideband of a stronger line
}

// A lineFinder finds coherent lines in a chunk. Buffers are reused.
type lineFinder struct {
	zoom       zoom
	patch      patch
	candidates []int
	lines      []chunkLine
}

// find gives the coherent lines of a chunk, strongest first. mean is the mean power of each
// column, floor roughly what noise holds there. The result is valid until the next call.
func (l *lineFinder) find(s *spectrum.Spectrogram, mean, floor []float64) []chunkLine {
	l.lines = l.lines[:0]
	l.candidates = peaks(l.candidates[:0], mean, floor)
	slices.SortFunc(l.candidates, func(a, b int) int {
		return cmp.Compare(mean[b], mean[a])
	})
	l.candidates = l.candidates[:min(len(l.candidates), maxCandidates)]
	least := leastShare(s.Frames)
	for _, b := range l.candidates {
		if rippleRatio*l.leakage(s, b) > mean[b] {
			continue
		}
		l.zoom.load(s, b)
		z := l.zoom.strongest(s, least)
		if z.share < least || math.Abs(z.offset) > ownBin*s.BinWidth() || z.power <= 0 {
			continue
		}
		l.lines = append(l.lines, chunkLine{column: b, offset: s.Offset(b) + z.offset, zoomedLine: z})
	}
	byPower(l.lines)
	l.zoom.prepare(s.Frames)
	l.findBeside(s, mean, floor, least)
	byPower(l.lines)
	return l.lines
}

// peaks appends the columns that are higher than both neighbours and candidateOverFloor
// over the floor.
func peaks(to []int, mean, floor []float64) []int {
	for b := 1; b+1 < len(mean); b++ {
		if m := mean[b]; m > candidateOverFloor*floor[b] && m > mean[b-1] && m >= mean[b+1] {
			to = append(to, b)
		}
	}
	return to
}

// leakage gives the power that the skirts of the lines found so far put into column b, by
// the hull of Hann's response, 1/(πm(m² − 1)) at m bins (METHODS.md 2.3).
func (l *lineFinder) leakage(s *spectrum.Spectrogram, b int) float64 {
	spill, offset := 0.0, s.Offset(b)
	for i := range l.lines {
		m := math.Abs(l.lines[i].offset-offset) / s.BinWidth()
		switch {
		case m < 1.5:
			spill += l.lines[i].power // within the main lobe
		case m < 64:
			w := 1 / (math.Pi * m * (m*m - 1))
			spill += l.lines[i].power * w * w
		}
	}
	return spill
}

// leastShare is the share of a column's power that a line must hold. A steady line 10 dB
// over the noise holds 0.9, at the edge of its bin 0.88. Columns of speech are noise: of
// 20,000 of 61 frames the highest had 0.67. In fewer frames noise gathers more by chance:
// of 40,000 columns of 20, 26, 36 and 46 frames the highest had 0.90, 0.82, 0.70 and 0.62,
// all under 1 − exp(−50/frames). Simulated, METHODS.md 6.2; TestNoCarriersInNoise.
func leastShare(frames int) float64 {
	return min(0.98, max(0.72, 1-math.Exp(-50/float64(frames))))
}

// InBand gives the lines of a band that stand floor.CarrierOver over level, the power of
// its floor in one bin, by frequency. Lines of at most the power rounding are left out.
func InBand(lines []Line, b spectrum.Band, level, rounding float64) []Line {
	var in []Line
	for _, l := range lines {
		if l.Frequency < b.Low || l.Frequency > b.High || !(l.Power >= floor.CarrierOver*level) || l.Power <= rounding {
			continue
		}
		l.OverFloor = l.Power / level
		in = append(in, l)
	}
	slices.SortFunc(in, func(a, b Line) int { return cmp.Compare(a.Frequency, b.Frequency) })
	return in
}
