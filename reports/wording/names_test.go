package wording

import (
	"testing"

	"nightfloor/survey"
)

// Where there is little room a table keeps what tells states apart.
func TestStatesInLittleRoom(t *testing.T) {
	state := survey.Setup{Antenna: "loop (repeaked 3 Nov 21.04 UTC)", Placement: "attic", Bearing: survey.BearingOf(40),
		State: survey.State{Antenna: "loop", Clock: "21.04"}}
	for room, want := range map[int]string{60: "loop (repeaked 3 Nov 21.04 UTC)@attic 040°", 28: "loop@attic (21.04) 040°", 18: "lo…ic (21.04) 040°"} {
		if got := Setup(state, room); got != want {
			t.Errorf("in %d: %q, want %q", room, got, want)
		}
	}
}
