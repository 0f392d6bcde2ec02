package store

import (
	"cmp"
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"maps"
	"slices"

	"nightfloor/survey"
)

// importEnding is the ending of the survey of imports: it never runs.
const importEnding = "imported"

// ImportSurvey gives the one survey that holds the imports of this database,
// begun by version of nightfloor if there is none yet.
func (s *Store) ImportSurvey(ctx context.Context, version string) (id int64, created bool, err error) {
	err = s.write(ctx, "begin survey of imports", func(c change) error {
		id, err = c.number(`SELECT id FROM surveys WHERE kind = ?`, survey.KindImport)
		if created = errors.Is(err, sql.ErrNoRows); created {
			id, err = insertSurvey(c, survey.Survey{Kind: survey.KindImport, Version: version, Ending: importEnding})
		}
		return err
	})
	if err != nil {
		return 0, false, err
	}
	return id, created, nil
}

// HasRecording tells whether a recording, by its digest, is stored, and through
// which setup.
func (s *Store) HasRecording(ctx context.Context, digest string) (as survey.Setup, has bool, err error) {
	found, err := list(ctx, s, "look for recording", setupOf, `
		SELECT s.antenna, s.placement, s.bearing_deg
		FROM recordings n JOIN readings r ON r.recording = n.id JOIN sweeps w ON w.id = r.sweep JOIN setups s ON s.id = w.setup
		WHERE n.digest = ? LIMIT 1`, digest)
	if err != nil || len(found) == 0 {
		return as, false, err
	}
	return found[0], true, nil
}

// AddImported is AddSweep for what a recording gave, and notes the recording in
// the same transaction. The survey's start, end and first setup follow its
// earliest and latest recordings, whatever their order of arrival. ErrStored:
// the recording, by its digest, is stored already; nothing is changed.
func (s *Store) AddImported(ctx context.Context, sweep *survey.Sweep, from survey.Recording) error {
	return s.addSweep(ctx, sweep, func(c change, id int64) error {
		recording, err := c.insert(`INSERT INTO recordings (digest, file) VALUES (?, ?)`, from.Digest, from.File)
		if err != nil {
			return fmt.Errorf("recording %s: %w", from.File, err)
		}
		if _, err := c.run(`UPDATE readings SET recording = ? WHERE sweep = ?`, recording, id); err != nil {
			return err
		}
		if from.Simulated {
			if _, err := c.run(`UPDATE surveys SET simulated = 1 WHERE id = ?`, sweep.Survey); err != nil {
				return err
			}
		}
		return stretchSurvey(c, sweep)
	})
}

// stretchSurvey makes a survey of imports span the sweep.
func stretchSurvey(c change, sweep *survey.Sweep) error {
	setup, err := c.setup(sweep.Setup)
	if err != nil {
		return err
	}
	start, end := sweep.Start, sweep.Start
	for _, r := range sweep.Readings {
		if e := r.Start.Add(r.Duration); e.After(end) {
			end = e
		}
	}
	// SET sees the values from before: both start_ms are the old one.
	_, err = c.run(`
		UPDATE surveys SET
			first_setup = CASE WHEN start_ms IS NULL OR ?1 < start_ms THEN ?2 ELSE first_setup END,
			start_ms = min(ifnull(start_ms, ?1), ?1),
			end_ms = max(ifnull(end_ms, ?3), ?3)
		WHERE id = ?4 AND kind = ?5`,
		start.UnixMilli(), setup, ceilMilliseconds(end), sweep.Survey, survey.KindImport)
	return err
}

