package force

import (
	"slices"
	"testing"

	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// heard makes a reading of 31 m with carriers detected at some frequencies.
func heard(f ...survey.Hz) *survey.Reading {
	r := &survey.Reading{Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}, BinWidth: 100}
	for _, f := range f {
		r.Carriers = append(r.Carriers, survey.Carrier{Frequency: f, Detected: true})
	}
	return r
}

func TestWatch(t *testing.T) {
	w := Watch{}
	w.Note(heard(9.51e6, 9.41e6), 1)
	if got := w.Missing(heard(9.41e6 + 100)); !slices.Equal(got, []survey.Hz{9.51e6}) {
		t.Errorf("missing %v, want 9.51 MHz: the other is within a bin", got)
	}
	if got := w.Missing(heard(9.41e6+101, 9.51e6)); !slices.Equal(got, []survey.Hz{9.41e6}) {
		t.Errorf("missing %v, want 9.41 MHz: the line beside it is more than a bin away", got)
	}
	other := heard()
	other.Segment.Name = "25 m"
	if got := w.Missing(other); got != nil {
		t.Errorf("another segment is asked for %v", got)
	}
	cut := heard()
	cut.Segment.High = 9.45e6
	if got := w.Missing(cut); !slices.Equal(got, []survey.Hz{9.41e6}) {
		t.Errorf("a segment up to 9.45 MHz is asked for %v", got)
	}
}

// What was measured by force keeps no carrier on the list: else it would stay
// for ever.
func TestForcedCarriersAreForgotten(t *testing.T) {
	w := Watch{}
	w.Note(heard(9.41e6), 1)
	forced := heard(9.41e6)
	forced.Carriers[0].Detected = false
	for round := 2; round <= 4; round++ {
		w.Note(forced, round)
		w.Forget(round)
		if len(w.Missing(heard())) != 1 {
			t.Fatalf("forgotten after round %d, unheard for %d", round, round-1)
		}
	}
	w.Forget(5)
	if got := w.Missing(heard()); got != nil {
		t.Errorf("unheard for 4 rounds and still watched: %v", got)
	}
}

// What the plan lists is measured in every reading, heard or not, and stands where the plan says.
func TestListedIsWatched(t *testing.T) {
	w := New(plan.Plan{Listed: map[string][]survey.Hz{"31 m": {9.42e6, 9.6e6}}})
	for round := range 3 * Rounds {
		if got := w.Missing(heard()); !slices.Equal(got, []survey.Hz{9.42e6, 9.6e6}) {
			t.Fatalf("round %d: %v is measured, want both that are listed", round, got)
		}
		w.Note(heard(9.6e6+survey.Hz(round)*10), round)
		w.Forget(round)
	}
	if got := w.Missing(heard(9.42e6 - 90)); !slices.Equal(got, []survey.Hz{9.6e6}) {
		t.Errorf("%v is measured by force, want only what was not heard", got)
	}
}

// A carrier that drifts by less than a bin a round is one carrier.
func TestWatchFollowsDrift(t *testing.T) {
	w := Watch{}
	for round := range 10 {
		w.Note(heard(9.41e6+survey.Hz(round)*60), round)
	}
	if got := w.Missing(heard()); !slices.Equal(got, []survey.Hz{9.41e6 + 540}) {
		t.Errorf("watched: %v, want 9.41054 MHz alone", got)
	}
}
