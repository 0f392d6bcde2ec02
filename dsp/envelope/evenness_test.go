package envelope

import (
	"math"
	"testing"
)

// Frames weigh noise that goes with the mains unevenly; with the factor, the floor is the mean
// by time, but for what lies at both ends, where a half frame is hardly weighed at all.
func TestEvennessOfBursts(t *testing.T) {
	const half, frames, rate = 128, 58, 15e3 // half frames of 8.5 ms, half a second
	for _, hz := range []float64{100, 120} {
		var raw, corrected float64
		const phases = 50
		for k := range phases {
			power := make([]float64, (frames+1)*half)
			for i := range power {
				power[i] = 0.1
				if _, part := math.Modf(hz*float64(i)/rate + float64(k)/phases); part < 0.3 {
					power[i] = 1
				}
			}
			var sum, weighed, weights float64
			for i, p := range power {
				sin, cos := math.Sincos(math.Pi / 2 * (float64(i%half) + 0.5) / half)
				w := 0.0
				if i >= half { // the frame that began half a frame before
					w += cos * cos * cos * cos
				}
				if i < frames*half {
					w += sin * sin * sin * sin
				}
				sum, weighed, weights = sum+p, weighed+w*p, weights+w
			}
			mean, floor := sum/float64(len(power)), weighed/weights
			e := evennessOf(power[half:len(power)-half], half, 15, make([]bool, frames+1))
			raw += math.Pow(floor/mean-1, 2) / phases
			corrected += math.Pow(floor*e.factor(1e6, half, 0)/mean-1, 2) / phases
		}
		t.Logf("%v Hz: errs by %.4f, corrected by %.4f", hz, math.Sqrt(raw), math.Sqrt(corrected))
		// 0.45 hops of 58 times a standard deviation of 1.1 times the mean, computed.
		if corrected > raw/2 || math.Sqrt(corrected) > 0.009 {
			t.Errorf("%v Hz: errs by %.4f, corrected by %.4f", hz, math.Sqrt(raw), math.Sqrt(corrected))
		}
	}
}
