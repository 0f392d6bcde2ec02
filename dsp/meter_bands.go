package dsp

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
)

// A bandWatch is what is known of one band so far.
type bandWatch struct {
	spectrum.Band
	from, to int // columns
	floor    bandFloor
	free     []bool // by column, of the whole passband
	envelope Envelope
	bursts   burstWatch
	views    [2]timeView // of the frames kept, and of all
	frames   float64     // Σ over chunks
}

// A timeView is how a band's noise went in time.
type timeView struct {
	even   evenSums
	bursts burstSums
	// Σ over chunks of their frames times the noise's mean that the envelope's
	// quiet level is against over the mean of the floor's frames.
	pulseless float64
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
		w.views, w.frames = [2]timeView{}, 0
	}
}

// columns gives the columns from…to whose middles lie in a band, at least one.
func (m *Meter) columns(b spectrum.Band) (from, to int) {
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
		open := level == 0 && m.seek != nil
		for _, w := range m.bands {
			open = open || w.floor.level < 0
		}
		if !open {
			break
		}
		mask := m.masker.of(m.averages, m.masks, g.guard)
		if level == 0 && m.seek != nil {
			m.seek.know(mask)
		}
		for _, w := range m.bands {
			if w.floor.level < 0 {
				m.measure(w, mask, level)
			}
		}
	}
}

// listen looks at the envelope of each band's free channels in the chunk in
// hand.
func (m *Meter) listen(verdicts []spectrum.Verdict) {
	start := float64(m.counted) * float64(m.chunk.Hop) / m.chunk.Rate
	m.skip, m.skipNone = m.skip[:0], m.skipNone[:0]
	for _, v := range verdicts {
		m.skip, m.skipNone = append(m.skip, v != spectrum.Kept), append(m.skipNone, false)
	}
	some := slices.Contains(m.skip, true)
	for _, w := range m.bands {
		found := len(w.envelope.Pulses())
		if !w.envelope.AddBut(m.chunk, w.free, m.skip, start) {
			continue
		}
		w.frames += float64(m.chunk.Frames)
		kept := m.view(w, m.skip)
		all := kept
		if some {
			all = m.view(w, m.skipNone)
		}
		if kept.even.moments == 0 {
			kept = all
		}
		// Quiet is against a mean without the pulses that the envelope knows
		// one by one; the floor is without whole frames, or none.
		pulses := w.envelope.Pulses()[found:]
		size := float64(kept.even.size) / w.envelope.filter.Rate(m.chunk)
		known := w.envelope.quietMean(pulses, start+float64(m.chunk.Hop)/m.chunk.Rate, size)
		for i, v := range []*timeView{&kept, &all} {
			v.pulseless = float64(m.chunk.Frames)
			if mean := v.even.mean(); mean > 0 && some {
				v.pulseless *= known / mean
			}
			w.views[i].add(*v, w.envelope.power)
		}
	}
}

// view tells how a band's noise went in the chunk in hand, the frames to skip
// aside.
func (m *Meter) view(w *bandWatch, skip []bool) (v timeView) {
	filter := w.envelope.filter
	rate, half := filter.Rate(m.chunk), len(filter.workRe)/2
	v.even = evenSumsOf(w.envelope.sum, half, blockLength(rate, quietBlock), skip)
	v.bursts = w.bursts.add(w.envelope.sum, rate, w.independent(m.chunk), half, skip)
	return v
}

// add joins the view of a chunk, whose powers are in units of unit.
func (v *timeView) add(c timeView, unit float64) {
	c.even.scale(unit)
	c.bursts.scale(unit)
	v.even.add(c.even)
	v.bursts.add(c.bursts)
	v.pulseless += c.pulseless
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
	strongest := m.mean.Power()
	for _, l := range m.carriers {
		strongest = max(strongest, l.Power)
	}
	return roundingShare * strongest
}

// report fills in what was found in each band.
func (m *Meter) report(out *Measurement) {
	unit := m.chunk.ENBW * m.chunk.BinWidth()
	rounding := m.rounding()
	nothing := max(silence, rounding/m.o.Rate) * unit
	for _, w := range m.bands {
		r := BandResult{Band: w.Band, Spectrum: m.spectrum(w), Occupancy: w.floor.occupancy}
		r.Carriers = carriersIn(m.carriers, w.Band, w.floor.power, rounding)
		if m.silent(w, nothing) {
			out.Bands = append(out.Bands, r)
			continue
		}
		r.Crowded = w.floor.crowded
		if w.floor.ok && w.floor.power > nothing {
			r.Floor = m.floorOf(w)
		}
		if vd, width, ok := w.envelope.Vd(); ok {
			r.Vd, r.VdWidth = &vd, width
		}
		out.Bands = append(out.Bands, r)
	}
}

