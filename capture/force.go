package capture

import (
	"math"

	"nightfloor/dsp/spectrum"
	"nightfloor/survey"
)

// MeasureForced measures lines at frequencies in the reading's spectrum, whether they
// can be told from the noise or not, and appends them to its carriers. It does
// nothing for a reading without floor or spectrum.
func MeasureForced(r *survey.Reading, frequencies []survey.Hz) {
	if r.Floor == nil || r.Spectrum == nil || len(frequencies) == 0 {
		return
	}
	spectrum := powerSpectrum(r.Spectrum)
	floor := r.Floor.Density.Linear()
	for _, f := range frequencies {
		power, sigma := spectrum.Line(float64(f), floor)
		if math.IsNaN(power) || math.IsNaN(sigma) {
			continue
		}
		r.Carriers = append(r.Carriers, survey.Carrier{Frequency: f, Power: power, Sigma: sigma})
	}
}

// powerSpectrum gives a stored spectrum in linear density.
func powerSpectrum(s *survey.Spectrum) spectrum.PowerSpectrum {
	linear := make([]float32, len(s.Density))
	for i, d := range s.Density {
		linear[i] = float32(math.Exp(float64(d) * (math.Ln10 / 10))) // a fifth of the time of 10^x
	}
	return spectrum.PowerSpectrum{First: float64(s.First), Step: float64(s.Step), ENBW: s.ENBW, Looks: s.Looks, Density: linear}
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
	return storedSpectrum(powerSpectrum(s).Coarser((len(s.Density) + bins - 1) / bins))
}

// storedSpectrum gives a spectrum in dB, as it is stored.
func storedSpectrum(s spectrum.PowerSpectrum) *survey.Spectrum {
	out := &survey.Spectrum{First: survey.Hz(s.First), Step: survey.Hz(s.Step), ENBW: s.ENBW, Looks: s.Looks, Density: make([]float32, len(s.Density))}
	for i, d := range s.Density {
		out.Density[i] = float32(10 * math.Log10(float64(d)))
	}
	return out
}
