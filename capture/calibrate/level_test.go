package calibrate

import (
	"slices"
	"testing"

	"nightfloor/survey"
)

// Steps are gathered by why, whatever number stands in it, with what helps.
func TestByReason(t *testing.T) {
	got := ByReason([]survey.SkippedStep{{Gain: 48, Why: ReasonClips}, {Gain: -1, Why: ReasonWeak + ": 3 dB over the floor"}, {Gain: 49.6, Why: ReasonClips}, {Gain: 0.9, Why: ReasonFewCodes}, {Gain: 0, Why: ReasonWeak + ": 9 dB over the floor"}})
	want := []string{"it clips at 48.0, 49.6 dB; a second run at a lower level adds them: runs add up",
		"it drowns at −1.0, 0.0 dB",
		"too few codes for it to be measured at 0.9 dB; a second run at a higher level adds them: runs add up"}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}
