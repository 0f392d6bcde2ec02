package dsp

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"nightfloor/dsp/comb"
	"nightfloor/dsp/interference"
	"nightfloor/dsp/spectrum"
)

// FuzzMeter measures any codes at any rate, a band of any place, of an expected length that may
// be wrong. What comes out can be, a meter that is used again gives the same, and combs can be
// sought in it.
func FuzzMeter(f *testing.F) {
	noise := make([]byte, 20_000)
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range noise {
		noise[i] = byte(127.5 + 9*rng.NormFloat64())
	}
	for _, rate := range []float64{leastRate, 11025, 48e3, 250e3, 1.024e6, 3.2e6} {
		f.Add(noise, rate, 9.65e6, -0.2, 0.2, int64(0))
		f.Add(noise[:15_000], rate, 0.0, -0.3, 0.1, int64(10_000))
	}
	f.Fuzz(func(t *testing.T, iq []byte, rate, centre, low, high float64, expected int64) {
		iq = iq[:len(iq)/2*2]
		if rate > 4e6 || math.Abs(centre) > 1e12 || expected < 0 || len(iq) == 0 {
			return
		}
		for len(iq) < 16_000 { // what is short repeats
			iq = append(iq, iq...)
		}
		band := []spectrum.Band{{Low: centre + low*rate, High: centre + high*rate}}
		m, err := NewMeter(MeterOptions{Rate: rate, Centre: centre, Samples: expected, Bands: band, Seek: &interference.Options{}})
		if err != nil {
			return
		}
		m.WriteU8(iq)
		got, err := m.Finish()
		if errors.Is(err, ErrTooShort) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		checkFuzzed(t, got, rate)
		comb.Seek([]*comb.View{got.View}, 1e-3)
		if err := m.Retune(centre, band); err != nil {
			t.Fatal(err)
		}
		m.WriteU8(iq)
		if again, err := m.Finish(); err != nil || !reflect.DeepEqual(again.Bands, got.Bands) || !reflect.DeepEqual(again.Findings, got.Findings) {
			t.Fatalf("again: %+v, %v; at first %+v", again, err, got)
		}
	})
}

// checkFuzzed is what holds of the measurement of any codes.
func checkFuzzed(t *testing.T, m Measurement, rate float64) {
	t.Helper()
	b := m.Bands[0]
	if f := b.Floor; f != nil && !(f.Density > 0 && f.Density*rate < 8 && f.Sigma >= 0 && f.Sigma < 100 && f.Quiet > 0) {
		t.Errorf("floor %+v", *f)
	}
	if b.Vd != nil && !(*b.Vd > -0.01 && *b.Vd < 100) {
		t.Errorf("Vd %v", *b.Vd)
	}
	for _, l := range b.Carriers {
		if !(l.Power > 0 && l.Power < 8 && l.Sigma >= 0) || l.Frequency < b.Low-m.BinWidth || l.Frequency > b.High+m.BinWidth {
			t.Errorf("carrier %+v in %v", l, b.Band)
		}
	}
	if f := m.Findings; f.Mains != nil && !(f.Mains.P >= 0 && f.Mains.P <= 1) || f.Impulses != nil && !(f.Impulses.P >= 0 && f.Impulses.P <= 1) {
		t.Errorf("mains %+v, impulses %+v", f.Mains, f.Impulses)
	}
	for _, h := range m.Findings.Humps {
		if !(h.Low < h.High && h.P >= 0 && h.Strength > 1) {
			t.Errorf("hump %+v", h)
		}
	}
}