// Recordings gives what is known of a survey's imported recordings, by the
// recording's number, as far as their turns depend on it.
func (s *Store) Recordings(ctx context.Context, id int64) (map[int64]survey.RecordingInfo, error) {
	found := map[int64]survey.RecordingInfo{}
	err := s.read(ctx, "read recordings", func(snap snapshot) error {
		return snap.each(ctx, func(row []driver.Value) error {
			t, known := found[integer(row[0])]
			if !known {
				t = survey.RecordingInfo{Setup: setupOf(row[1:4]), Start: instant(row[4])}
			}
			t.Segments = append(t.Segments, text(row[5]))
			found[integer(row[0])] = t
			return nil
		}, `SELECT r.recording, t.antenna, t.placement, t.bearing_deg, r.start_ms, g.name
			FROM readings r JOIN sweeps s ON s.id = r.sweep JOIN setups t ON t.id = s.setup JOIN segments g ON g.id = r.segment
			WHERE s.survey = ? AND r.recording IS NOT NULL ORDER BY r.recording, r.id`, id)
	})
	return found, err
}

// Regroup puts recordings of a survey, by their numbers, into new sweeps,
// visits and rounds, all or none: imports may arrive in any order. Recordings
// with one turn.Sweep come to stand in one sweep; sweeps left empty go.
// ErrUnknown: a recording is not there, or of another survey.
func (s *Store) Regroup(ctx context.Context, id int64, turns map[int64]survey.Turn) error {
	order := slices.SortedFunc(maps.Keys(turns), func(a, b int64) int {
		return cmp.Or(cmp.Compare(turns[a].Sweep, turns[b].Sweep), cmp.Compare(a, b))
	})
	return s.write(ctx, fmt.Sprintf("regroup survey %d", id), func(c change) error {
		g := regrouping{change: c, survey: id, taken: map[int64]bool{}}
		for i, recording := range order {
			turn := turns[recording]
			if i == 0 || turn.Sweep != turns[order[i-1]].Sweep {
				g.sweep = 0 // a sweep of its own begins
			}
			if err := g.place(recording, turn); err != nil {
				return fmt.Errorf("recording %d: %w", recording, err)
			}
		}
		_, err := c.run(`DELETE FROM sweeps WHERE survey = ? AND NOT EXISTS (SELECT 1 FROM readings r WHERE r.sweep = sweeps.id)`, id)
		return err
	})
}

// A regrouping is Regroup at work.
type regrouping struct {
	change
	survey int64
	taken  map[int64]bool // sweeps that hold a group already
	sweep  int64          // of the group in hand; 0: none yet
}

// place puts one recording's readings into the group in hand. The group keeps
// the sweep that its first recording is in, unless another group has it.
func (g *regrouping) place(recording int64, turn survey.Turn) error {
	var now, setup, start int64
	err := g.tx.QueryRowContext(g.ctx, `
		SELECT s.id, s.setup, min(r.start_ms) FROM readings r JOIN sweeps s ON s.id = r.sweep
		WHERE r.recording = ? AND s.survey = ? GROUP BY s.id`, recording, g.survey).Scan(&now, &setup, &start)
	if errors.Is(err, sql.ErrNoRows) {
		return fmt.Errorf("%w in survey %d; import it first", ErrUnknown, g.survey)
	}
	if err != nil {
		return err
	}
	if g.sweep == 0 {
		if g.sweep, err = g.begin(now, setup, start, turn); err != nil {
			return err
		}
	}
	if g.sweep == now {
		return nil
	}
	_, err = g.run(`UPDATE readings SET sweep = ? WHERE recording = ?`, g.sweep, recording)
	return err
}

// begin gives the sweep for a new group: the one its first recording is in, or
// a new one where that is taken.
func (g *regrouping) begin(now, setup, start int64, turn survey.Turn) (int64, error) {
	if !g.taken[now] {
		g.taken[now] = true
		return now, g.runOne(`UPDATE sweeps SET round = ?, visit = ?, start_ms = ? WHERE id = ?`, turn.Round, turn.Visit, start, now)
	}
	id, err := g.insert(`INSERT INTO sweeps (survey, round, visit, setup, start_ms) VALUES (?, ?, ?, ?, ?)`,
		g.survey, turn.Round, turn.Visit, setup, start)
	g.taken[id] = true
	return id, err
}
