package capture

import (
	"strings"
	"testing"

	"nightfloor/survey"
)

func TestNearestStep(t *testing.T) {
	steps := []survey.DB{0, 3, 10}
	for gain, want := range map[survey.DB]survey.DB{-5: 0, 1.5: 0, 1.6: 3, 6.4: 3, 6.6: 10, 99: 10} {
		if got := NearestStep(steps, gain); got != want {
			t.Errorf("%v dB: nearest is %v, want %v", gain, got, want)
		}
	}
}

// After an overload the gain of the segment's tuning falls by 6 dB or more, once;
// another tuning's and another setup's stay.
func TestEase(t *testing.T) {
	loop, whip := survey.Setup{Antenna: "loop"}, survey.Setup{Antenna: "whip"}
	s := &Sweeper{info: Info{Gains: []survey.DB{0, 3, 10, 14, 20}},
		tunings: []Tuning{{Segments: []survey.Segment{{Name: "31 m"}, {Name: "30 m amateur"}}}, {Segments: []survey.Segment{{Name: "49 m"}}}},
		gains:   map[gainKey]survey.Gain{{"loop", "", 0}: {DB: 20}, {"loop", "", 1}: {DB: 20}, {"whip", "", 0}: {DB: 3}}}
	for _, test := range []struct {
		setup       survey.Setup
		segments    map[string]bool
		eased, left string
	}{
		{loop, map[string]bool{"31 m": true, "30 m amateur": true}, "31 m, 30 m amateur", ""},
		{whip, map[string]bool{"31 m": true}, "31 m, 30 m amateur", ""},
		{whip, map[string]bool{"31 m": true}, "", "31 m, 30 m amateur"}, // it is the lowest by now
		{whip, map[string]bool{"49 m": true}, "", ""},                   // not known yet
	} {
		eased, left := s.LowerGain(test.setup, test.segments)
		if strings.Join(eased, "; ") != test.eased || strings.Join(left, "; ") != test.left {
			t.Errorf("%v, %v: eased %q, left %q", test.setup, test.segments, eased, left)
		}
	}
	for key, want := range map[gainKey]survey.DB{{"loop", "", 0}: 14, {"loop", "", 1}: 20, {"whip", "", 0}: 0} {
		if got := s.gains[key].DB; got != want {
			t.Errorf("%v: %v dB, want %v", key, got, want)
		}
	}
	if len(s.gains) != 3 {
		t.Errorf("%v", s.gains)
	}
}
