package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/comb"
	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/interference"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// viewOf measures half a second in 8 bits.
func viewOf(t *testing.T, s *dsptest.Signal) *comb.View {
	t.Helper()
	m, err := NewMeter(MeterOptions{Rate: s.Rate, Centre: s.Centre, Bands: []spectrum.Band{{Low: s.Centre + 0.1e6, High: s.Centre + 0.3e6}}, Samples: int64(s.Rate / 2), Seek: &interference.Options{}})
	if err != nil {
		t.Fatal(err)
	}
	m.WriteU8(dsptest.U8(nil, s.Samples(int(s.Rate/2))))
	out, err := m.Finish()
	if err != nil {
		t.Fatal(err)
	}
	return out.View
}

// inBin gives the level in dBFS of a line that stands db over BroadcastFloor in one
// resolution of half a second at 2.4 MS/s: 1.5 bins of 73 Hz, 20.4 dB·Hz.
func inBin(db float64) float64 { return -100 + 10*math.Log10(1.5*2.4e6/32768) + db }

// Combs in I/Q, with what supplies do to them, alone and among stations: the spacing to
// four standard errors, a Hz or so, the strength to 1 dB.
func TestCombsInIQ(t *testing.T) {
	dsptest.SkipIfShort(t)
	const rate, centre = 2.4e6, 9.65115e6
	lines := func(spacing, db, drift, wobble, depth float64) dsptest.Comb {
		return dsptest.Comb{Spacing: spacing, Drift: drift, Wobble: wobble, Mains: 50, Depth: depth, Level: inBin(db), Low: centre - 1.1e6, High: centre + 1.1e6}
	}
	for _, c := range []struct {
		name      string
		occupancy float64
		combs     []dsptest.Comb
	}{
		{"still, weak", 0, []dsptest.Comb{lines(65.012e3, -4, 0, 0, 0)}},
		{"on the raster among stations", 0.4, []dsptest.Comb{lines(65e3, 15, 0, 0, 0)}},
		{"wobbling and modulated", 0, []dsptest.Comb{lines(65.012e3, 8, 0, 1, 0.7)}},
		{"three", 0.3, []dsptest.Comb{lines(65.012e3, 10, 0, 0, 0.5), lines(48.617e3, 6, 0, 0.3, 0), lines(113.29e3, 12, 0, 0, 0.3)}},
		{"drifting", 0, []dsptest.Comb{lines(130.3e3, 8, 3, 0, 0)}},
		{"crowded", 0.7, []dsptest.Comb{lines(65.012e3, 8, 0, 0, 0)}},
		{"few lines", 0, []dsptest.Comb{lines(311.7e3, 10, 0, 0, 0)}},
		{"wide, dwelling at its ends", 0, []dsptest.Comb{lines(33.1e3, 20, 0, 10, 0)}}, // one comb, not two
		{"closer than supplies", 0, []dsptest.Comb{lines(7.506e3, 8, 0, 0, 0)}},        // one comb, not its multiples
	} {
		t.Run(c.name, func(t *testing.T) {
			s := dsptest.New(3, rate, centre).Noise(dsptest.BroadcastFloor)
			if c.occupancy > 0 {
				s.Stations(8.9e6, 10.4e6, c.occupancy, dsptest.BroadcastFloor)
			}
			for _, k := range c.combs {
				s.Comb(k)
			}
			found := comb.Seek([]*comb.View{viewOf(t, s)}, certain)
			if len(found) != len(c.combs) {
				t.Errorf("found %d: %+v", len(found), found)
			}
			for _, k := range c.combs {
				// Half of the drift of half a second; the power's mean over a wobble that goes
				// with the modulation: Σ sin·(1 + depth·sin)² over Σ (1 + depth·sin)².
				want := k.Spacing + k.Drift/4 + k.Wobble*k.Depth/(1+k.Depth*k.Depth/2)
				at := -1
				for i, f := range found {
					if math.Abs(f.Spacing-want) < 4*f.Sigma+0.1 && f.Sigma < 3 {
						at = i
					}
				}
				if at < 0 {
					t.Errorf("no comb of %.1f Hz in %+v", want, found)
					continue
				}
				// A line's power is that of its mean amplitude, and (1 + depth²/2) of it with the modulation.
				level := k.Level + 10*math.Log10(1+k.Depth*k.Depth/2) - inBin(0)
				if got := stat.DB(found[at].Strength); math.Abs(got-level) > 1 {
					t.Errorf("%.1f Hz: %.2f dB over the floor, want %.2f", want, got, level)
				}
				if n := int(1.6e6 / want); found[at].Lines < n || found[at].Lines > n+1 {
					t.Errorf("%.1f Hz: %d lines in view, want %d or one more", want, found[at].Lines, n)
				}
			}
		})
	}
}
