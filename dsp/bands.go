package dsp

import (
	"fmt"
	"math"

	"nightfloor/dsp/envelope"
	"nightfloor/dsp/fft"
	"nightfloor/dsp/floor"
	"nightfloor/dsp/lines"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// A bandState is what is known of one band so far.
type bandState struct {
	spectrum.Band
	floor.Columns
	floor  floor.Estimate
	known  bool   // floor is of the current averages
	free   []bool // by column, of the whole passband
	noise  envelope.Accumulator
	unrest floor.Unrest
}

// resetBands readies the states of the bands for a recording, reusing old ones. It fails for a
// band that is not within the usable passband, with half a bin of grace.
func (m *Meter) resetBands() error {
	low, high := spectrum.Usable(m.o.Rate)
	grace := m.chunk.BinWidth() / 2
	for len(m.bands) < len(m.o.Bands) {
		m.bands = append(m.bands, &bandState{free: make([]bool, m.chunk.Bins)})
	}
	m.bands = m.bands[:len(m.o.Bands)]
	m.within, m.left = floor.Columns{To: m.chunk.Bins}, m.left[:0]
	if m.o.Seek != nil {
		for _, b := range m.o.Seek.Quiet {
			m.left = append(m.left, m.columns(b))
		}
	}
	for i, w := range m.bands {
		b := m.o.Bands[i]
		if !(b.Low < b.High) || b.Low < m.o.Centre+low-grace || b.High > m.o.Centre+high+grace {
			return fmt.Errorf("%w: %.0f–%.0f Hz, passband %.0f–%.0f Hz", ErrOutside,
				b.Low, b.High, m.o.Centre+low, m.o.Centre+high)
		}
		w.Band = b
		w.Columns = m.columns(w.Band)
		w.noise.Reset()
		w.unrest.Reset()
	}
	return nil
}

// columns gives the columns whose middles lie in a band, at least one.
func (m *Meter) columns(b spectrum.Band) floor.Columns {
	s := m.chunk
	from := int(math.Ceil((b.Low-m.o.Centre)/s.BinWidth()-1e-9)) - s.Lowest
	to := int(math.Floor((b.High-m.o.Centre)/s.BinWidth()+1e-9)) - s.Lowest + 1
	from = max(0, min(s.Bins-1, from))
	return floor.Columns{From: from, To: max(from+1, min(s.Bins, to))}
}

// heard gives what the receiver's own filter lets through of the usable passband.
func (m *Meter) heard() spectrum.Band {
	low, high := spectrum.Usable(m.o.Rate)
	b := spectrum.Band{Low: m.o.Centre + low, High: m.o.Centre + high}
	if m.within.From > 0 {
		b.Low = m.o.Centre + m.chunk.Offset(m.within.From)
	}
	if m.within.To < m.chunk.Bins {
		b.High = m.o.Centre + m.chunk.Offset(m.within.To-1)
	}
	return b
}

// leastHeard is the least share of a band that the receiver's filter must let through for its floor to be told: a
// small rest says nothing of it, as in capture.Cover. Chosen; TestBandBeyondTheFilter.
const leastHeard = 0.1

// heardOf gives the columns of a band that the receiver's filter lets through, none where they are too few.
func (m *Meter) heardOf(w *bandState) floor.Columns {
	c := w.Columns.Within(m.within)
	if float64(c.To-c.From) < leastHeard*float64(w.To-w.From) {
		return floor.Columns{}
	}
	return c
}

// findLinesAndFloors finds the lines and floors in the current averages. The masks of
// floor.Levels are tried in turn, from the one that gives lines the most room; a band takes
// the first that leaves enough of it.
func (m *Meter) findLinesAndFloors() {
	rough := m.rough.Of(m.averages.Mean, m.within, m.chunk.BinWidth(), m.averages.Total())
	var lines []floor.Line
	m.carriers, lines = m.lines.Lines(m.chunk, m.averages.Mean, rough, m.o.Centre)
	for _, w := range m.bands {
		w.known = false
	}
	for level := range floor.Levels {
		open := level == 0 && m.seek != nil
		for _, w := range m.bands {
			open = open || !w.known
		}
		if !open {
			break
		}
		m.masker.Mask(m.averages, m.within, lines, level)
		if level == 0 && m.seek != nil {
			// Findings are sought where this first mask is open: sidebands must not count as noise.
			m.masker.Free(m.free, 0, m.chunk.Bins)
		}
		for _, w := range m.bands {
			if !w.known {
				w.measure(m.masker, m.averages, m.heardOf(w), rough)
			}
		}
	}
}

// measure measures the floor of what is heard of a band, if the mask leaves enough of it, and notes the free
// columns.
func (w *bandState) measure(m *floor.Masker, a *spectrum.Averages, heard floor.Columns, rough []float64) {
	if heard == (floor.Columns{}) {
		w.floor, w.known = floor.Estimate{}, true
		clear(w.free)
	} else if f, ok := m.Measure(a, rough, heard.From, heard.To); ok {
		w.floor, w.known = f, true
		m.Free(w.free, heard.From, heard.To)
	}
}

// accumulateEnvelopes adds the envelope of each band's free channels in the current chunk.
func (m *Meter) accumulateEnvelopes(verdicts []spectrum.Verdict) {
	m.skip = m.skip[:0]
	for _, v := range verdicts {
		m.skip = append(m.skip, v != spectrum.Kept)
	}
	for _, w := range m.bands {
		w.noise.Add(m.chunk, w.free, m.skip)
		w.unrest.Add(m.chunk, w.free, m.skip, w.From, w.To)
	}
}

// What lies under the rounding of the arithmetic is neither floor nor carrier. METHODS.md
// 6.6; TestMeterOnSilence.
const (
	silence       = 1e-21 // FS²/Hz, −210 dBFS/Hz: 50 dB under the noise of 24-bit samples
	roundingShare = 1e-13 // of the samples' power, whatever its frequency; single precision errs by 6e-8 of an amplitude
)

// exportBands appends the result of each band.
func (m *Meter) exportBands(out *Measurement) {
	for _, w := range m.bands {
		r := BandResult{Band: w.Band, Spectrum: m.spectrum(w), Occupancy: w.floor.Occupancy}
		heard := m.heardOf(w)
		within := w.Band
		if r.Edge = heard != w.Columns; r.Edge {
			all := m.heard()
			within = spectrum.Band{Low: max(all.Low, w.Low), High: min(all.High, w.High)}
		}
		if heard != (floor.Columns{}) {
			r.Heard = within
			r.Carriers = lines.InBand(m.carriers, within, w.floor.Power, m.rounding())
		}
		if !m.silent(heard) {
			r.Crowded = w.floor.Crowded
			if w.floor.OK && w.floor.Power > m.nothing() {
				r.Floor = m.floorOf(w)
				r.Crowded = r.Crowded || r.Floor == nil
			}
			if vd, width, ok := w.noise.Vd(); ok && r.Floor != nil {
				r.Vd, r.VdWidth = &vd, width
			}
		}
		out.Bands = append(out.Bands, r)
	}
}

// rounding gives the power that rounding may have put into the spectrum, all of it or one line.
func (m *Meter) rounding() float64 { return roundingShare * m.moments.Power() }

// nothing gives the power in one column up to which it is rounding's.
func (m *Meter) nothing() float64 {
	return max(silence, m.rounding()/m.o.Rate) * m.chunk.Resolution()
}

// silent reports whether most of the columns hold nothing: neither noise nor signals
// that hide it.
func (m *Meter) silent(c floor.Columns) bool {
	some, nothing := 0, m.nothing()
	for _, p := range m.averages.Mean[c.From:c.To] {
		if p > nothing {
			some++
		}
	}
	return 2*some < c.To-c.From
}

// floorOf gives a band's floor: the density of its spectrum, corrected for what windows
// weigh unevenly and for frequent bursts (METHODS.md 5.7, 5.8), and its standard error, in
// which the doubt counts whether the frames left out held transients (5.6). It is nil where
// programmes are too much of what is free (5.11).
func (m *Meter) floorOf(w *bandState) *floor.Floor {
	short, certain := m.pulses.Passages.Transient()
	all := m.includesLeftOut()
	course := w.noise.Course(m.chunk, all, m.counted, m.hopsAfterLast())
	programme := 0.0
	if course.BurstFactor >= 1 { // pulses that are set apart are uneven over frequency, too
		var ok bool
		if programme, ok = w.unrest.Programme(&w.floor, course.Variation); !ok {
			return nil
		}
	}
	density := w.floor.Power / m.chunk.Resolution() * course.Evenness
	doubt := stat.OneOfTwo * m.pulses.Passages.Unsure / float64(max(1, m.counted))
	if !certain && short != all {
		share := m.averages.LeftShare(w.free, w.From, w.To)
		if !short {
			share /= 1 + share
		}
		doubt += stat.OneOfTwo * math.Abs(share)
	}
	sigma := math.Hypot(math.Hypot(course.EdgeDoubt, w.floor.Sigma(course.Variation)), math.Hypot(course.BurstDoubt, math.Hypot(doubt, programme)))
	pure := density * course.BurstFactor
	f := &floor.Floor{Density: pure, Quiet: pure, Sigma: stat.SigmaDB(sigma)}
	if course.Quiet > 0 {
		f.Quiet = density * course.Quiet
	}
	return f
}

// hopsAfterLast gives the length of the recording after the last frame, in hops.
func (m *Meter) hopsAfterLast() float64 {
	return max(0, float64(m.samples)/float64(m.chunk.Hop)-float64(m.counted+1))
}

// spectrum gives a copy of a band's averaged spectrum.
func (m *Meter) spectrum(w *bandState) spectrum.PowerSpectrum {
	s := m.chunk
	p := spectrum.PowerSpectrum{
		First: m.o.Centre + s.Offset(w.From), Step: s.BinWidth(), ENBW: fft.HannENBW,
		Looks: float64(m.averages.Total()) / fft.OverlapLoss, Density: make([]float32, w.To-w.From),
	}
	for i := range p.Density {
		p.Density[i] = float32(m.averages.Mean[w.From+i] / s.Resolution())
	}
	return p
}
