package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
)

// Two weaker stations next to a third on the raster, each a few hertz off its
// frequency, are carriers though they stand about it in a pair of equal level.
func TestNeighboursOnTheRasterAreCarriers(t *testing.T) {
	for _, off := range []float64{2, 4, 6, 10} {
		s := dsptest.New(31, 1.024e6, sceneCentre).Noise(1e-10)
		s.Tone(9.75e6, -40, 0).Tone(9.755e6+off, -50, 1).Tone(9.745e6-off+1, -50.5, 2)
		if b := measureBand(t, s, 0.5, sceneBand); len(b.Carriers) != 3 {
			t.Errorf("%v Hz off: %d carriers, want 3: %v", off, len(b.Carriers), b.Carriers)
		}
	}
}

// Off the raster the phases tell: lines 1 Hz from being each other's mirror
// images turn by half a turn in half a second; those of a modulated carrier do
// not turn, also where fading makes them unequal.
func TestPairsThatTurnAreCarriers(t *testing.T) {
	for _, test := range []struct {
		turn, unequal float64
		want          int
	}{{0, 0, 1}, {0, 2.5, 1}, {0, 4, 1}, {1, 0, 3}, {-1, 2, 3}, {4, 0, 3}} {
		s := dsptest.New(32, 1.024e6, sceneCentre).Noise(1e-10)
		s.Tone(9.7512e6, -40, 0)
		s.Tone(9.7522e6+test.turn, -52+test.unequal/2, 1).Tone(9.7502e6, -52-test.unequal/2, 2)
		if b := measureBand(t, s, 0.5, sceneBand); len(b.Carriers) != test.want {
			t.Errorf("turning %v Hz, %v dB unequal: %d carriers, want %d: %v", test.turn, test.unequal, len(b.Carriers), test.want, b.Carriers)
		}
	}
}

// A carrier that fades takes its sidebands with it: they stay a pair.
func TestSidebandsOfFadingStations(t *testing.T) {
	dsptest.SkipIfShort(t)
	for seed := range uint64(4) {
		s := dsptest.New(40+seed, 1.024e6, sceneCentre).Noise(1e-10)
		for k := range 8 {
			s.Station(dsptest.Station{Hz: 9.42e6 + float64(k)*50e3, Level: -40, Depth: 0.5, Tone: 400 + 100*float64(k), Doppler: 1})
		}
		for _, l := range measureBand(t, s, 0.5, sceneBand).Carriers {
			// A carrier's power stands within ±5 Hz of its frequency.
			if away := math.Remainder(l.Frequency-9.42e6, 50e3); math.Abs(away) > 5 {
				t.Errorf("seed %d: a sideband at %.1f Hz from its carrier", seed, away)
			}
		}
	}
}
