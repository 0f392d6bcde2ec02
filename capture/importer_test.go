package capture_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/capturetest"
	"nightfloor/store"
	"nightfloor/survey"
)

// evening is three rounds of loop and whip, a recording each of the lower
// segment with a station that only the loop hears. Starts are whole minutes.
func evening() []capture.Source {
	var out []capture.Source
	start := time.Date(2026, 11, 3, 20, 0, 0, 0, time.UTC)
	for i := range 6 {
		setup := []survey.Setup{loop, whip}[i%2]
		sky := capturetest.Sky{Floor: -120, Seed: uint64(i), Carriers: []capturetest.Carrier{{At: 6.03e6, Level: -80, Through: "loop"}}}
		out = append(out, record(sky, setup, 5.985e6, 30, start.Add(time.Duration(i)*time.Minute), 25_000))
	}
	return out
}

// openStore opens a new database; capture itself knows no store.
func openStore(t *testing.T) *store.Store {
	t.Helper()
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "night.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

// importAll imports sources one by one and wants no error.
func importAll(t *testing.T, im *capture.Importer, sources ...capture.Source) capture.Imported {
	t.Helper()
	got, err := im.Run(t.Context(), sources)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// stored gives the sweeps of the import survey.
func stored(t *testing.T, db *store.Store) []survey.Sweep {
	t.Helper()
	id, _, err := db.ImportSurvey(t.Context(), "", "test")
	if err != nil {
		t.Fatal(err)
	}
	var out []survey.Sweep
	err = db.SweepsOf(t.Context(), id, func(s *survey.Sweep) error {
		kept := *s
		kept.Readings = nil
		for _, r := range s.Readings {
			r.Carriers = append([]survey.Carrier(nil), r.Carriers...)
			kept.Readings = append(kept.Readings, r)
		}
		out = append(out, kept)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Whatever order recordings come in, and in however many imports, the rounds
// are those of the evening, and the whip's readings hold the loop's station.
func TestImportInAnyOrder(t *testing.T) {
	for seed := range uint64(3) {
		db, sources := openStore(t), evening()
		rand.New(rand.NewPCG(seed, 1)).Shuffle(len(sources), func(i, k int) { sources[i], sources[k] = sources[k], sources[i] })
		im := &capture.Importer{Store: db, Segments: []survey.Segment{lower}, Region: 1, Version: "test"}
		importAll(t, im, sources[:2]...)
		got := importAll(t, im, sources[2:]...)
		if got.Stored != 4 || got.Skipped != 0 || len(got.Refused) != 0 || got.Setups != 2 || got.Rounds != 3 {
			t.Errorf("seed %d: %+v", seed, got)
		}
		start := evening()[0].Start
		for _, s := range stored(t, db) {
			minute := int(s.Start.Sub(start).Minutes())
			if s.Round != minute/2+1 || s.Visit != minute+1 || s.Setup != []survey.Setup{loop, whip}[minute%2] {
				t.Errorf("seed %d, minute %d: round %d, visit %d, %v", seed, minute, s.Round, s.Visit, s.Setup)
			}
			if len(s.Readings) != 1 || len(s.Readings[0].Carriers) != 1 {
				t.Errorf("seed %d, minute %d: %d readings, the first with %d carriers; want the station once", seed, minute, len(s.Readings), len(s.Readings[0].Carriers))
				continue
			}
			if c := s.Readings[0].Carriers[0]; c.Detected != (s.Setup == loop) || c.Sigma <= 0 || !(c.Quiet > 0) || c.Quiet > c.Sigma {
				t.Errorf("seed %d, minute %d: %+v", seed, minute, c)
			}
		}
	}
}

func TestImportTwiceStoresOnce(t *testing.T) {
	db := openStore(t)
	var said []string
	im := &capture.Importer{Store: db, Segments: []survey.Segment{lower}, Region: 1, Version: "test", Said: func(file, what string) { said = append(said, what) }}
	importAll(t, im, evening()...)
	before := stored(t, db)
	// Under another name it is the same recording.
	again := evening()
	again[0].File = "copy.cu8"
	got := importAll(t, im, append(again, again[1])...)
	if got.Stored != 0 || got.Skipped != 7 || got.Rounds != 3 || len(said) != 7 || said[0] != "stored already, as heard through loop@attic:40; skipped" {
		t.Errorf("%+v, said %q", got, said)
	}
	// What a person would put right is not put right in silence.
	said, again = nil, evening()
	again[0].Setup.Placement = "garden"
	importAll(t, im, again[0])
	if len(said) != 1 || !strings.Contains(said[0], "not changed to") {
		t.Errorf("said %q", said)
	}
	after := stored(t, db)
	if len(after) != len(before) {
		t.Fatalf("%d sweeps, before %d", len(after), len(before))
	}
	for i := range after {
		if a, b := len(after[i].Readings[0].Carriers), len(before[i].Readings[0].Carriers); a != b {
			t.Errorf("sweep %d: %d carriers, before %d", i+1, a, b)
		}
	}
}

// What an older version stored under another digest is known again, and the start that stays is said.
func TestImportKnowsOlderDigests(t *testing.T) {
	db, s := openStore(t), evening()[0]
	digest, before, _ := s.Digest()
	im := &capture.Importer{Store: db, Segments: []survey.Segment{lower}, Region: 1, Version: "test"}
	s.Digest = func() (string, string, error) { return before, before, nil }
	importAll(t, im, s)
	s.Digest = func() (string, string, error) { return digest, before, nil }
	s.Start = s.Start.Add(time.Hour)
	var said string
	im.Said = func(_, what string) { said = what }
	want := "skipped, and its start stays " + evening()[0].Start.Local().Format("2 Jan 2006 15:04:05 MST") + ": nightfloor database remove-survey"
	if got := importAll(t, im, s); got.Stored != 0 || got.Skipped != 1 || !strings.Contains(said, want) {
		t.Errorf("%+v, said %q, want %q in it", got, said, want)
	}
}

// Surveys of imports are kept apart by their names: each has rounds of its own, and a recording
// stands in one of them.
func TestImportsByName(t *testing.T) {
	db := openStore(t)
	var said []string
	into := func(name string, sources ...capture.Source) capture.Imported {
		im := &capture.Importer{Store: db, Segments: []survey.Segment{lower}, Region: 1, Version: "test", Survey: name,
			Said: func(file, what string) { said = append(said, what) }}
		return importAll(t, im, sources...)
	}
	first, second := into("first night", evening()[:2]...), into("", evening()[2:]...)
	if first.Rounds != 1 || second.Rounds != 2 || first.Survey == nil || second.Survey == nil || *first.Survey == *second.Survey {
		t.Fatalf("%+v and %+v, want 1 round and 2 in two surveys", first, second)
	}
	again := into("first night", evening()[3], evening()[0])
	if again.Stored != 0 || again.Skipped != 2 || again.Rounds != 1 || len(said) != 2 || strings.Contains(said[0], "in survey") || !strings.HasPrefix(said[1], "stored already, in survey 2, as heard") {
		t.Errorf("%+v, said %q", again, said)
	}
	said = nil
	if none := into("third", evening()[0]); none.Survey != nil || none.Rounds != 0 || len(said) != 1 || !strings.HasPrefix(said[0], `stored already, in survey 1 "first night", as heard`) {
		t.Errorf("%+v, said %q", none, said)
	}
	surveys, err := db.Surveys(t.Context())
	if err != nil || len(surveys) != 2 || surveys[0].Name != "first night" || surveys[1].Name != "" {
		t.Errorf("%v, %v", surveys, err)
	}
	if surveys[0].First != loop || !surveys[0].End.Before(surveys[1].Start) {
		t.Errorf("spans %v to %v, then from %v", surveys[0].Start, surveys[0].End, surveys[1].Start)
	}
}

// A recording that cannot be used is named with its reason; the others are stored.
func TestImportRefuses(t *testing.T) {
	db, sources := openStore(t), evening()[4:]
	wrong := map[string]func(*capture.Source){
		"--antenna": func(s *capture.Source) { s.Setup.Antenna = "" },
		"--start":   func(s *capture.Source) { s.Start = time.Time{} },
		"none of the segments lies in its usable passband": func(s *capture.Source) { s.Centre = 20e6 },
		"in use":                   func(s *capture.Source) { s.Open = func() (capture.Samples, error) { return nil, capture.ErrBusy } },
		"of the year 9999":         func(s *capture.Source) { s.Start = time.Date(9999, 12, 31, 23, 59, 59, 0, time.UTC) },
		"of the year 1066":         func(s *capture.Source) { s.Start = time.Date(1066, 10, 14, 9, 0, 0, 0, time.UTC) },
		"record with 7800 or more": func(s *capture.Source) { s.Rate = 5e3 },
		"cannot be stored":         func(s *capture.Source) { s.Gain.DB = survey.DB(math.NaN()) },
	}
	for why, spoil := range wrong {
		s := evening()[0]
		s.File = why
		spoil(&s)
		sources = append(sources, s)
	}
	done := 0
	im := &capture.Importer{Store: db, Segments: []survey.Segment{lower}, Region: 1, Version: "test", Done: func(n, of int) { done++ }}
	got := importAll(t, im, sources...)
	if got.Stored != 2 || len(got.Refused) != len(wrong) || got.Rounds != 1 || done != len(sources) {
		t.Fatalf("%+v, %d done", got, done)
	}
	for _, r := range got.Refused {
		if !strings.Contains(r.Why, r.File) {
			t.Errorf("refused with %q, want %q in it", r.Why, r.File)
		}
	}
}

// An import that is interrupted keeps what it has stored, each recording in its
// turn, and goes on when it is asked again.
func TestImportInterrupted(t *testing.T) {
	db := openStore(t)
	ctx, cancel := context.WithCancel(t.Context())
	im := &capture.Importer{Store: db, Region: 1, Version: "test", Done: func(n, _ int) {
		if n == 4 {
			cancel()
		}
	}}
	got, err := im.Run(ctx, evening())
	if !errors.Is(err, context.Canceled) || err.Error() != "import: 4 of 6 recordings done: context canceled" || got.Stored != 4 || got.Rounds != 2 {
		t.Errorf("%+v, %v; want 4 stored in 2 rounds", got, err)
	}
	for _, s := range stored(t, db) {
		if s.Round == 0 || s.Visit == 0 {
			t.Errorf("sweep at %v has no turn", s.Start)
		}
	}
	again := &capture.Importer{Store: db, Region: 1, Version: "test"}
	if got := importAll(t, again, evening()...); got.Stored != 2 || got.Skipped != 4 || got.Rounds != 3 {
		t.Errorf("%+v; want 2 more stored, 3 rounds", got)
	}
}

// A database that is replaced while an import runs ends it with one line that says so.
func TestDatabaseGoesInImport(t *testing.T) {
	db := openStore(t)
	im := &capture.Importer{Store: db, Region: 1, Version: "test", Done: func(n, _ int) {
		if n == 3 {
			if err := errors.Join(os.Remove(db.Path()), os.WriteFile(db.Path(), nil, 0o600)); err != nil {
				t.Error(err)
			}
		}
	}}
	got, err := im.Run(t.Context(), evening())
	if !errors.Is(err, store.ErrLost) || got.Stored != 3 || strings.Contains(err.Error(), "\n") || !strings.Contains(err.Error(), "all of it, with the 3 sweeps") {
		t.Errorf("%+v, %v; want 3 stored, and ErrLost in one line", got, err)
	}
}

// An import in which everything is refused begins no survey.
func TestNothingImported(t *testing.T) {
	db := openStore(t)
	nameless := evening()[0]
	nameless.Setup.Antenna = ""
	im := &capture.Importer{Store: db, Region: 1, Version: "test"}
	if got := importAll(t, im, nameless); len(got.Refused) != 1 || got.Rounds != 0 {
		t.Errorf("%+v", got)
	}
	if surveys, err := db.Surveys(t.Context()); err != nil || len(surveys) != 0 {
		t.Errorf("%+v, %v", surveys, err)
	}
}
