package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
)

// A carrier that fades within the recording has its mean power over the
// recording's time, not that of its middle.
func TestLevelOfFadingLine(t *testing.T) {
	dsptest.SkipIfShort(t)
	const rate = 250e3
	for _, seconds := range fewerIfShort(1, []float64{0.5, 1}) {
		var sum, squares, n float64
		for seed := range uint64(20) {
			x := dsptest.New(80+seed, rate, sceneCentre).Noise(1e-10).Samples(int(seconds * rate))
			truth := map[float64]float64{}
			for k := range 5 {
				hz := sceneCentre + 15_013 + 12_000*float64(k)
				own := dsptest.New(1000*seed+uint64(k), rate, sceneCentre)
				own.Station(dsptest.Station{Hz: hz, Level: -50, Doppler: 1.5})
				for i, v := range own.Samples(len(x)) {
					x[i] += v
					truth[hz] += (float64(real(v))*float64(real(v)) + float64(imag(v))*float64(imag(v))) / float64(len(x))
				}
			}
			b := measureIQ(t, rate, x, narrowBand)
			for hz, p := range truth {
				l, ok := nearestLine(b.Carriers, hz)
				if !ok {
					t.Errorf("seed %d: nothing at %.0f Hz", seed, hz)
					continue
				}
				e := 10 * math.Log10(l.Power/p)
				sum, squares, n = sum+e, squares+e*e, n+1
			}
		}
		mean, rms := sum/n, math.Sqrt(squares/n)
		t.Logf("%v s: mean %.3f dB, rms %.3f dB, of %.0f", seconds, mean, rms, n)
		// Of half a second the ramps and the outermost half frames leave 5 % out of
		// the mean on either side. A Rayleigh power varies by its own mean,
		// independently at both ends: 0.05·√2 of the power, 0.3 dB, and more in
		// dB where the mean is low. Of 100 the mean is within 3·0.04 dB.
		if math.Abs(mean) > 0.15 || rms > 0.5 {
			t.Errorf("%v s: mean %.3f dB, rms %.3f dB, of %.0f", seconds, mean, rms, n)
		}
	}
}
