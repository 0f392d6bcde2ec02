package capture_test

import (
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"nightfloor/store"
	"nightfloor/survey"
)

// A database that goes while the survey runs ends it: no later sweep is said to be stored, the
// log has one line at once, the error is that one line, and all that was said to be stored is
// in the file beside it.
func TestDatabaseGoes(t *testing.T) {
	for name, goes := range map[string]func(path string) error{
		"removed":  os.Remove,
		"moved":    func(path string) error { return os.Rename(path, path+".away") },
		"replaced": func(path string) error { return errors.Join(os.Remove(path), os.WriteFile(path, nil, 0o600)) },
	} {
		t.Run(name, func(t *testing.T) {
			folder := t.TempDir()
			db, err := store.Open(t.Context(), filepath.Join(folder, "night.db"))
			if err != nil {
				t.Fatal(err)
			}
			defer db.Close()
			r, _, _ := recorderOf(quiet, smallPlan())
			r.Store = db
			said := logged(r)
			var stored []int64
			r.Stored = func(s *survey.Sweep) {
				if stored = append(stored, s.ID); len(stored) == 7 {
					if err := goes(db.Path()); err != nil {
						t.Error(err)
					}
				}
			}
			_, err = r.Run(t.Context())
			if !errors.Is(err, store.ErrLost) || strings.Contains(err.Error(), "\n") || len(stored) != 7 {
				t.Errorf("%v after %d sweeps; want ErrLost in one line after 7", err, len(stored))
			}
			if n := strings.Count(said.String(), slog.LevelError.String()); n != 1 {
				t.Errorf("%d errors in the log, want 1:\n%s", n, said)
			}
			rescued, err := filepath.Glob(filepath.Join(folder, "night-rescued-*.db"))
			if err != nil || len(rescued) != 1 {
				t.Fatalf("rescued %v, %v", rescued, err)
			}
			back, err := store.OpenReadOnly(t.Context(), rescued[0])
			if err != nil {
				t.Fatal(err)
			}
			defer back.Close()
			found := map[int64]bool{}
			if err := back.Sweeps(t.Context(), store.Filter{}, func(s *survey.Sweep) error { found[s.ID] = true; return nil }); err != nil {
				t.Fatal(err)
			}
			for _, id := range stored {
				if !found[id] {
					t.Errorf("sweep %d was said to be stored and is not in %s", id, rescued[0])
				}
			}
		})
	}
}