// silent tells whether most of a band's columns hold no more power than nothing
// does: there is neither noise nor what would crowd it out.
func (m *Meter) silent(w *bandWatch, nothing float64) bool {
	some := 0
	for _, p := range m.averages.Mean[w.from:w.to] {
		if p > nothing {
			some++
		}
	}
	return 2*some < w.to-w.from
}

// floorOf puts together a band's floor: what the spectrum says, evened out over
// time, and the doubt whether what was left out was foreign.
func (m *Meter) floorOf(w *bandWatch) *Floor {
	short, certain := m.pulses.passed.foreign()
	view, everything := &w.views[0], m.everything()
	if everything {
		view = &w.views[1]
	}
	independent := w.independent(m.chunk)
	density := w.floor.power / (m.chunk.ENBW * m.chunk.BinWidth()) * m.evenness(w, view)
	doubt := bothReadings * m.pulses.passed.unsure / float64(max(1, m.counted))
	if !certain && short != everything {
		share := m.averages.LeftShare(w.free, w.from, w.to)
		if !short {
			share /= 1 + share
		}
		doubt += bothReadings * math.Abs(share)
	}
	sigma := math.Hypot(math.Hypot(m.edgeDoubt(w, view), w.sigma(view.even.variation(independent))), math.Hypot(view.bursts.doubt(), doubt))
	pure := density * view.bursts.factor()
	f := &Floor{Density: pure, Quiet: pure, Sigma: decibels(sigma)}
	if ratio, ok := w.envelope.Quiet(); ok {
		f.Quiet = density * ratio * view.pulseless / w.frames
	}
	return f
}

// evenness gives what a band's floor is to be multiplied by for the frames' uneven
// hold on the recording's time.
func (m *Meter) evenness(w *bandWatch, v *timeView) float64 {
	if w.envelope.filter == nil {
		return 1
	}
	half := float64(len(w.envelope.filter.workRe) / 2)
	return v.even.factor(w.independent(m.chunk), half, half*m.beyond())
}

// beyond gives how many hops of the recording lie after the last frame.
func (m *Meter) beyond() float64 {
	return max(0, float64(m.samples)/float64(m.chunk.Hop)-float64(m.counted+1))
}

// edgeDoubt is by how much the mean is in doubt because the noise at both ends is
// taken to be what it is beside: half a hop's at the beginning, and at the end as
// much and what lies beyond.
func (m *Meter) edgeDoubt(w *bandWatch, v *timeView) float64 {
	variation := v.even.variationOfHalves(w.independent(m.chunk))
	return math.Sqrt(variation) * math.Hypot(0.5, 0.5+m.beyond()) / float64(max(1, m.counted))
}

// independent is how many independent powers a moment of the envelope is made
// of: as many as channels, less as their samples come closer than their width
// asks.
func (w *bandWatch) independent(s *spectrum.Spectrogram) float64 {
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
func carriersIn(lines []Line, b spectrum.Band, floor, rounding float64) []Line {
	var in []Line
	for _, l := range lines {
		if l.Frequency < b.Low || l.Frequency > b.High || !(l.Power >= carrierOverFloor*floor) || l.Power <= rounding {
			continue
		}
		l.OverFloor = l.Power / floor
		in = append(in, l)
	}
	slices.SortFunc(in, func(a, b Line) int { return cmp.Compare(a.Frequency, b.Frequency) })
	return in
}

// spectrum gives a copy of a band's averaged spectrum.
func (m *Meter) spectrum(w *bandWatch) spectrum.PowerSpectrum {
	s := m.chunk
	p := spectrum.PowerSpectrum{
		First: m.o.Centre + s.Offset(w.from), Step: s.BinWidth(), ENBW: s.ENBW,
		Looks: float64(m.averages.Total()) / fft.OverlapLoss, Density: make([]float32, w.to-w.from),
	}
	unit := s.ENBW * s.BinWidth()
	for i := range p.Density {
		p.Density[i] = float32(m.averages.Mean[w.from+i] / unit)
	}
	return p
}
