package dsp

import (
	"math"
	"slices"
)

// A bandWatch is what is known of one band so far.
type bandWatch struct {
	Band
	from, to int // columns
	floor    bandFloor
	free     []bool // by column, of the whole passband
	envelope Envelope
	even     evenness
	bursts   burstWatch
	// Σ over chunks of their frames, and of these times the noise's mean that
	// the envelope's quiet level is against over the mean of the floor's frames.
	frames, pulseless float64
}

// watch readies the watches of the bands, reusing old ones.
func (m *Meter) watch() {
	for len(m.bands) < len(m.o.Bands) {
		m.bands = append(m.bands, &bandWatch{free: make([]bool, m.chunk.Bins)})
	}
	m.bands = m.bands[:len(m.o.Bands)]
	for i, w := range m.bands {
		w.Band = m.o.Bands[i]
		w.from, w.to = m.columns(w.Band)
		w.envelope.Reset()
		w.even, w.frames, w.pulseless = evenness{}, 0, 0
		w.bursts.reset()
	}
}

// columns gives the columns from…to whose middles lie in a band, at least one.
func (m *Meter) columns(b Band) (from, to int) {
	s := m.chunk
	from = int(math.Ceil((b.Low-m.o.Centre)/s.BinWidth()-1e-9)) - s.Lowest
	to = int(math.Floor((b.High-m.o.Centre)/s.BinWidth()+1e-9)) - s.Lowest + 1
	from = max(0, min(s.Bins-1, from))
	return from, max(from+1, min(s.Bins, to))
}

// judge finds the lines and floors of all that was averaged so far.
func (m *Meter) judge() {
	m.linesFound()
	for _, w := range m.bands {
		w.floor.level = -1
	}
	for level, g := range guards {
		open := false
		for _, w := range m.bands {
			open = open || w.floor.level < 0
		}
		if !open {
			break
		}
		mask := m.masker.of(m.averages, m.masks, g.guard)
		for _, w := range m.bands {
			if w.floor.level < 0 {
				m.measure(w, mask, level)
			}
		}
	}
}

// listen looks at the envelope of each band's free channels in the chunk in
// hand.
func (m *Meter) listen(struck []bool) {
	start := float64(m.counted) * float64(m.chunk.Hop) / m.chunk.Rate
	for _, w := range m.bands {
		found := len(w.envelope.Pulses())
		if !w.envelope.Add(m.chunk, w.free, start) {
			continue
		}
		filter := w.envelope.filter
		rate := filter.Rate(m.chunk)
		size := blockLength(rate, quietBlock)
		mean := w.even.add(w.envelope.sum, len(filter.workRe)/2, size, struck)
		w.bursts.add(w.envelope.sum, rate, w.independent(m.chunk), len(filter.workRe)/2, struck)
		weight := float64(m.chunk.Frames)
		w.frames += weight
		if mean > 0 && slices.Contains(struck, true) {
			// Quiet is against a mean without the pulses that the envelope
			// knows one by one; the floor is without whole frames.
			pulses := w.envelope.Pulses()[found:]
			known := w.envelope.meanWithout(pulses, start+float64(m.chunk.Hop)/m.chunk.Rate, float64(size)/rate)
			weight *= known / mean
		}
		w.pulseless += weight
	}
}

// What lies under the rounding of our own arithmetic is neither floor nor
// carrier: silence is the density (FS²/Hz) of nothing at all, −210 dBFS/Hz, 50 dB
// under the noise of 24-bit samples; beside an offset or a line, single precision
// (6e-8 of an amplitude) leaves up to roundingShare of its power.
const (
	silence       = 1e-21
	roundingShare = 1e-13
)

// rounding gives the power that rounding may have put into the whole spectrum.
func (m *Meter) rounding() float64 {
	strongest := m.mean.power()
	for _, l := range m.carriers {
		strongest = max(strongest, l.Power)
	}
	return roundingShare * strongest
}

// report fills in what was found in each band.
func (m *Meter) report(out *Measurement) {
	unit := m.chunk.ENBW * m.chunk.BinWidth()
	rounding := m.rounding()
	for _, w := range m.bands {
		r := BandResult{Band: w.Band, Spectrum: m.spectrum(w), Occupancy: w.floor.occupancy, Crowded: w.floor.crowded}
		r.Carriers = carriersIn(m.carriers, w.Band, w.floor.power, rounding)
		if w.floor.ok && w.floor.power/unit > max(silence, rounding/m.o.Rate) {
			independent := w.independent(m.chunk)
			density := w.floor.power / unit * w.even.factor(independent)
			sigma := math.Hypot(w.sigma(w.even.variation(independent)), w.bursts.doubt())
			pure := density * w.bursts.factor()
			r.Floor = &Floor{Density: pure, Quiet: pure, Sigma: decibels(sigma)}
			if ratio, ok := w.envelope.Quiet(); ok {
				r.Floor.Quiet = density * ratio * w.pulseless / w.frames
			}
		}
		if vd, width, ok := w.envelope.Vd(); ok {
			r.Vd, r.VdWidth = &vd, width
		}
		out.Bands = append(out.Bands, r)
	}
}

// independent is how many independent powers a moment of the envelope is made
// of: as many as channels, less as their samples come closer than their width
// asks.
func (w *bandWatch) independent(s *Spectrogram) float64 {
	f := w.envelope.filter
	if f == nil {
		return 1
	}
	return float64(len(w.envelope.firsts)) * f.Width(s) / f.Rate(s)
}

// edgeShare is by how much the mean is in doubt because the half frames at both
// ends count less: in standard deviations of the noise's power over time, times
// the share of one hop in the recording. Bursts of 0.3 duty, 120 a second at any
// phase, gave 0.21 over 100 simulated readings.
const edgeShare = 0.22

// sigma gives the relative standard error of the floor, variation being that of
// the noise's power over time: the variance of the mean of noise of power p(t)
// is mean(p²)/mean(p)² times that of steady noise.
func (w *bandWatch) sigma(variation float64) float64 {
	edge := edgeShare / float64(max(1, w.floor.frames))
	return math.Sqrt(w.floor.variance*max(w.floor.inflation, 1+variation) + variation*edge*edge)
}

// carriersIn gives the lines of a band that stand carrierOverFloor over its
// floor (power in one bin), by frequency.
func carriersIn(lines []Line, b Band, floor, rounding float64) []Line {
	var in []Line
	for _, l := range lines {
		if l.Frequency < b.Low || l.Frequency > b.High || !(l.Power >= carrierOverFloor*floor) || l.Power <= rounding {
			continue
		}
		l.OverFloor = l.Power / floor
		in = append(in, l)
	}
	slices.SortFunc(in, func(a, b Line) int { return cmpFloat(a.Frequency, b.Frequency) })
	return in
}

// spectrum gives a copy of a band's averaged spectrum.
func (m *Meter) spectrum(w *bandWatch) PowerSpectrum {
	s := m.chunk
	p := PowerSpectrum{
		First: m.o.Centre + s.Offset(w.from), Step: s.BinWidth(), ENBW: s.ENBW,
		Looks: float64(m.averages.total()) / overlapLoss, Density: make([]float32, w.to-w.from),
	}
	unit := s.ENBW * s.BinWidth()
	for i := range p.Density {
		p.Density[i] = float32(m.averages.all[w.from+i] / unit)
	}
	return p
}
