package interference

import (
	"math"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// Scales of the noise over frequency, for humps and notches (METHODS.md 11.1); chosen.
const (
	cellWidth = 5e3  // Hz: a width is known to half of it
	cellFree  = 0.25 // share of a stretch's columns that must be free to tell its level
	cellLeast = 16   // columns that must be
	// quartileScatter is by how much the quartile of normal values scatters more than their
	// mean: √(¼·¾) over the density at −0.6745.
	quartileScatter = 1.36

	// wiggle is how far the noise strays from a smooth curve by itself, in dB: normal values,
	// each for a stretch of wiggleWidth Hz. This is a model, for want of a better one.
	wiggle      = 0.4
	wiggleWidth = 60e3
)

// cellLevels are the levels of the noise over frequency, of free columns only: the
// lower quartile of their powers, which sidebands left over here and there do not
// raise. Nothing corrects what the quartile is low by (as stat.NoiseQuantile does elsewhere):
// it is the same for all, and only differences count. The baseline of package floor does not
// serve, for it follows the humps and notches that are sought.
type cellLevels struct {
	power    []float64
	free     []bool
	looks    float64 // independent averages in a power
	binWidth float64
	first    float64 // Hz, of column 0
	sorted   []float64
}

// column gives the column that holds a frequency; it may lie outside.
func (l *cellLevels) column(hz float64) int { return int(math.Round((hz - l.first) / l.binWidth)) }

// hz gives the frequency of a column's middle, or of a place between columns.
func (l *cellLevels) hz(column float64) float64 { return l.first + column*l.binWidth }

// of gives the level of the columns from…to in dB, its standard error, and the number
// of free ones; ok is false where these are too few.
func (l *cellLevels) of(from, to int) (level, sigma float64, free int, ok bool) {
	if from < 0 || to > len(l.power) || from >= to {
		return 0, 0, 0, false
	}
	l.sorted = l.sorted[:0]
	for b := from; b < to; b++ {
		if l.free[b] {
			l.sorted = append(l.sorted, l.power[b])
		}
	}
	free = len(l.sorted)
	if free < cellLeast || float64(free) < cellFree*float64(to-from) {
		return 0, 0, free, false
	}
	quartile := stat.Select(l.sorted, free/4)
	if !(quartile > 0) {
		return 0, 0, free, false
	}
	sigma = quartileScatter * 10 / math.Ln10 * math.Sqrt(fft.BinExcess/(l.looks*float64(free)))
	return 10 * math.Log10(quartile), sigma, free, true
}

// Figures of the search for notches (METHODS.md 11.3); chosen.
const (
	notchDepth = 6.0  // dB
	notchEdge  = 5e3  // Hz about a band's edge in which the floor may step
	notchSide  = 25e3 // Hz beyond that tell the level on either side of an edge
)

// notches tells which of the bands are left out of a raised floor: at both edges the
// free columns' floor steps by notchDepth or more.
func (l *cellLevels) notches(bands []spectrum.Band) (found []Notch) {
	for _, b := range bands {
		low, high := l.column(b.Low), l.column(b.High)
		edge, side := int(notchEdge/l.binWidth), int(notchSide/l.binWidth)
		reach := min(edge+side, (high-low)/2)
		inLow, s1, _, ok1 := l.of(low+edge, low+reach)
		inHigh, s2, _, ok2 := l.of(high-reach, high-edge)
		outLow, s3, _, ok3 := l.of(low-edge-side, low-edge)
		outHigh, s4, _, ok4 := l.of(high+edge, high+edge+side)
		if !ok1 || !ok2 || !ok3 || !ok4 || outLow-inLow < notchDepth || outHigh-inHigh < notchDepth {
			continue
		}
		inside, _, _, ok := l.of(low+edge, high-edge)
		if !ok || min(outLow, outHigh)-inside < notchDepth {
			continue
		}
		// Each of the four may stray by the wiggle; it takes both edges.
		p := max(stat.NormalTail((outLow-inLow)/math.Sqrt(2*wiggle*wiggle+s1*s1+s3*s3)),
			stat.NormalTail((outHigh-inHigh)/math.Sqrt(2*wiggle*wiggle+s2*s2+s4*s4)))
		beside := 10 * math.Log10((math.Pow(10, outLow/10)+math.Pow(10, outHigh/10))/2)
		found = append(found, Notch{Band: b, Strength: math.Pow(10, (inside-beside)/10), P: min(1, p*float64(len(bands)))})
	}
	return found
}
