package capture

import (
	"math"
	"slices"
	"time"

	"nightfloor/dsp"
	"nightfloor/dsp/spectrum"
	"nightfloor/survey"
)

// Conditions are what a measurement was taken under.
type Conditions struct {
	Segments   []survey.Segment // in the order of the measurement's bands
	Start      time.Time
	Centre     survey.Hz
	SampleRate survey.Hz
	Gain       survey.Gain
	Dropped    int64 // samples lost
	Codes      *spectrum.CodeCounter
}

// Readings makes a reading of each band of a measurement.
func Readings(m dsp.Measurement, c Conditions) []survey.Reading {
	out := make([]survey.Reading, 0, len(m.Bands))
	for i, b := range m.Bands {
		r := survey.Reading{
			Segment: c.Segments[i], Start: c.Start, Centre: c.Centre, SampleRate: c.SampleRate, Gain: c.Gain,
			Duration: time.Duration(float64(m.Samples) / float64(c.SampleRate) * float64(time.Second)),
			BinWidth: survey.Hz(m.BinWidth), Resolution: survey.Hz(m.Resolution),
			Occupancy: b.Occupancy, Spectrum: storedSpectrum(b.Spectrum),
		}
		if f := b.Floor; f != nil {
			r.Floor = &survey.Floor{Density: survey.DensityOf(f.Density), Sigma: survey.DB(f.Sigma), Quiet: survey.DensityOf(f.Quiet)}
		}
		if b.Vd != nil {
			vd := survey.DB(*b.Vd)
			r.Vd, r.VdBandwidth = &vd, survey.Hz(b.VdWidth)
		}
		for _, l := range b.Carriers {
			r.Carriers = append(r.Carriers, survey.Carrier{Frequency: survey.Hz(l.Frequency), Power: l.Power, Sigma: l.Sigma, Detected: true})
		}
		r.Quality = quality(m, b, c)
		out = append(out, r)
	}
	return out
}

// quality gathers what speaks against a band's measurement.
func quality(m dsp.Measurement, b dsp.BandResult, c Conditions) survey.Quality {
	q := survey.Quality{ClippedShare: c.Codes.ClippedShare(), DroppedSamples: c.Dropped,
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
		{survey.FlagOverload, c.Codes.Clipping().Overload(floor, float64(c.SampleRate))},
		{survey.FlagLowDrive, c.Codes.LowDrive()},
		{survey.FlagDroppedSamples, c.Dropped > 0},
		{survey.FlagCrowded, b.Crowded},
		{survey.FlagShort, m.Short},
	} {
		if f.raised {
			q.Flags = append(q.Flags, f.name)
		}
	}
	slices.Sort(q.Flags)
	return q
}
