package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
)

// A line is found also where it makes no summit of its own: 1.5 bins (110 Hz at
// 2.4 MS/s) and more from one up to 20 dB stronger, on either side and wherever
// the two fall between bins.
func TestWeakLineByStrongOne(t *testing.T) {
	dsptest.SkipIfShort(t)
	for i, rate := range []float64{1.024e6, 2.4e6} {
		for _, weaker := range []float64{0, 10, 20} {
			s := dsptest.New(50+uint64(i), rate, sceneCentre).Noise(1e-10)
			var weak []float64
			for k, apart := range []float64{110, 130, 150, 170, 200, 250, 300, 400} {
				hz := 9.43e6 + float64(k)*53_017.3
				if k%2 == 1 {
					apart = -apart
				}
				s.Tone(hz, -45, float64(k)).Tone(hz+apart, -45-weaker, 2.5*float64(k))
				weak = append(weak, hz+apart)
			}
			b := measureBand(t, s, 0.5, sceneBand)
			if len(b.Carriers) != 2*len(weak) {
				t.Errorf("%v S/s, %v dB: %d carriers, want %d", rate, weaker, len(b.Carriers), 2*len(weak))
			}
			for _, hz := range weak {
				l, ok := nearestLine(b.Carriers, hz)
				// −65 dBFS over −100 dBFS/Hz in the 16 Hz gathered: 23 dB; its
				// standard error in half a second, √(2·1e-10·1.4/0.5/10^−6.5), is
				// 1.3 % or 0.06 dB. Four of those and as much for what is left of
				// the strong line.
				if e := 10*math.Log10(l.Power) + 45 + weaker; !ok || math.Abs(e) > 0.5 || math.Abs(l.Frequency-hz) > 0.5 {
					t.Errorf("%v S/s, %v dB weaker at %.1f Hz: %.2f dB, %.2f Hz off, found %v", rate, weaker, hz, e, l.Frequency-hz, ok)
				}
			}
		}
	}
}

// Hum on a carrier, 100 Hz on either side and up to 20 dB down, is no line near
// a strong one; nor is anything that fading leaves of a line 60 dB over the noise.
func TestNothingBesideStrongLines(t *testing.T) {
	s := dsptest.New(60, 1.024e6, sceneCentre).Noise(1e-10)
	for k := range 8 {
		s.Station(dsptest.Station{Hz: 9.42e6 + float64(k)*53_017.3, Level: -25, Depth: 0.04 * float64(1+k), Tone: 100})
		s.Station(dsptest.Station{Hz: 9.44e6 + float64(k)*53_017.3, Level: -35, Doppler: 0.25 * float64(1+k)})
	}
	if b := measureBand(t, s, 0.5, sceneBand); len(b.Carriers) != 16 {
		t.Errorf("%d carriers, want 16: %v", len(b.Carriers), b.Carriers)
	}
}

// A line near the centre is a carrier, from 50 Hz on, with and without a DC
// spike; its image and hum on the spike are not.
func TestLinesNearCentre(t *testing.T) {
	for _, dc := range []complex128{0, 0.01} {
		for _, offset := range []float64{50, -150, 300, -600, 900} {
			s := dsptest.New(61, 1.024e6, sceneCentre).Noise(1e-10).DC(dc).Imbalance(0.01)
			s.Tone(sceneCentre+offset, -50, 1).Tone(9.55e6, -20, 0)
			b := measureBand(t, s, 0.5, sceneBand)
			l, ok := nearestLine(b.Carriers, sceneCentre+offset)
			if e := 10*math.Log10(l.Power) + 50; !ok || len(b.Carriers) != 2 || math.Abs(e) > 0.2 {
				t.Errorf("offset of %v, %v Hz: %.2f dB, %v", dc, offset, e, b.Carriers)
			}
		}
	}
	s := dsptest.New(62, 1.024e6, sceneCentre).Noise(1e-10).DC(0.02)
	for _, hum := range []float64{50, 100, 300} {
		s.Tone(sceneCentre+hum, -70, 1).Tone(sceneCentre-hum, -70, 2)
	}
	if b := measureBand(t, s, 0.5, sceneBand); len(b.Carriers) != 0 {
		t.Errorf("hum on the spike: %v", b.Carriers)
	}
}
