package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
)

// A station exactly opposite a strong one keeps its level where the imbalance is
// known, though the strong one's image is as strong and adds up in phase.
func TestLevelOppositeStrongLine(t *testing.T) {
	dsptest.SkipIfShort(t)
	for seed := range uint64(4) {
		for _, weaker := range []float64{10, 20, 30} {
			s := dsptest.New(90+seed, 1.024e6, sceneCentre).Noise(1e-10).Imbalance(0.02 + 0.015i) // −32 dBc
			for k := range 6 {
				s.Tone(9.5103e6+float64(k)*17_311, -40, float64(k))
			}
			s.Tone(sceneCentre+100_003, -30, 0).Tone(sceneCentre-100_003, -30-weaker, 1.5*float64(seed))
			b := measureBand(t, s, 0.5, sceneBand)
			l, ok := nearestLine(b.Carriers, sceneCentre-100_003)
			e := 10*math.Log10(l.Power) + 30 + weaker
			// In half a second the noise's part of a line of −60 dBFS is
			// √(2·1e-10·1.4/0.5/1e-6), 2.4 % or 0.10 dB; the imbalance, known to
			// 2e-4 by lines 60 dB over the noise in a bin, is in doubt by
			// 2·2e-4/10^−1.5, 1.3 % or 0.06 dB. Unmended, the image of equal
			// strength is off by up to +6 dB.
			if sigma := 4.34 * l.Sigma / l.Power; !ok || sigma > 0.2 || math.Abs(e) > 4*sigma {
				t.Errorf("seed %d, %v dB weaker: %.2f dB off, sigma %.3f, found %v", seed, weaker, e, sigma, ok)
			}
		}
	}
}
