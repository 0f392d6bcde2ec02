package floor

import (
	"math"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/stat"
)

// A Rough guesses by column what noise holds there, to find lines by (METHODS.md 4.1): the
// tenth percentile of the bins ±50 kHz about. It needs no mask, unlike the baseline, which
// averages what a mask leaves and follows the noise over frequency: lines are to be found
// before there is a mask. Buffers are reused.
type Rough struct{ floor, sorted []float64 }

// roughHz is the spacing of the guesses; chosen, as the share that tells them: stations may
// fill nine tenths of 100 kHz.
const (
	roughHz       = 50e3
	roughShare    = 10      // the tenth part
	roughQuantile = -1.2816 // where it stands in a normal distribution, standard deviations
)

// Of gives the guess; power is the mean over so many half-overlapping frames. Columns that are not within
// get the guess of the nearest that is.
func (r *Rough) Of(power []float64, within Columns, binWidth float64, frames int) []float64 {
	if len(r.floor) != len(power) {
		r.floor = make([]float64, len(power))
	}
	// A tenth of noise's averages lie under this part of its mean, 0.105 for a single one.
	part := max(0.1, stat.NoiseQuantile(float64(frames)/fft.OverlapLoss, roughQuantile))
	width := max(16, int(math.Round(roughHz/binWidth)))
	for from := within.From; from < within.To; from += width {
		lo, hi := max(within.From, from-width/2), min(within.To, from+width+width/2)
		r.sorted = append(r.sorted[:0], power[lo:hi]...)
		level := stat.Select(r.sorted, len(r.sorted)/roughShare) / part
		for b := from; b < min(from+width, within.To); b++ {
			r.floor[b] = level
		}
	}
	for b := range power {
		if b < within.From || b >= within.To {
			r.floor[b] = r.floor[max(within.From, min(within.To-1, b))]
		}
	}
	return r.floor
}
