package store

import (
	"reflect"
	"slices"
	"testing"
	"time"

	"nightfloor/survey"
)

// TestProgress: how far a survey came, and the sweeps of its last rounds, those
// of the very last with their spectra.
func TestProgress(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	n := night{seeded(), 3, 8, 500}
	var stored []*survey.Sweep
	for i := range 11 {
		sweep := n.sweep(id, i)
		sweep.Round, sweep.Visit = 1+i/4, 1+i/2
		if err := s.AddSweep(t.Context(), sweep); err != nil {
			t.Fatal(err)
		}
		stored = append(stored, sweep)
	}
	crossed := survey.Wiring{FeedLines: "crossed"}
	for visit, w := range []survey.Wiring{{FeedLines: "straight"}, crossed} {
		must(t, s.AddVisit(t.Context(), survey.Visit{Survey: id, Number: visit + 1, Round: 1, Asked: stored[0].Setup, Start: evening, Wiring: w}))
	}
	got, err := s.Progress(t.Context(), survey.Survey{ID: id}, 2)
	if err != nil || got.Round != 3 || got.Visit != 6 || len(got.Recent) != 7 {
		t.Fatalf("round %d, visit %d, %d sweeps, %v; want 3, 6, 7", got.Round, got.Visit, len(got.Recent), err)
	}
	if got.Wiring != crossed {
		t.Errorf("%v, want %v", got.Wiring, crossed)
	}
	made := map[survey.Setup]int{}
	var last time.Time
	for _, sweep := range stored[8:] {
		made[sweep.Setup]++
		for _, r := range sweep.Readings {
			if end := r.Start.Add(r.Duration); end.After(last) {
				last = end
			}
		}
	}
	if !reflect.DeepEqual(got.Made, made) || got.Last.Sub(last).Abs() > time.Millisecond {
		t.Errorf("made %v, want %v; last %v, want %v", got.Made, made, got.Last, last)
	}
	for _, sweep := range got.Recent {
		for _, r := range sweep.Readings {
			if (r.Spectrum != nil) != (sweep.Round == 3) {
				t.Errorf("round %d: spectrum %v", sweep.Round, r.Spectrum != nil)
			}
		}
	}
	empty := begin(t, s)
	if got, err := s.Progress(t.Context(), survey.Survey{ID: empty}, 2); err != nil || got.Round != 0 || len(got.Recent) != 0 || !got.Last.IsZero() {
		t.Errorf("%+v, %v: want nothing", got, err)
	}
}

// TestResumeSurvey: a survey that goes on has no end.
func TestResumeSurvey(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	if err := s.EndSurvey(t.Context(), id, evening.Add(time.Hour), "stopped"); err != nil {
		t.Fatal(err)
	}
	if err := s.ResumeSurvey(t.Context(), id); err != nil {
		t.Fatal(err)
	}
	all, err := s.Surveys(t.Context())
	if err != nil || len(all) != 1 || !all[0].End.IsZero() || all[0].Ending != "" {
		t.Errorf("%+v, %v", all, err)
	}
	if err := s.ResumeSurvey(t.Context(), 99); !isErr(err, ErrUnknown) {
		t.Errorf("%v, want ErrUnknown", err)
	}
}

// TestFlagFrom: a flag is raised on readings from a visit on, once, beside others.
func TestFlagFrom(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	n := night{seeded(), 2, 2, 20}
	const quoted = `what "they" said's \ it`
	had := map[int64][]string{}
	for i := range 4 {
		sweep := n.sweep(id, i)
		sweep.Visit = i + 1
		if i == 2 {
			sweep.Readings[0].Quality.Flags = []string{"a", "z"}
		}
		if err := s.AddSweep(t.Context(), sweep); err != nil {
			t.Fatal(err)
		}
		for _, r := range sweep.Readings {
			had[r.ID] = r.Quality.Flags
		}
	}
	for range 2 {
		for _, flag := range []string{survey.FlagClockSet, quoted} {
			if err := s.FlagFrom(t.Context(), id, 2, flag); err != nil {
				t.Fatal(err)
			}
		}
	}
	err := s.SweepsOf(t.Context(), id, func(w *survey.Sweep) error {
		for _, r := range w.Readings {
			want := slices.Clone(had[r.ID])
			if w.Visit >= 2 {
				want = append(want, survey.FlagClockSet, quoted)
				slices.Sort(want)
			}
			if !slices.Equal(r.Quality.Flags, want) {
				t.Errorf("visit %d: flags %v, want %v", w.Visit, r.Quality.Flags, want)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	// Readings that have the flag are not written again.
	do(t, s, "CREATE TRIGGER once BEFORE UPDATE ON readings BEGIN SELECT raise(ABORT, 'written again'); END")
	if err := s.FlagFrom(t.Context(), id, 2, quoted); err != nil {
		t.Error(err)
	}
	do(t, s, "DROP TRIGGER once")
	for _, bad := range []string{"", "a,b"} {
		if err := s.FlagFrom(t.Context(), id, 1, bad); !isErr(err, ErrInvalid) {
			t.Errorf("flag %q: %v", bad, err)
		}
	}
}
