package rank

import (
	"math"
	"slices"
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

const besideWhip = "[[antenna]]\nname = \"antenna C\"\nof = \"antenna B\"\nremoved = [\"antenna A\"]\n"

// besideAWhip is a world of a whip, a loop, and the loop with the whip removed: its signals and its floor are by so many dB
// stronger with the whip in place.
func besideAWhip(signal, floor, fade float64) (reporttest.World, input.Input) {
	w := reporttest.NewWorld(7)
	w.Rounds, w.Fade, w.FloorSD = 24, fade, 0.1
	w.Gain, w.Floor = []float64{0, 3 + signal - floor, 3}, []float64{-98, -101 + floor, -101}
	in := w.Input()
	in.Surveys[0].Plan = besideWhip
	return w, in
}

// The same antenna with another one in place and with that removed tells whether they couple: over 1 dB apart, and
// told from nothing. The one without the other has the better SNR here, and is no other antenna: the loop is the best.
func TestCoupling(t *testing.T) {
	yes, no := true, false
	for _, test := range []struct {
		signal, floor float64
		coupled       *bool
		says          string
	}{
		{-2, 0.2, &yes, "antenna A in place changes its signals by −2."}, {0.1, 1.6, &yes, ": over 1 dB is coupling"}, {0.3, -0.3, &no, "no coupling over 1 dB"},
		{-0.5, 0, nil, "more rounds may tell"},
	} {
		fade := 0.5
		if test.coupled == nil {
			fade = 5 // ±1 dB
		}
		w, in := besideAWhip(test.signal, test.floor, fade)
		s := mustRank(t, in, input.Options{}).Segments[0]
		if len(s.Coupling) != 1 {
			t.Fatalf("%+v", s.Coupling)
		}
		c := s.Coupling[0]
		reporttest.Near(t, "signal", c.Signal, test.signal, 0.3+0.3*(fade-0.5))
		reporttest.Near(t, "floor", c.Floor, test.floor, 0.15)
		if c.Setup != w.Setup(1) || c.Without != w.Setup(2) || len(c.Removed) != 1 || c.Removed[0] != "antenna A" || c.Rounds != 24 {
			t.Errorf("%+v", c)
		}
		for _, x := range []struct{ low, high *survey.DB }{{c.SignalLow, c.SignalHigh}, {c.FloorLow, c.FloorHigh}} {
			if x.low == nil || *x.low >= *x.high || *x.high-*x.low > 1 && fade < 1 {
				t.Errorf("interval %v … %v", x.low, x.high)
			}
		}
		if (c.Coupled == nil) != (test.coupled == nil) || c.Coupled != nil && *c.Coupled != *test.coupled || !reporttest.HasDoubt(s, test.says) {
			t.Errorf("signal %.1f, floor %.1f dB: %+v, %q", test.signal, test.floor, c, s.Doubts)
		}
		alone := reporttest.Find(t, s, w.Setup(2))
		if !alone.Apart || alone.Rank != 0 || alone.MayBeBest || alone.SNRAdvantage == nil || !reporttest.HasDoubt(s, "is not another antenna and has no rank") {
			t.Errorf("%+v", alone)
		}
		if v := s.Verdict; len(v.Setups) == 0 || slices.Contains(v.Setups, w.Setup(2)) {
			t.Errorf("%+v", v)
		}
	}
}

// Over 1 dB and clear of 0 is coupling, within 1 dB with its interval is none, and what lies between is not told.
func TestCouplingAtItsLimit(t *testing.T) {
	yes, no := true, false
	for _, test := range []struct {
		mean, half survey.DB
		want       *bool
	}{{1.1, 0.4, &yes}, {-1.1, 0.4, &yes}, {1.1, 1.2, nil}, {0.9, 0.4, nil}, {-0.9, 0.05, &no}, {0.7, 0.2, &no}} {
		low, high, still := test.mean-test.half, test.mean+test.half, survey.DB(0)
		got := isCoupling(&result.Coupling{Signal: &still, SignalLow: &still, SignalHigh: &still, Floor: &test.mean, FloorLow: &low, FloorHigh: &high})
		if (got == nil) != (test.want == nil) || got != nil && *got != *test.want {
			t.Errorf("%v ± %v dB: %v", test.mean, test.half, got)
		}
	}
}

// Where the gains do not compare, levels do not, and in five rounds there is no interval: nothing is told of coupling.
// A ranking of a part of the time has none, and a plan without such a pair has null.
func TestCouplingNotTold(t *testing.T) {
	w, in := besideAWhip(-3, 0, 0.5)
	for _, s := range in.Sweeps {
		if s.Setup == w.Setup(2) {
			s.Readings[0].Gain = survey.Gain{DB: 20, Known: true}
		}
	}
	s := mustRank(t, in, input.Options{}).Segments[0]
	if c := s.Coupling[0]; c.Signal != nil || c.Floor != nil || c.Coupled != nil || !reporttest.HasDoubt(s, "levels with antenna A in place and removed do not compare") {
		t.Errorf("%+v, %q", c, s.Doubts)
	}
	_, in = besideAWhip(-3, 0, 0.5)
	in.Sweeps = in.Sweeps[:5*3*3]
	segments := mustRank(t, in, input.Options{}).Segments
	if c := segments[0].Coupling[0]; c.Signal == nil || math.Abs(float64(*c.Signal)+3) > 1 || c.SignalLow != nil || c.Coupled != nil {
		t.Errorf("%+v of five rounds", c)
	}
	for _, s := range segments[1:] {
		if s.Coupling != nil {
			t.Errorf("%s: %+v", s.Period, s.Coupling)
		}
	}
	in.Surveys[0].Plan = ""
	if s := mustRank(t, in, input.Options{}).Segments[0]; s.Coupling != nil {
		t.Errorf("%+v without a pair", s.Coupling)
	}
	// The antenna itself was not measured at that placement: it has no pair, and stays apart.
	_, in = besideAWhip(-3, 0, 0.5)
	for _, s := range in.Sweeps {
		if s.Setup.Antenna == "antenna B" {
			s.Setup.Placement = "study"
		}
	}
	if s := mustRank(t, in, input.Options{}).Segments[0]; s.Coupling != nil || !s.Setups[2].Apart || !reporttest.HasDoubt(s, "antenna C@attic: the same antenna was not measured at this placement") {
		t.Errorf("%+v, %+v", s.Coupling, s.Setups)
	}
}

// What couples changes what comes from outside: with own noise 4 dB under the floor 1.5 dB less of the rest are 0.8 dB of
// the whole. Where own noise hides the floor, carriers tell all the same.
func TestCouplingOverOwnNoise(t *testing.T) {
	const own = -112.0
	yes := true
	for _, test := range []struct {
		margin, signal, floor float64 // of the loop with the whip in place, and by what that changes signals and outside noise
		coupled               *bool
		says                  string
	}{
		{4, 0, 1.5, &yes, "and its floor by +1.5 dB"}, {2.5, -3, 0, &yes, "changes its signals by −3.0 dB"}, {2.5, 0, 0, nil, "its floor by an unknown amount: whether that is coupling over 1 dB is not told"},
	} {
		outside := own + stats.Decibel(stats.FromDecibel(test.margin)-1)
		removed := stats.Decibel(stats.FromDecibel(own) + stats.FromDecibel(outside-test.floor))
		w := reporttest.NewWorld(7)
		w.Fade, w.FloorSD = 0.3, 0.05
		w.Floor = []float64{-98, own + test.margin, removed}
		w.Gain = []float64{0, -98 - w.Floor[1] + test.signal, -98 - w.Floor[2]} // SNR
		in := w.Input()
		in.Surveys[0].Plan, in.Surveys[0].Receiver = besideWhip, "dongle"
		in.Calibrations = []survey.Calibration{{Kind: survey.CalibrateNoise, Receiver: "dongle", At: in.Surveys[0].Start,
			Noise: []survey.SelfNoise{{Segment: w.Segment, Density: own, Sigma: 0.05}}}}
		s := mustRank(t, in, input.Options{}).Segments[0]
		c := s.Coupling[0]
		reporttest.Near(t, "signal", c.Signal, test.signal, 0.2)
		if hidden := test.margin < input.LimitedMargin; hidden {
			if c.Floor != nil || c.FloorLow != nil {
				t.Errorf("a floor that own noise hides changed by %v dB", *c.Floor)
			}
		} else {
			reporttest.Near(t, "floor", c.Floor, test.floor, 0.15)
		}
		if (c.Coupled == nil) != (test.coupled == nil) || c.Coupled != nil && *c.Coupled != *test.coupled || !reporttest.HasDoubt(s, test.says) || c.Rounds != 24 {
			t.Errorf("%+v: %+v, %q", test, c, s.Doubts)
		}
	}
}
