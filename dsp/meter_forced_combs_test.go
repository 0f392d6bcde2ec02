package dsp

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/dsp/comb"
	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/interference"
)

// Combs forced on I/Q without any read zero within the errors stated, also where all of the
// noise swings with the mains, so that its columns correlate.
func TestForcedCombsInIQ(t *testing.T) {
	dsptest.SkipIfShort(t)
	const rate, centre, seconds = 1.6e6, 11.6e6, 0.25
	for name, add := range map[string]func(s *dsptest.Signal){
		"noise": func(s *dsptest.Signal) { s.Noise(1e-9) },
		"mains": func(s *dsptest.Signal) { s.Gated(dsptest.Gated{Mean: 1e-9, Mains: 50, Depth: 0.9}) },
	} {
		var sum, squares, n float64
		for seed := range uint64(24) {
			s := dsptest.New(seed+50, rate, centre)
			add(s)
			iq := s.Samples(rate * seconds)
			m, err := NewMeter(MeterOptions{Rate: rate, Centre: centre, Samples: int64(len(iq)), Seek: &interference.Options{}})
			if err != nil {
				t.Fatal(err)
			}
			m.Write(iq)
			found, err := m.Finish()
			if err != nil {
				t.Fatal(err)
			}
			r := rand.New(rand.NewPCG(seed, 3))
			for range 60 {
				power, sigma, _ := found.View.Lines(comb.Comb{Spacing: 40e3 * math.Exp(r.Float64()), Width: 4 * r.Float64()})
				sum, squares, n = sum+power/sigma, squares+power*power/sigma/sigma, n+1
			}
		}
		// Of 14,500 columns in each of 24 spectra some 700 independent combs: 0.04 of the mean.
		mean, rms := sum/n, math.Sqrt(squares/n)
		t.Logf("%s: mean %+.3f, rms %.3f of %.0f", name, mean, rms, n)
		if math.Abs(mean) > 0.1 || rms < 0.9 || rms > 1.1 {
			t.Errorf("%s: mean %+.3f, rms %.3f of %.0f; want 0 and 1", name, mean, rms, n)
		}
	}
}
