package dsp

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/dsp/comb"
	"nightfloor/dsp/dsptest"
)

// modulationRate is a sample rate at which half a second of a comb is made in a fifth of the time
// that 2.4 MS/s takes; its bins are 62.5 Hz wide.
const modulationRate, beatCentre = 1.024e6, 9.65115e6

// modulatedCombs gives the combs found in half a second, each view of one moment.
func modulatedCombs(t *testing.T, signals ...*dsptest.Signal) []comb.Comb {
	t.Helper()
	var views []*comb.View
	for _, s := range signals {
		views = append(views, viewOf(t, s))
	}
	return comb.Seek(views, certain)
}

// inModulationBin is inBin at modulationRate: 1.5 bins of 62.5 Hz.
func inModulationBin(db float64) float64 { return -100 + 10*math.Log10(1.5*62.5) + db }

// modulatedComb is a comb of some 18 lines in view.
func modulatedComb(db float64) dsptest.Comb {
	return dsptest.Comb{Spacing: 37.317e3, Level: inModulationBin(db), Low: beatCentre - 0.5e6, High: beatCentre + 0.5e6}
}

// An amplitude of 1 + d·sin swings the power between (1 − d)² and (1 + d)²: a depth of
// 2d/(1 + d²). Half a second of twelve lines of 20 dB tells it to 0.012, of 12 dB to 0.043 (one
// standard deviation of 20 combs each); lines that wobble tell it as well as still ones.
func TestModulationOfLines(t *testing.T) {
	dsptest.SkipIfShort(t)
	for _, c := range []struct{ db, mains, depth, wobble, hz float64 }{
		{12, 50, 0.2, 0, 0.5}, {20, 49.6, 0.1, 0, 0.5}, {20, 50.4, 0.5, 0, 0.15}, {28, 50, 0.9, 0.2, 0.1},
		{12, 60, 0.5, 0.2, 0.3}, {20, 59.5, 0.2, 0, 0.3}, {28, 60.5, 0.9, 0, 0.1},
	} {
		t.Run(fmt.Sprintf("%v dB, depth %v at %v Hz", c.db, c.depth, 2*c.mains), func(t *testing.T) {
			t.Parallel()
			k := modulatedComb(c.db)
			k.Mains, k.Depth, k.Wobble = c.mains, c.depth, c.wobble
			found := modulatedCombs(t, dsptest.New(uint64(c.db*c.mains), modulationRate, beatCentre).Noise(dsptest.BroadcastFloor).Comb(k))
			if len(found) != 1 {
				t.Fatalf("%d combs: %+v", len(found), found)
			}
			b, nominal := found[0].Modulation, 10*math.Round(c.mains/10)
			if !b.Sought || b.Mains != nominal || math.Abs(b.Envelope-2*c.mains) > c.hz {
				t.Errorf("%+v, want %v Hz of %v Hz mains", b, 2*c.mains, nominal)
			}
			if want := 2 * c.depth / (1 + c.depth*c.depth); math.Abs(b.Depth-want) > 3.5*map[float64]float64{12: 0.043, 20: 0.012, 28: 0.012}[c.db] {
				t.Errorf("depth %.3f, want %.3f", b.Depth, want)
			}
		})
	}
}

// Not modulated are steady and wobbling lines, lines under which the noise is modulated, and
// combs with three stations on their multiples that hum and fade. Modulation is reported from a
// P of 0.0002 on, which one of 16 such combs has by chance in 300 runs. Sought is true for lines
// of 10 dB and more, except where the noise under them or some stations swing so much that
// they would hide the lines' modulation.
func TestNoModulationOfLines(t *testing.T) {
	dsptest.SkipIfShort(t)
	for _, kind := range []string{"steady", "wobbling", "noise beats", "stations hum"} {
		t.Run(kind, func(t *testing.T) {
			t.Parallel()
			sought := 0
			for i := range 4 {
				r := rand.New(rand.NewPCG(uint64(i), 8))
				k := modulatedComb(11 + 5*float64(i))
				s := dsptest.New(r.Uint64(), modulationRate, beatCentre).Noise(dsptest.BroadcastFloor)
				switch kind {
				case "wobbling":
					k.Mains, k.Wobble = 50+10*float64(i%2), 0.05+0.15*float64(i)
				case "noise beats":
					s.Gated(dsptest.Gated{Mean: 3 * dsptest.BroadcastFloor, Mains: 50, Depth: 1})
				case "stations hum":
					for n := range 3 {
						hz := (math.Ceil((beatCentre-250e3)/k.Spacing) + float64(3*n)) * k.Spacing
						s.Station(dsptest.Station{Hz: hz, Level: k.Level + 4, Depth: 0.8, Tone: 100, Doppler: 0.5})
					}
				}
				found := modulatedCombs(t, s.Comb(k))
				if len(found) != 1 {
					t.Errorf("%d combs: %+v", len(found), found)
				}
				for _, c := range found {
					if c.Modulation.Mains != 0 || c.Modulation.Envelope != 0 || c.Modulation.Depth != 0 {
						t.Errorf("%d: %+v", i, c.Modulation)
					}
					if c.Modulation.Sought {
						sought++
					}
				}
			}
			if sought < 1 || sought < 4 && (kind == "steady" || kind == "wobbling") {
				t.Errorf("%d of 4 combs were looked at", sought)
			}
		})
	}
}

// Lines that are too weak or too few are not judged, though they are modulated. Two tunings
// of one moment are judged together, whatever the phase of the modulation in each.
func TestModulationNeedsStrongLines(t *testing.T) {
	dsptest.SkipIfShort(t)
	weak, few, strong := modulatedComb(2), modulatedComb(20), modulatedComb(12)
	few.Spacing = 251.3e3
	for _, k := range []*dsptest.Comb{&weak, &few, &strong} {
		k.Mains, k.Depth = 50, 0.3
	}
	signal := func(seed uint64, centre float64, k dsptest.Comb) *dsptest.Signal {
		k.Low, k.High = centre-0.5e6, centre+0.5e6
		return dsptest.New(seed, modulationRate, centre).Noise(dsptest.BroadcastFloor).Comb(k)
	}
	for name, k := range map[string]dsptest.Comb{"weak": weak, "few": few} {
		signals := []*dsptest.Signal{signal(1, beatCentre, k)}
		if name == "few" { // three in a view at most, together enough to be found
			signals = append(signals, signal(2, 7.3e6, k), signal(3, 11.8e6, k), signal(6, 6.1e6, k), signal(7, 5.3e6, k))
		}
		found := modulatedCombs(t, signals...)
		if len(found) != 1 || found[0].Modulation.Sought || found[0].Modulation.Mains != 0 {
			t.Errorf("%s: %+v", name, found)
		}
	}
	one := modulatedCombs(t, signal(4, beatCentre, strong))
	two := modulatedCombs(t, signal(4, beatCentre, strong), signal(5, 7.3e6, strong))
	if len(one) != 1 || len(two) != 1 || !(two[0].Modulation.P < one[0].Modulation.P/10) || two[0].Modulation.Mains != 50 {
		t.Errorf("one tuning %+v, two %+v", one, two)
	}
}
