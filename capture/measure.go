package capture

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"nightfloor/capture/force"
	"nightfloor/dsp"
	"nightfloor/dsp/codes"
	"nightfloor/dsp/spectrum"
	"nightfloor/survey"
)

// UsablePassband gives the edges of the central two thirds of the sample rate.
func UsablePassband(centre, rate survey.Hz) (low, high survey.Hz) {
	l, h := spectrum.Usable(float64(rate))
	return centre + survey.Hz(l), centre + survey.Hz(h)
}

// leastShare is the share of a segment that a recording must cover for the segment to be
// measured in it: a small rest says nothing of a segment, and other recordings have it.
const leastShare = 0.1

// leastCentre is the lowest centre to which a receiver of the house's kind is tuned. Chosen; long wave
// begins at 148.5 kHz.
const leastCentre survey.Hz = 100e3

// Cover gives the parts of segments that the usable passband covers; without
// segments those of the named bands of region, or the whole passband where no
// band reaches in, cut at 0 Hz but for that of a recording about 0 Hz, which does not tell its centre.
// The error says why nothing can be measured, and refuses a centre under leastCentre whose passband
// reaches below 0 Hz: its unit is wrong.
func Cover(segments []survey.Segment, centre, rate survey.Hz, region survey.Region) ([]survey.Segment, error) {
	if err := dsp.CheckRate(float64(rate)); err != nil {
		return nil, err
	}
	low, high := UsablePassband(centre, rate)
	if len(segments) == 0 {
		within := survey.BandsWithin(low, high, region)
		switch {
		case within[0].Low >= 0 || centre == 0:
		case centre >= leastCentre:
			within = []survey.Segment{survey.SegmentOf(0, high)}
		default:
			return nil, fmt.Errorf("its usable passband %s reaches below 0 Hz; give the true centre with its unit, as --center 9650kHz, or the part to measure with --segment", survey.Edges(low, high, "–"))
		}
		return within, nil
	}
	var out []survey.Segment
	for _, s := range segments {
		if part, share := s.Within(low, high); share >= leastShare {
			out = append(out, part)
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("none of the segments lies in its usable passband %v–%v; name one that does with --segment", low, high)
	}
	return out, nil
}

// Measure streams a recording through the meter and gives a reading of each
// segment (one or more), in their order. They share the findings, which are sought
// over the whole usable passband; region says where amateur bands lie.
func Measure(ctx context.Context, s Source, segments []survey.Segment, region survey.Region) ([]survey.Reading, error) {
	p, err := measure(ctx, s, segments, region)
	if err != nil {
		return nil, err
	}
	return p.readings, nil
}

// measure does what Measure does. Beside the readings it gives the spectrum of the passband, in
// which combs that are found elsewhere can be measured afterwards.
func measure(ctx context.Context, s Source, segments []survey.Segment, region survey.Region) (*heldPassband, error) {
	o := dsp.MeterOptions{Rate: float64(s.Rate), Centre: float64(s.Centre), Samples: s.Samples, Bands: bandsOf(segments), Seek: seekOptions(0, region)}
	meter, err := dsp.NewMeter(o)
	if err != nil {
		return nil, err
	}
	samples, err := s.Open()
	if err != nil {
		return nil, err
	}
	defer samples.Close()
	block := make([]complex64, 1<<15)
	for {
		n, err := samples.Read(block)
		meter.Write(block[:n])
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return nil, err
		}
	}
	m, err := meter.Finish()
	if err != nil {
		return nil, err
	}
	p := newHeardPassband(m, conditions{segments: segments, start: s.Start, centre: s.Centre, rate: s.Rate, gain: s.Gain, dropped: s.Dropped, codes: samples.Codes()})
	combs := p.measureFound(findCombs(p))
	for i := range combs { // of lines and strength the search knows more than the measurement by force
		f, c := &combs[i].finding, combs[i].comb
		f.Lines, f.Strength = c.Lines, decibels(c.Strength)
	}
	return p.hold(combs), nil
}

// The conditions are what a measurement was taken under.
type conditions struct {
	segments []survey.Segment // in the order of the measurement's bands
	start    time.Time
	centre   survey.Hz
	rate     survey.Hz // samples a second
	gain     survey.Gain
	dropped  int64 // samples lost
	codes    *codes.Counter
}

