package rank

import (
	"math"
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/survey"
)

// controlled makes a world of a whip, a loop and a terminator, whose stations come
// by leak dB under the whip's and whose noise stands floor dB under it. SNR through
// it is the difference of both.
func controlledWorld(leak, floor float64) input.Input {
	w := reporttest.NewWorld(11)
	w.Gain, w.Floor = []float64{0, 6, leak - floor}, []float64{-98, -101, -98 + floor}
	w.Fade, w.FloorSD, w.Common = 0.5, 0.1, 1
	in := w.Input()
	in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna C\"\nkind = \"terminator\"\n"
	return in
}

// A control tells by how much noise and stations come without an antenna.
func TestControls(t *testing.T) {
	s := mustRank(t, controlledWorld(-13, -14), input.Options{}).Segments[0]
	if len(s.Controls) != 2 {
		t.Fatalf("%+v, want the terminator against two antennas", s.Controls)
	}
	for _, c := range s.Controls {
		// The loop's floor is 3 dB under the whip's, its stations 3 dB over.
		floor, carriers := -14.0, -13.0
		if c.Against.Antenna == "antenna B" {
			floor, carriers = -11, -16
		}
		if c.Antenna != "antenna C" || c.Rounds != 24 || c.Bound || math.Abs(float64(*c.Floor)-floor) > 0.2 || math.Abs(float64(*c.Carriers)-carriers) > 0.6 {
			t.Errorf("%+v: floor %.2f, carriers %.2f; want %v and %v", c, *c.Floor, *c.Carriers, floor, carriers)
		}
	}
	if !reporttest.HasDoubt(s, "stations come 16.") || reporttest.HasDoubt(s, "at least") || reporttest.HasDoubt(s, "part of that floor") {
		t.Errorf("%q", s.Doubts)
	}
}

// Where most of it comes by the feed line, that is said of each antenna; where
// nothing comes, only a bound can be given.
func TestControlsAtTheirEnds(t *testing.T) {
	near := mustRank(t, controlledWorld(-5, -4), input.Options{}).Segments[0]
	if !reporttest.HasDoubt(near, "is only 4.") || !reporttest.HasDoubt(near, "part of that floor is not the antenna's") || !reporttest.HasDoubt(near, "weaker than through antenna A@attic: by feed line or switch") {
		t.Errorf("%q", near.Doubts)
	}
	// 60 dB under the whip's: under the noise of 72 readings.
	far := mustRank(t, controlledWorld(-60, -14), input.Options{}).Segments[0]
	if c := far.Controls[0]; !c.Bound || *c.Carriers > -25 || *c.Carriers < -55 || !reporttest.HasDoubt(far, "at least") {
		t.Errorf("%+v, %v, %q", c, *c.Carriers, far.Doubts)
	}
	w := reporttest.NewWorld(3)
	w.Gain, w.Floor, w.Gains = []float64{0, 6}, []float64{-98, -101}, []survey.Gain{{DB: 20, Known: true}, {DB: 30, Known: true}}
	in := w.Input()
	in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna B\"\nkind = \"terminator\"\n"
	if s := mustRank(t, in, input.Options{}).Segments[0]; s.Controls[0].Floor != nil || !reporttest.HasDoubt(s, "no round in common at gains that compare") {
		t.Errorf("%+v, %q", s.Controls, s.Doubts)
	}
	if s := mustRank(t, reporttest.NewWorld(3).Input(), input.Options{}).Segments[0]; len(s.Controls) != 0 {
		t.Errorf("%+v without a terminator", s.Controls)
	}
}
