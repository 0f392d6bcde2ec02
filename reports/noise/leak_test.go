package noise

import (
	"math"
	"testing"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// leakyHouse is a house with one supply, heard through a whip, a loop and a terminator. What the terminator hears, so many dB under
// the loop's, adds to that by voltage with a phase.
func leakyHouse(t *testing.T, isolation, phase float64) result.NoiseSources {
	t.Helper()
	sin, cos := math.Sincos(phase)
	leak := math.Pow(10, -isolation/20)
	swing := 0.3 * math.Pow(math.Hypot(1+leak*cos, leak*sin), 2)
	d := reporttest.NewDin(4, reporttest.Radiator{Spacing: 65.013e3, Warming: 1, Hours: []reporttest.HourSpan{{From: 1, To: 8}},
		Level: []float64{20, 15 + 20*math.Log10(math.Hypot(1+leak*cos, leak*sin)), 15 - isolation},
		Swing: []float64{0.5, swing, 0.3 * leak * leak}})
	d.Rounds = 100
	in := d.Input()
	in.Surveys[0].Plan = "[[antenna]]\nname = \"wire\"\nkind = \"terminator\"\n"
	s, err := input.Select(in, input.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return Find(readlog.New(s.Input)).Result(time.UTC)
}

// What leaks of a source adds by voltage: by its phase the strength comes out as far off as isolation tells, and it is said
// under 25 dB.
func TestLeakageOfASource(t *testing.T) {
	for _, test := range []struct{ isolation, low, high float64 }{{10, -3.30, 2.39}, {20, -0.92, 0.83}, {23, -0.64, 0.59}, {27, -0.40, 0.38}} {
		for phase, want := range map[float64]float64{math.Pi: test.low, 0: test.high} {
			r := leakyHouse(t, test.isolation, phase)
			if len(r.Sources) != 1 {
				t.Fatalf("%d sources", len(r.Sources))
			}
			for _, x := range r.Sources[0].Strength {
				if x.Antenna == "loop" {
					reporttest.Near(t, "strength", x.Level, 15+want, 0.15)
					reporttest.Near(t, "isolation", x.Isolation.DB, test.isolation+want, 1) // from the level as it comes out
				}
				if x.Antenna == "wire" && x.Isolation != nil {
					t.Errorf("the terminator has an isolation from itself: %+v", x.Isolation)
				}
			}
			said := ""
			for _, d := range r.Doubts {
				if d.Kind == doubt.SourceLeaks {
					said = d.String()
				}
			}
			if poor := test.isolation+want < 24; poor != (said != "") && math.Abs(test.isolation+want-25) > 1 {
				t.Errorf("%.0f dB: said %q", test.isolation, said)
			}
		}
	}
}

// The swing of modulated noise is kept as its square: its isolation is in dB of power all the same, and the setup that
// is least isolated is named. Nothing is said where the terminator hears nothing.
func TestIsolationOfASource(t *testing.T) {
	far := leakyHouse(t, 60, 0)
	for _, x := range far.Sources[0].Strength {
		if x.Isolation != nil && (*x.Isolation.DB < 25 || x.Isolation.Poor) {
			t.Errorf("%s, %s: %+v, want a bound of 25 dB and more", x.Setup, x.Segment, x.Isolation)
		}
	}
	if len(far.Doubts) != 0 {
		t.Errorf("%q", far.Doubts)
	}
	d := reporttest.NewDin(4, reporttest.Radiator{Spacing: 1, Warming: 1, Hours: []reporttest.HourSpan{{From: 1, To: 8}}, Swing: []float64{0.5, 0.3, 0.05}})
	d.Rounds = 100
	in := d.Input()
	in.Surveys[0].Plan = "[[antenna]]\nname = \"wire\"\nkind = \"terminator\"\n"
	for _, s := range in.Sweeps { // no comb
		for i := range s.Readings {
			for j := range s.Readings[i].Findings {
				if f := &s.Readings[i].Findings[j]; f.Kind == survey.FindingComb {
					f.Confidence = 0
				}
			}
		}
	}
	r := Find(readlog.New(reporttest.Selected(in, input.Options{}).Input)).Result(time.UTC)
	if len(r.Sources) != 1 || r.Sources[0].Kind != survey.FindingMains {
		t.Fatalf("%+v", r.Sources)
	}
	for _, x := range r.Sources[0].Strength {
		if x.Antenna == "whip" {
			reporttest.Near(t, "isolation of a swing", x.Isolation.DB, stats.Decibel(10), 0.3)
		}
	}
	if len(r.Doubts) != 1 || r.Doubts[0].Kind != doubt.SourceLeaks || r.Doubts[0].Figures[2] != (survey.Setup{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(40)}) {
		t.Errorf("%q", r.Doubts)
	}
}
