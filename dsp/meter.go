package dsp

import (
	"errors"
	"fmt"
	"math"

	"nightfloor/dsp/comb"
	"nightfloor/dsp/fft"
	"nightfloor/dsp/floor"
	"nightfloor/dsp/interference"
	"nightfloor/dsp/lines"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/transient"
)

// MeterOptions say what is measured.
type MeterOptions struct {
	Rate    float64                      // samples a second
	Centre  float64                      // Hz, the tuned frequency
	Bands   []spectrum.Band              // to be measured, within the usable passband
	Samples int64                        // expected length, by which the frame length is chosen; 0: unknown
	Droop   func(offset float64) float64 // the receiver's power response, nil: flat
	Seek    *interference.Options        // nil: no findings are sought
}

var (
	// ErrOutside is the error for a band outside the usable passband.
	ErrOutside = errors.New("band outside the usable passband")
	// ErrTooShort is the error for a recording shorter than one frame.
	ErrTooShort = errors.New("too short to measure")
	// ErrTooSlow is the error for a sample rate under the least.
	ErrTooSlow = errors.New("sample rate too low to measure")
)

// leastRate is the least sample rate, in samples a second: beside the DC spike the usable two
// thirds must hold the columns that a floor wants. It is 7.8 kHz. METHODS.md 2.7; TestLeastRate.
const leastRate = 1.5 * (2*spectrum.DCGuard + floor.FewestColumns*spectrum.WantedBinWidth)

// CheckRate tells why a sample rate cannot be measured, nil where it can.
func CheckRate(rate float64) error {
	if math.IsInf(rate, 0) || math.IsNaN(rate) {
		return fmt.Errorf("sample rate %v Hz: not a rate", rate)
	}
	if rate < leastRate {
		return fmt.Errorf("%w: of %.6g samples a second the usable two thirds hold too little beside the DC spike; record with %.0f or more",
			ErrTooSlow, rate, leastRate)
	}
	return nil
}

// A Measurement is what a Meter found in one recording.
type Measurement struct {
	BinWidth   float64 // Hz between bins
	Resolution float64 // Hz, equivalent noise bandwidth of a bin
	Samples    int64
	Frames     int              // averaged
	Left       int              // frames left out of the averages, for pulses and short transmissions
	DC         float64          // power of the mean, full-scale units
	AtCentre   bool             // what stands at the centre is more than a DC offset is: perhaps a station's carrier
	Imbalance  *lines.Imbalance // of I and Q; nil without any signal
	Short      bool             // fewer than spectrum.FewestFrames: the averages are poor
	Heard      spectrum.Band    // what the receiver's own filter lets through of the usable passband, Hz
	Bands      []BandResult
	Findings   *interference.Findings // nil where none were sought
	View       *comb.View             // what comb.Seek needs of the recording; nil where no findings were sought
}

// A BandResult is what was found in one band.
type BandResult struct {
	spectrum.Band
	Floor     *floor.Floor  // of what is heard of the band; nil: too little of that is free
	Edge      bool          // the receiver's own filter leaves a part of the band out
	Heard     spectrum.Band // what it lets through; zero: too little to be measured
	Crowded   bool          // so little of the band is free that Floor is nil, or rests on little
	Occupancy float64
	Vd        *float64 // dB, rms over mean of the floor's envelope; nil: no floor, or no free channel
	VdWidth   float64  // Hz, the noise bandwidth Vd was seen in
	Carriers  []lines.Line
	Spectrum  spectrum.PowerSpectrum
}

// A Meter measures one recording after another. Samples stream through it, and it holds one
// chunk of half a second whatever the length of the recording. It is not for concurrent use.
type Meter struct {
	o       MeterOptions
	samples int64
	moments spectrum.Moments
	framer  *fft.Framer
	visit   func(re, im []float32)
	chunk   *spectrum.Spectrogram
	frames  int // of a full chunk
	counted int // frames of the recording so far

	pulses   *transient.Detector
	skip     []bool // frames of the current chunk that are not kept
	bands    []*bandState
	left     []floor.Columns // bands that devices leave out of what they radiate
	edges    floor.EdgeFinder
	within   floor.Columns // what the receiver's own filter lets through
	averages *spectrum.Averages
	power    []float64 // of the chunk by column
	rough    floor.Rough
	lines    lines.Tracker
	masker   *floor.Masker
	carriers []lines.Line

	// Where findings are sought:
	seek  *interference.Detector // nil: they are not
	combs comb.Accumulator
	free  []bool // columns of the passband that no signal takes, as far as is known
}

// NewMeter makes a Meter. It fails where the rate is too low, the expected length is less than
// a frame or a band is not within the usable passband.
func NewMeter(o MeterOptions) (*Meter, error) {
	if err := CheckRate(o.Rate); err != nil {
		return nil, err
	}
	n := spectrum.FrameLength(o.Rate, o.Samples)
	if o.Samples > 0 && o.Samples < int64(n) { // at high rates much memory would be readied for nothing
		return nil, tooShort(o.Samples, n, o.Rate)
	}
	frames := spectrum.FramesInChunk(o.Rate, o.Samples, n)
	m := &Meter{o: o, frames: frames, chunk: spectrum.NewSpectrogram(o.Rate, n, frames), pulses: transient.NewDetector(frames, 2*o.Rate/3)}
	m.framer = fft.NewFramer(fft.Hann(n), n/2)
	m.visit = m.takeFrame
	gain := make([]float64, m.chunk.Bins)
	for b := range gain {
		gain[b] = 1
		if o.Droop != nil {
			gain[b] = 1 / o.Droop(m.chunk.Offset(b))
		}
	}
	m.averages = spectrum.NewAverages(m.chunk.Bins, gain)
	m.power = make([]float64, m.chunk.Bins)
	m.masker = floor.NewMasker(m.chunk)
	if o.Seek != nil {
		m.seek, m.free = interference.NewDetector(*o.Seek, m.chunk), make([]bool, m.chunk.Bins)
	}
	return m, m.resetBands()
}