// readingsOf makes one reading for each band of a measurement, in their order, without findings.
func readingsOf(m dsp.Measurement, c conditions) []survey.Reading {
	out := make([]survey.Reading, 0, len(m.Bands))
	for i, b := range m.Bands {
		r := survey.Reading{
			Segment: c.segments[i], Start: c.start, Centre: c.centre, SampleRate: c.rate, Gain: c.gain,
			Duration: time.Duration(float64(m.Samples) / float64(c.rate) * float64(time.Second)),
			BinWidth: survey.Hz(m.BinWidth), Resolution: survey.Hz(m.Resolution),
			Occupancy: b.Occupancy, Spectrum: storedSpectrum(b.Spectrum),
		}
		if b.Edge {
			r.HeardLow, r.HeardHigh = survey.Hz(b.Heard.Low), survey.Hz(b.Heard.High)
		}
		if f := b.Floor; f != nil {
			r.Floor = &survey.Floor{Density: survey.DensityOf(f.Density), Sigma: survey.DB(f.Sigma), Quiet: survey.DensityOf(f.Quiet)}
		}
		if b.Vd != nil {
			vd := survey.DB(*b.Vd)
			r.Vd, r.VdBandwidth = &vd, survey.Hz(b.VdWidth)
		}
		for _, l := range b.Carriers {
			r.Carriers = append(r.Carriers, survey.Carrier{Frequency: survey.Hz(l.Frequency), Power: l.Power, Sigma: l.Sigma, Quiet: l.Quiet, Detected: true})
		}
		r.Quality = quality(m, b, c)
		out = append(out, r)
	}
	return out
}

// quality gathers what speaks against a band's measurement.
func quality(m dsp.Measurement, b dsp.BandResult, c conditions) survey.Quality {
	q := survey.Quality{ClippedShare: c.codes.ClippedShare(), DroppedSamples: c.dropped,
		DC: survey.DBFS(10 * math.Log10(m.DC)), IQImbalance: survey.DB(math.NaN())}
	if m.Imbalance != nil {
		if level, known := m.Imbalance.DBc(); known {
			q.IQImbalance = survey.DB(level)
		}
	}
	floor := math.NaN()
	if b.Floor != nil {
		floor = b.Floor.Density
	}
	for _, f := range []struct {
		name   string
		raised bool
	}{
		{survey.FlagOverload, c.codes.Clipping().Overload(floor, float64(c.rate))},
		{survey.FlagLowDrive, c.codes.LowDrive()},
		{survey.FlagDroppedSamples, c.dropped > 0},
		{survey.FlagCrowded, b.Crowded},
		{survey.FlagShort, m.Short},
		{survey.FlagFilterEdge, b.Edge},
		{survey.FlagLineAtCentre, m.AtCentre && b.Low <= float64(c.centre) && float64(c.centre) <= b.High},
	} {
		if f.raised {
			q.Flags = append(q.Flags, f.name)
		}
	}
	slices.Sort(q.Flags)
	return q
}

// storedBins is the most bins that the spectrum of a recorded reading keeps: a
// night of 28,800 readings then stays within its share of the disk.
const storedBins = 2400

// Coarsen merges neighbouring bins until at most bins are left. A spectrum that
// is short enough is given back as it is; nil stays nil.
func Coarsen(s *survey.Spectrum, bins int) *survey.Spectrum {
	if s == nil || len(s.Density) <= bins {
		return s
	}
	return storedSpectrum(force.Linear(s).Coarser((len(s.Density) + bins - 1) / bins))
}

// storedSpectrum gives a spectrum in dB, as it is stored.
func storedSpectrum(s spectrum.PowerSpectrum) *survey.Spectrum {
	out := &survey.Spectrum{First: survey.Hz(s.First), Step: survey.Hz(s.Step), ENBW: s.ENBW, Looks: s.Looks, Density: make([]float32, len(s.Density))}
	for i, d := range s.Density {
		out.Density[i] = float32(10 * math.Log10(float64(d)))
	}
	return out
}
