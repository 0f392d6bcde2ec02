package wording

import (
	"testing"
	"time"

	"nightfloor/survey"
)

// Where there is little room a table keeps what tells states apart.
func TestStatesInLittleRoom(t *testing.T) {
	since := time.Date(2026, 11, 3, 21, 4, 10, 0, time.UTC)
	state := survey.Setup{Antenna: StateName("loop", since, "2 Jan 15.04"), Placement: "attic", Bearing: survey.BearingOf(40)}
	for room, want := range map[int]string{60: "loop (repeaked 3 Nov 21.04 UTC)@attic 040°", 28: "loop@attic (21.04) 040°", 18: "lo…ic (21.04) 040°"} {
		if got := Setup(state, room); got != want {
			t.Errorf("in %d: %q, want %q", room, got, want)
		}
	}
	for _, name := range []string{"loop", "loop (large)", "UTC)", "whip (repeaked"} {
		if antenna, _, ok := CutState(name); ok || antenna != name {
			t.Errorf("%q is taken for a state of %q", name, antenna)
		}
	}
}
