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

// A levelOf is the level of some columns.
type levelOf struct {
	level float64 // dB
	sigma float64 // its standard error
	free  int     // columns that no signal takes
	ok    bool    // they are enough to tell the level
}

// of gives the level of the columns from…to.
func (l *cellLevels) of(from, to int) (c levelOf) {
	if from < 0 || to > len(l.power) || from >= to {
		return c
	}
	l.sorted = l.sorted[:0]
	for b := from; b < to; b++ {
		if l.free[b] {
			l.sorted = append(l.sorted, l.power[b])
		}
	}
	c.free = len(l.sorted)
	if c.free < cellLeast || float64(c.free) < cellFree*float64(to-from) {
		return c
	}
	quartile := stat.Select(l.sorted, c.free/4)
	c.level, c.ok = 10*math.Log10(quartile), quartile > 0
	c.sigma = stat.QuartileScatter * 10 / math.Ln10 * math.Sqrt(fft.BinExcess/(l.looks*float64(c.free)))
	return c
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
		inside, below, above := l.of(low+edge, high-edge), l.of(low-edge-side, low-edge), l.of(high+edge, high+edge+side)
		p := max(stepPValue(l.of(low+edge, low+reach), below), stepPValue(l.of(high-reach, high-edge), above))
		if p >= 1 || !inside.ok || min(below.level, above.level)-inside.level < notchDepth {
			continue
		}
		beside := stat.DB((stat.FromDB(below.level) + stat.FromDB(above.level)) / 2)
		found = append(found, Notch{Band: b, Strength: stat.FromDB(inside.level - beside), P: min(1, p*float64(len(bands)))})
	}
	return found
}

// stepPValue gives the probability that noise steps by as much as a notch's edge does, both sides of
// which may stray by the wiggle; 1 where there is no step of notchDepth.
func stepPValue(inside, outside levelOf) float64 {
	step := outside.level - inside.level
	if !inside.ok || !outside.ok || step < notchDepth {
		return 1
	}
	return stat.NormalTail(step / math.Sqrt(2*wiggle*wiggle+inside.sigma*inside.sigma+outside.sigma*outside.sigma))
}
