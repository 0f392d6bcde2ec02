package reports

import (
	"testing"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// Lines of which one takes 8 dB more are crossed at half time: signals and floor through both go by 8 dB in opposite
// directions, and the ranking is what it is without. What jumps at half time is no device that was switched on then.
func TestCrossingIsNoDevice(t *testing.T) {
	w := reporttest.NewWorld(1)
	w.Interval = 50 * time.Second
	rank := func(by float64) (advantage, low, high, floor float64) {
		in := w.Input()
		for _, s := range in.Sweeps {
			wiring, lift := survey.Wiring{FeedLines: "straight"}, 0.0
			if s.Round > 12 {
				wiring.FeedLines = "crossed"
				if lift = by; s.Setup != w.Setup(0) {
					lift = -by
				}
			}
			in.Visits = append(in.Visits, survey.Visit{Survey: 1, Number: s.Visit, Round: s.Round, Asked: s.Setup, Reached: s.Setup, Start: s.Start, Wiring: wiring})
			r := &s.Readings[0]
			r.Floor.Density += survey.DBFSPerHz(lift)
			for c := range r.Carriers {
				r.Carriers[c].Power *= stats.FromDecibel(lift)
				r.Carriers[c].Sigma *= stats.FromDecibel(lift)
			}
		}
		selected, err := input.Select(in, input.Options{})
		if err != nil {
			t.Fatal(err)
		}
		r := NewReport(selected, nil, All, 1, time.UTC)
		s := r.Rank.Segments[0]
		for _, o := range r.Rank.Segments {
			if o.State != nil {
				t.Errorf("%.0f dB: %s", by, *o.State)
			}
		}
		if len(s.Halves) != 1 || len(s.Doubts) != 0 {
			t.Fatalf("%.0f dB: %+v, doubts %v", by, s.Halves, s.Doubts)
		}
		x, h := reporttest.Find(t, s, w.Setup(1)), s.Halves[0].Setups
		for _, of := range h {
			if of.Setup == w.Setup(1) {
				floor = float64(*of.Floor.DB)
			}
		}
		return float64(*x.SNRAdvantage), float64(*x.Low), float64(*x.High), floor
	}
	a, low, high, floor := rank(0)
	b, low8, high8, floor8 := rank(8)
	const near = 0.01 // dB: powers are scaled
	if d := b - a; d < -near || d > near || low8-low > near || high-high8 > near {
		t.Errorf("%.2f (%.2f … %.2f) without, %.2f (%.2f … %.2f) with", a, low, high, b, low8, high8)
	}
	if d := floor8 - floor + 16; d < -near || d > near {
		t.Errorf("floors against the reference changed by %.2f dB, want −16", floor8-floor)
	}
}

// A survey whose feed lines were to be crossed and were not says so once it has ended.
func TestNotRewired(t *testing.T) {
	in := reporttest.Still().Input()
	in.Surveys[0].Plan = "[halves]\nfeed_lines = [\"straight\", \"crossed\"]\n[change]\nby = \"person\"\n[turns]\nrounds = 24\n" +
		"[[setup]]\nantenna = \"antenna A\"\nplacement = \"attic\"\n[[segment]]\nband = \"31 m\"\n"
	in.Visits = []survey.Visit{{Survey: 1, Number: 1, Round: 1, Reached: in.Sweeps[0].Setup, Wiring: survey.Wiring{FeedLines: "straight"}}}
	doubted := func() bool {
		selected, err := input.Select(in, input.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range NewReport(selected, nil, Asked{}, 1, time.UTC).Doubts {
			if d.Kind == doubt.NotRewired {
				want := "survey 1: the plan has feed lines crossed in the second half, and nothing was measured so: it ended before, or nobody changed it; nothing is told of them"
				if d.String() != want {
					t.Errorf("%q, want %q", d, want)
				}
				return true
			}
		}
		return false
	}
	if doubted() {
		t.Error("it has not ended")
	}
	in.Surveys[0].Ending = "all rounds done"
	if !doubted() {
		t.Error("nobody crossed the lines")
	}
	in.Visits = append(in.Visits, survey.Visit{Survey: 1, Number: 2, Round: 13, Reached: in.Sweeps[0].Setup, Wiring: survey.Wiring{FeedLines: "crossed"}})
	if doubted() {
		t.Error("they were crossed")
	}
}
