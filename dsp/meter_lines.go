package dsp

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/dsp/floor"
)

// linesFound works out the carriers, and every line as the mask sees it:
// carriers, sidebands, images, the DC spike. rough is the rough floor by column.
func (m *Meter) linesFound(rough []float64) {
	s := m.chunk
	m.carriers, m.masks = m.carriers[:0], m.masks[:0]
	middle := -s.Lowest
	spike := max(m.averages.Mean[middle], m.averages.Mean[middle-1], m.averages.Mean[middle+1])
	m.masks = append(m.masks, floor.Line{Column: float64(middle), Over: spike / rough[middle], Quiet: true})
	for i := range m.track.lines {
		l := &m.track.lines[i]
		power, sigma := l.mean()
		column := l.offset/s.BinWidth() - float64(s.Lowest)
		over := power / rough[s.Column(l.offset)]
		if over > 1 {
			m.masks = append(m.masks, floor.Line{Column: column, Over: over})
			m.maskDrift(l, column, over)
		}
		if over < candidateOverFloor || 2*l.passive > l.frames {
			continue
		}
		m.carriers = append(m.carriers, Line{Frequency: m.o.Centre + l.offset, Power: power, Sigma: sigma, doubt: l.frequencySigma()})
	}
	m.maskImages(rough)
	slices.SortFunc(m.carriers, func(a, b Line) int { return cmp.Compare(b.Power, a.Power) })
	m.carriers = dropSidebands(m.carriers)
	// The DC spike is no carrier, nor is the hum on both sides of it.
	m.carriers = slices.DeleteFunc(m.carriers, func(l Line) bool { return math.Abs(l.Frequency-m.o.Centre) < m.centreNear })
}

// maskDrift adds where a line that drifts has been, bin by bin.
func (m *Meter) maskDrift(l *trackedLine, column, over float64) {
	low, high := l.low/m.chunk.BinWidth()-float64(m.chunk.Lowest), l.high/m.chunk.BinWidth()-float64(m.chunk.Lowest)
	for c := low; c < high+1 && high-low > 0.5; c++ {
		m.masks = append(m.masks, floor.Line{Column: min(c, high), Over: over})
	}
}

// maskImages adds the mirror images of the strongest lines to what is masked:
// also those too weak to be found raise the floor where they fall.
func (m *Meter) maskImages(rough []float64) {
	if !m.mirrors {
		return
	}
	gamma := m.mirror.Gamma
	g := real(gamma)*real(gamma) + imag(gamma)*imag(gamma)
	for i := range m.track.lines {
		l := &m.track.lines[i]
		power, _ := l.mean()
		over := g * power / rough[m.chunk.Column(-l.offset)]
		if over > 0.3 {
			column := -l.offset/m.chunk.BinWidth() - float64(m.chunk.Lowest)
			m.masks = append(m.masks, floor.Line{Column: column, Over: over})
		}
	}
}
