package interference

import (
	"math"

	"nightfloor/dsp/fft"
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