// tooShort is the error for so many samples where a frame has n.
func tooShort(samples int64, n int, rate float64) error {
	return fmt.Errorf("%w: %d of the %d samples (%.1f ms) that it takes; record for longer", ErrTooShort, samples, n, 1e3*float64(n)/rate)
}

// Retune forgets what was measured and readies the meter for a recording at another centre
// frequency.
func (m *Meter) Retune(centre float64, bands []spectrum.Band) error {
	m.o.Centre, m.o.Bands = centre, bands
	m.samples, m.counted, m.moments = 0, 0, spectrum.Moments{}
	m.framer.Reset()
	m.chunk.Reset()
	m.pulses.Reset()
	m.averages.Reset()
	m.lines.Reset()
	if m.seek != nil {
		m.seek.Reset()
		m.combs.Reset()
		clear(m.free)
	}
	return m.resetBands()
}

// Write takes the next samples, any number.
func (m *Meter) Write(x []complex64) {
	m.samples += int64(len(x))
	m.moments.Add(x)
	m.framer.Write(x, m.visit)
}

// WriteU8 takes the next samples as interleaved 8-bit I/Q, an even number of
// bytes; code c stands for (c − 127.5)/128.
func (m *Meter) WriteU8(iq []byte) {
	m.samples += int64(len(iq) / 2)
	m.moments.AddU8(iq)
	m.framer.WriteU8(iq, m.visit)
}

// takeFrame adds a frame to the chunk; a full chunk is evaluated first.
func (m *Meter) takeFrame(re, im []float32) {
	if m.chunk.Frames == m.frames {
		m.evaluate(false)
	}
	m.chunk.Append(re, im)
	m.pulses.Add(m.chunk.Row(m.chunk.Frames - 1))
}

// evaluate carries the current chunk through all steps and empties it. last says that the
// recording ends with it.
func (m *Meter) evaluate(last bool) {
	s := m.chunk
	verdicts, dropPending := m.pulses.Judge(s.Frames, float64(s.Hop)/s.Rate, last)
	m.averages.ResolvePending(dropPending)
	for f := range s.Frames {
		re, im := s.Row(f)
		m.averages.Add(m.counted+f, re, im, verdicts[f])
	}
	m.averages.CloseChunk(m.power)
	m.averages.Average(m.includesLeftOut())
	if m.counted == 0 || 2*s.Frames >= m.frames { // the rest of a stream may be too short to judge by
		m.within = m.edges.Find(m.averages, s, m.left)
	}
	m.lines.Add(s, m.power, m.rough.Of(m.power, m.within, s.BinWidth(), s.Frames), m.averages.Gain)
	m.findLinesAndFloors()
	all := m.includesLeftOut()
	m.accumulateEnvelopes(verdicts)
	if m.seek != nil {
		m.combs.Add(s, m.averages, m.o.Centre, float64(m.counted)*float64(s.Hop)/s.Rate)
		m.seek.Add(s, m.free, m.within.To-m.within.From, m.averages.Gain, m.counted)
	}
	if last && m.includesLeftOut() != all {
		m.averages.Average(!all)
		m.findLinesAndFloors()
	}
	m.counted += s.Frames
	s.Reset()
}

// includesLeftOut reports whether the frames left out count after all: either they hold
// noise, or bursts are so frequent that the envelope sets them apart better (METHODS.md 5.7).
func (m *Meter) includesLeftOut() bool {
	short, _ := m.pulses.Passages.Transient()
	for _, w := range m.bands {
		if w.noise.Bursts() >= transient.Continuous*m.pulses.Passages.Seconds {
			return true
		}
	}
	return !short
}

// Finish evaluates the rest of the recording and returns its measurement. The meter must be
// retuned before the next Write.
func (m *Meter) Finish() (Measurement, error) {
	if m.chunk.Frames > 0 {
		m.evaluate(true)
	}
	if m.averages.Total() == 0 {
		return Measurement{}, tooShort(m.samples, m.chunk.N, m.o.Rate)
	}
	out := Measurement{
		BinWidth: m.chunk.BinWidth(), Resolution: m.chunk.Resolution(),
		Samples: m.samples, Frames: m.averages.Total(), Left: m.averages.LeftOut(),
		Heard: m.heard(), DC: m.moments.Offset(), Short: m.averages.Total() < spectrum.FewestFrames,
	}
	if b, ok := m.lines.Imbalance(); ok {
		out.Imbalance = &b
	}
	m.exportBands(&out)
	out.AtCentre = m.lineAtCentre(out.Bands)
	if m.seek != nil && m.silent(m.within) {
		out.Findings = &interference.Findings{} // what rounding makes has a pattern of its own
	} else if m.seek != nil {
		out.Findings = m.seek.Findings(m.chunk, m.averages, m.free, m.o.Centre)
		out.View = m.combs.View(m.chunk, m.averages, m.o.Centre, m.o.Seek.Mains, out.Findings.Swing())
	}
	return out, nil
}
