package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/spectrum"
)

// The half frames at both ends of a recording count less, so that bursts there do: in a
// tenth of a second the standard error is mostly that (METHODS.md 5.8). It must be about
// as large as the errors are. White noise of density d has the power d times the rate.
func TestErrorOfBurstsAtTheEnds(t *testing.T) {
	const rate, readings = 1.024e6, 32
	pulls, seed := 0.0, seeds()
	for i := range uint64(readings) {
		x := dsptest.New(seed+i, rate, sceneCentre).Gated(dsptest.Gated{Mean: 1e-9, Mains: 60, Duty: 0.3, Between: -20,
			Phase: float64(i) / readings}).Samples(rate / 10)
		meter, err := NewMeter(MeterOptions{Rate: rate, Centre: sceneCentre, Samples: int64(len(x)), Bands: []spectrum.Band{{Low: 9.4e6, High: 9.9e6}}})
		if err != nil {
			t.Fatal(err)
		}
		meter.Write(x)
		m, err := meter.Finish()
		if err != nil {
			t.Fatal(err)
		}
		power := 0.0
		for _, v := range x {
			power += float64(real(v)*real(v) + imag(v)*imag(v))
		}
		f := m.Bands[0].Floor
		pull := 10 * math.Log10(f.Density*rate*float64(len(x))/power) / f.Sigma
		pulls += pull * pull / readings
	}
	if rms := math.Sqrt(pulls); rms < 0.6 || rms > 1.6 {
		t.Errorf("errors of %.2f standard errors", rms)
	} else {
		t.Logf("errors of %.2f standard errors", rms)
	}
}
