package spectrum

import (
	"math"
	"slices"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/stat"
)

// A PowerSpectrum is the averaged spectrum of a band.
type PowerSpectrum struct {
	First   float64 // Hz, absolute: the middle of the first bin
	Step    float64 // Hz between bins
	ENBW    float64 // equivalent noise bandwidth of the transform behind it, in steps: 1.5 for Hann; less where bins were merged
	Looks   float64 // independent averages in each bin, METHODS.md 1.3
	Density []float32
}

// The forced measurement of a line, METHODS.md 7.1. TestForcedLineOnNothing and
// TestForcedLineOnLines.
const (
	lineReach       = 2.0    // bins on either side of the line: Hann's main lobe
	noiseFrom       = 3.0    // bins from the line from which the noise beside it is taken,
	noiseTo         = 12.0   // and up to which: within sidebands of speech, so that these are subtracted
	storedStepSigma = 0.0066 // relative, of a spectrum stored in steps of 0.1 dB: 0.1/√12 dB [Bennett:1948, pp. 446-472]
)

// mergedBins gives the number of transform bins in one of the spectrum's.
func (s PowerSpectrum) mergedBins() int { return max(1, int(math.Round(1.5/s.ENBW))) }

// response gives the mean power response of a bin to a line away transform bins from its
// middle (METHODS.md 7.2).
func (s PowerSpectrum) response(away float64) float64 {
	r := s.mergedBins()
	var sum float64
	for k := range r {
		sum += fft.HannPower(away + float64(k) - float64(r-1)/2)
	}
	return sum / float64(r)
}

// Coarser merges n bins into one.
func (s PowerSpectrum) Coarser(n int) PowerSpectrum {
	if n <= 1 {
		return s
	}
	out := PowerSpectrum{
		First: s.First + s.Step*float64(n-1)/2, Step: s.Step * float64(n), ENBW: s.ENBW / float64(n),
		Density: make([]float32, len(s.Density)/n),
	}
	var pairsIn float64 // Σ of the correlations between n neighbours, METHODS.md 3.3
	for d := -(n - 1); d < n; d++ {
		pairsIn += float64(n-max(d, -d)) * fft.BinCorrelation(d)
	}
	out.Looks = s.Looks * float64(n*n) / pairsIn
	for i := range out.Density {
		var sum float32
		for _, v := range s.Density[i*n : (i+1)*n] {
			sum += v
		}
		out.Density[i] = sum / float32(n)
	}
	return out
}

// Line measures the line at frequency f in Hz whether there is one or not: the power in the
// bins that a line there would fill, less the noise beside it, by the filter matched to
// Hann's response [North:1963, pp. 1016-1027].
// The noise is the median of the bins from noiseFrom to noiseTo on both sides, its bias
// removed, so that sidebands are not taken for the line; where the spectrum's edge leaves
// too few of them it is floor, a density. Without a line the power scatters about zero with
// the standard error quiet and is often negative; sigma is that of what was measured, which
// a line widens. Outside the spectrum all are NaN. METHODS.md 7.1.
func (s PowerSpectrum) Line(f, floor float64) (power, sigma, quiet float64) {
	scale := float64(s.mergedBins()) // steps to transform bins
	x := (f - s.First) / s.Step
	if !(x >= -0.5 && x <= float64(len(s.Density))-0.5) {
		return math.NaN(), math.NaN(), math.NaN()
	}
	unit := s.ENBW * s.Step // Hz: power of a line per density
	reach := max(0.75, lineReach/scale)
	from, to := max(0, int(math.Ceil(x-reach))), min(len(s.Density)-1, int(math.Floor(x+reach)))
	noise, noiseVar := s.noiseAround(x, floor)
	var top, bottom, weight float64
	var h [8]float64
	n := 0
	for k := from; k <= to && n < len(h); k++ {
		h[n] = s.response((float64(k) - x) * scale)
		top += h[n] * (float64(s.Density[k]) - noise)
		bottom += h[n] * h[n]
		weight += h[n]
		n++
	}
	if bottom == 0 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	density := top / bottom
	local := noiseVar * weight * weight / (bottom * bottom)
	quiet = math.Sqrt(s.lineVariance(h[:n], bottom, 0, noise) + local)
	sigma = quiet
	// Noise that looks like a line must not widen the error: only what exceeds two standard
	// errors counts as a line.
	if line := density - 2*quiet; line > 0 {
		sigma = math.Sqrt(s.lineVariance(h[:n], bottom, line, noise) + local)
	}
	return density * unit, sigma * unit, quiet * unit
}

// lineVariance gives the variance of Σh·S/Σh²: of the noise, of noise times line, and of the
// steps of a stored spectrum.
func (s PowerSpectrum) lineVariance(h []float64, bottom, line, noise float64) float64 {
	var sum float64
	for i := range h {
		for j := range h {
			c := 0.0
			if s.mergedBins() == 1 {
				c = fft.BinCorrelation(i - j)
			} else if i == j {
				c = 1
			}
			own := noise * noise * c
			// Noise times line: 2·P·N. The noise amplitudes of neighbouring frames correlate by
			// 1/6, so that K frames are worth K/(1 + 2/6) here [Welch:1967, pp. 70-73].
			cross := 2 * line * noise * math.Sqrt(h[i]*h[j]*c) * (1 + 2.0/6) / fft.OverlapLoss
			sum += h[i] * h[j] * (own + cross) / s.Looks
		}
		step := h[i] * storedStepSigma * (noise + line*h[i])
		sum += step * step
	}
	return sum / (bottom * bottom)
}

// noiseAround gives the noise beside bin x (fractional) and its variance.
func (s PowerSpectrum) noiseAround(x, floor float64) (noise, variance float64) {
	scale := float64(s.mergedBins())
	near, far := max(1.5, noiseFrom/scale), max(5.5, noiseTo/scale)
	var buf [32]float64
	got := buf[:0]
	for k := int(math.Ceil(x - far)); k <= int(math.Floor(x+far)) && len(got) < len(buf); k++ {
		if k < 0 || k >= len(s.Density) || math.Abs(float64(k)-x) < near {
			continue
		}
		got = append(got, float64(s.Density[k]))
	}
	if len(got) < 4 {
		return floor, 0
	}
	slices.Sort(got)
	n := len(got)
	median := (got[(n-1)/2] + got[n/2]) / 2
	noise = median / stat.NoiseQuantile(s.Looks, 0)
	// A median has π/2 times the variance of a mean [Mosteller:1946, pp. 377-408]; neighbours
	// correlate.
	variance = noise * noise / s.Looks * math.Pi / 2 / float64(n)
	if s.mergedBins() == 1 {
		variance *= fft.BinExcess
	}
	return noise, variance
}
