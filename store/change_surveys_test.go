package store

import (
	"os"
	"reflect"
	"slices"
	"testing"
	"time"

	"nightfloor/store/rename"
	"nightfloor/survey"
)

// fillWith stores sweeps of a night: rounds of three sweeps through the whip, then three through the loop.
func fillWith(t *testing.T, s *Store, id int64, sweeps int, imported bool) {
	t.Helper()
	n := night{seeded(), 2, 3, 20}
	for i := range sweeps {
		var err error
		if sweep := n.sweep(id, i); imported {
			err = s.AddImported(t.Context(), sweep, survey.Recording{Digest: string(rune('a' + i)), File: "x.cu8"})
		} else {
			err = s.AddSweep(t.Context(), sweep)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// setupsBy counts the sweeps of a survey through each setup.
func setupsBy(t *testing.T, s *Store, id int64) map[survey.Setup]int {
	t.Helper()
	found := map[survey.Setup]int{}
	if err := s.SweepsOf(t.Context(), id, func(w *survey.Sweep) error { found[w.Setup]++; return nil }); err != nil {
		t.Fatal(err)
	}
	return found
}

// TestRenameSetups: under a new name all is as it was, and under that of another setup the two are
// one, but where they were compared with each other. Checksums hold.
func TestRenameSetups(t *testing.T) {
	s := openTemp(t)
	whip, loop := nightSetups[0], nightSetups[1]
	frame := survey.Setup{Antenna: "frame", Placement: "loft"}
	recorded := begin(t, s)
	fillWith(t, s, recorded, 12, false)
	imports, _, err := s.ImportSurvey(t.Context(), "", "test")
	if err != nil {
		t.Fatal(err)
	}
	fillWith(t, s, imports, 6, true)
	for _, v := range []survey.Visit{{Survey: recorded, Number: 1, Round: 1, Asked: whip, Reached: whip, Start: evening}, {Survey: recorded, Number: 2, Round: 1, Asked: loop, Start: evening}} {
		if err := s.AddVisit(t.Context(), v); err != nil {
			t.Fatal(err)
		}
	}
	to := func(from, to survey.Setup) ([]int64, error) {
		of, err := s.RenameSetups(t.Context(), []rename.Renaming{{From: from, To: to}})
		if err := s.Check(t.Context()); err != nil {
			t.Fatalf("%v to %v: %v", from, to, err)
		}
		return of, err
	}
	if of, err := to(whip, frame); err != nil || !slices.Equal(of, []int64{recorded, imports}) {
		t.Errorf("surveys %v, %v", of, err)
	}
	if got := setupsBy(t, s, recorded); !reflect.DeepEqual(got, map[survey.Setup]int{frame: 6, loop: 6}) {
		t.Errorf("%v", got)
	}
	surveys, err := s.Surveys(t.Context())
	visits, err2 := s.Visits(t.Context(), recorded)
	if err != nil || err2 != nil || surveys[0].First != frame || surveys[1].First != frame || visits[0].Asked != frame || visits[0].Reached != frame || visits[1].Asked != loop {
		t.Errorf("%v, %v, %+v, %v, %v", surveys[0].First, surveys[1].First, visits, err, err2)
	}
	// Both stand in the rounds of the survey that was recorded: nothing is changed, in the imports neither.
	if of, err := to(frame, loop); !isErr(err, ErrApart) || of != nil {
		t.Errorf("surveys %v, %v; want ErrApart", of, err)
	}
	if got := setupsBy(t, s, imports); !reflect.DeepEqual(got, map[survey.Setup]int{frame: 3, loop: 3}) {
		t.Errorf("%v", got)
	}
	if _, err := to(whip, loop); !isErr(err, ErrUnknown) {
		t.Errorf("%v, want ErrUnknown: the whip has another name", err)
	}
	if err := s.RemoveSurvey(t.Context(), recorded); err != nil {
		t.Fatal(err)
	}
	// A name that was misspelt is mended: their rounds are counted anew.
	if of, err := to(frame, loop); err != nil || !slices.Equal(of, []int64{imports}) {
		t.Errorf("surveys %v, %v", of, err)
	}
	if got := setupsBy(t, s, imports); !reflect.DeepEqual(got, map[survey.Setup]int{loop: 6}) {
		t.Errorf("%v", got)
	}
	if surveys, err = s.Surveys(t.Context()); err != nil || surveys[0].First != loop {
		t.Errorf("%v, %v", surveys, err)
	}
}

// TestRenamedAntenna: that it was peaked anew holds under its new name, and under the old one for what
// keeps it.
func TestRenamedAntenna(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	fillWith(t, s, id, 6, false)
	other := night{seeded(), 1, 1, 0}.sweep(id, 6)
	other.Setup = survey.Setup{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(130)}
	if err := s.AddSweep(t.Context(), other); err != nil {
		t.Fatal(err)
	}
	event := survey.Event{Survey: id, At: evening.Add(time.Minute), Text: "peaked", Repeaked: "loop"}
	if err := s.AddEvent(t.Context(), event); err != nil {
		t.Fatal(err)
	}
	repeaked := func() (names []string) {
		events, err := s.Events(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range events {
			names = append(names, e.Repeaked)
		}
		return names
	}
	to := func(from survey.Setup) rename.Renaming {
		renamed := from
		renamed.Antenna = "frame"
		return rename.Renaming{From: from, To: renamed}
	}
	for _, step := range []struct {
		from survey.Setup
		want []string
	}{{nightSetups[1], []string{"loop", "frame"}}, {other.Setup, []string{"frame"}}} {
		if _, err := s.RenameSetups(t.Context(), []rename.Renaming{to(step.from)}); err != nil {
			t.Fatal(err)
		}
		if got := repeaked(); !slices.Equal(got, step.want) {
			t.Errorf("%v renamed: %q, want %q", step.from, got, step.want)
		}
	}
}

// TestRemoveSurvey takes out what belongs to a survey and nothing else; its recordings can be
// imported anew, and the file becomes smaller.
func TestRemoveSurvey(t *testing.T) {
	if testing.Short() {
		t.Skip("it stores for seconds")
	}
	s := openTemp(t)
	kept := begin(t, s)
	fillWith(t, s, kept, 3, false)
	imports, _, err := s.ImportSurvey(t.Context(), "attic", "test")
	if err != nil {
		t.Fatal(err)
	}
	fillWith(t, s, imports, 200, true)
	before := setupsBy(t, s, kept)
	if err := s.RemoveSurvey(t.Context(), imports+1); !isErr(err, ErrUnknown) {
		t.Errorf("%v, want ErrUnknown", err)
	}
	if err := s.RemoveSurvey(t.Context(), imports); err != nil {
		t.Fatal(err)
	}
	size := func() int64 {
		info, err := os.Stat(s.Path())
		if err != nil {
			t.Fatal(err)
		}
		return info.Size()
	}
	s.shrinkLog(t.Context())
	large := size()
	if err := s.Compact(t.Context()); err != nil {
		t.Fatal(err)
	}
	var free int
	if err := s.reader.QueryRow(`PRAGMA freelist_count`).Scan(&free); err != nil || free != 0 || size() >= large {
		t.Errorf("%d bytes, %d pages of them free, before %d, %v", size(), free, large, err)
	}
	if err := s.Check(t.Context()); err != nil {
		t.Error(err)
	}
	if after := setupsBy(t, s, kept); !reflect.DeepEqual(after, before) {
		t.Errorf("%v, before %v", after, before)
	}
	again, created, err := s.ImportSurvey(t.Context(), "attic", "test")
	if err != nil || !created || again <= imports {
		t.Errorf("survey %d, %v, %v: its number is given a second time, or its name is not free", again, created, err)
	}
	fillWith(t, s, again, 6, true)
	if err := s.AddEvent(t.Context(), survey.Event{Survey: kept, At: evening, Text: "kettle"}); err != nil {
		t.Error(err)
	}
}
