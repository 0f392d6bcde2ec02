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

// ImportSurvey gives the survey of this name that holds imports, "" for those without a name,
// begun by version of nightfloor if there is none yet.
func (s *Store) ImportSurvey(ctx context.Context, name, version string) (id int64, created bool, err error) {
	err = s.write(ctx, "begin survey of imports", func(c change) error {
		id, err = c.number(`SELECT id FROM surveys LEFT JOIN survey_names ON survey = id WHERE kind = ? AND ifnull(name, '') = ?`, survey.KindImport, name)
		if created = errors.Is(err, sql.ErrNoRows); !created {
			return err
		}
		id, err = c.add("surveys", surveyColumns(&survey.Survey{Kind: survey.KindImport, Version: version, Ending: importEnding})[1:])
		if err == nil && name != "" {
			_, err = c.add("survey_names", columns{{"survey", &id}, {"name", &name}})
		}
		return err
	})
	if err != nil {
		return 0, false, err
	}
	return id, created, nil
}

// HasRecording tells whether a recording, by its digest, is stored, in which survey,
// through which setup, and with which start.
func (s *Store) HasRecording(ctx context.Context, digest string) (as survey.Sweep, has bool, err error) {
	found, err := list(ctx, s, "look for recording", func(w *survey.Sweep) columns {
		return columns{{"s.survey", &w.Survey}, {"s.setup", &w.Setup}, {"r.start_ms", &w.Start}}
	}, `
		FROM recordings n JOIN readings r ON r.recording = n.id JOIN sweeps s ON s.id = r.sweep
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
		stored, err := c.number(`SELECT count(*) FROM recordings WHERE digest = ?`, from.Digest)
		if err == nil && stored > 0 {
			err = fmt.Errorf("recording %s: %w; nothing to do", from.File, ErrStored)
		}
		if err != nil {
			return err
		}
		recording, err := c.add("recordings", columns{{"digest", &from.Digest}, {"file", &from.File}})
		if err != nil {
			return err
		}
		if _, err := c.run(`UPDATE readings SET recording = ? WHERE sweep = ?`, recording, id); err != nil {
			return err
		}
		return stretchSurvey(c, sweep, from.Simulated)
	})
}

// stretchSurvey makes a survey of imports span the sweep, and marks it where that is simulated.
func stretchSurvey(c change, sweep *survey.Sweep, simulated bool) error {
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
			end_ms = max(ifnull(end_ms, ?3), ?3),
			simulated = max(simulated, ?6)
		WHERE id = ?4 AND kind = ?5`,
		start.UnixMilli(), setup, ceilMilliseconds(end), sweep.Survey, survey.KindImport, simulated)
	return err
}

// Recordings gives what is known of a survey's imported recordings, by the
// recording's number, as far as their turns depend on it.
func (s *Store) Recordings(ctx context.Context, id int64) (map[int64]survey.RecordingInfo, error) {
	found := map[int64]survey.RecordingInfo{}
	err := s.readNamed(ctx, "read recordings", func(snap snapshot) error {
		return snap.each(ctx, func(row []driver.Value) error {
			t, known := found[integer(row[0])]
			if !known && !snap.scan(row[1:], columns{{"setup", &t.Setup}, {"start_ms", &t.Start}}) {
				return nil // it keeps the turn that it has
			}
			t.Segments = append(t.Segments, snap.segments[integer(row[3])].Name)
			found[integer(row[0])] = t
			return nil
		}, `SELECT r.recording, s.setup, r.start_ms, r.segment FROM readings r JOIN sweeps s ON s.id = r.sweep
			WHERE s.survey = ? AND r.recording IS NOT NULL ORDER BY r.recording, r.id`, id)
	})
	return found, err
}

// Regroup puts recordings of a survey, by their numbers, into other sweeps,
// visits and rounds, all or none: imports may arrive in any order. Recordings
// with one turn.Sweep come to stand in one sweep; the sweeps left empty go.
// ErrUnknown: a recording is not there, or of another survey.
func (s *Store) Regroup(ctx context.Context, id int64, turns map[int64]survey.Turn) error {
	order := slices.SortedFunc(maps.Keys(turns), func(a, b int64) int {
		return cmp.Or(cmp.Compare(turns[a].Sweep, turns[b].Sweep), cmp.Compare(a, b))
	})
	return s.write(ctx, fmt.Sprintf("regroup survey %d", id), func(c change) error {
		if err := c.resealed(func(touched *seals) error { return touched.regroup(id, order, turns) }); err != nil {
			return err
		}
		return s.guard.regrouped(c)
	})
}

// A place is where a recording stands.
type place struct {
	sweep, round, visit, start int64 // of its sweep
	first                      int64 // when its first reading began
}

// places gives where the recordings of a survey stand.
func (c change) places(id int64) (map[int64]place, error) {
	at := map[int64]place{}
	return at, c.each(c.ctx, func(row []driver.Value) error {
		at[integer(row[0])] = place{integer(row[1]), integer(row[2]), integer(row[3]), integer(row[4]), integer(row[5])}
		return nil
	}, `SELECT r.recording, s.id, s.round, s.visit, s.start_ms, min(r.start_ms) FROM sweeps s JOIN readings r ON r.sweep = s.id
		WHERE s.survey = ? AND r.recording IS NOT NULL GROUP BY r.recording`, id)
}

// regroup puts recordings of a survey, in order, where turns says.
func (s *seals) regroup(id int64, order []int64, turns map[int64]survey.Turn) error {
	at, err := s.places(id)
	if err != nil {
		return err
	}
	taken := map[int64]bool{} // sweeps that hold a group already
	var sweep int64           // of the group in hand
	for i, recording := range order {
		turn := turns[recording]
		now, known := at[recording]
		var err error
		if !known {
			err = fmt.Errorf("%w in survey %d; import it first", ErrUnknown, id)
		}
		if err == nil && (i == 0 || turn.Sweep != turns[order[i-1]].Sweep) {
			sweep, err = s.sweepFor(now, turn, taken[now.sweep])
			taken[sweep] = true
		}
		if err == nil && sweep != now.sweep {
			err = s.move(recording, now.sweep, sweep)
		}
		if err != nil {
			return fmt.Errorf("recording %d: %w", recording, err)
		}
	}
	_, err = s.run(`DELETE FROM sweeps WHERE survey = ? AND NOT EXISTS (SELECT 1 FROM readings r WHERE r.sweep = sweeps.id)`, id)
	return err
}

// move puts a recording into another sweep.
func (s *seals) move(recording, from, to int64) error {
	if err := first(s.touch(from), s.touch(to)); err != nil {
		return err
	}
	_, err := s.run(`UPDATE readings SET sweep = ? WHERE recording = ?`, to, recording)
	return err
}

// sweepFor gives the sweep for a group of recordings: that in which its first recording
// is now or, where another group has taken that, a new one through the same setup.
func (s *seals) sweepFor(now place, turn survey.Turn, taken bool) (sweep int64, err error) {
	if taken {
		sweep, err = s.insert(`INSERT INTO sweeps (survey, round, visit, setup, start_ms) SELECT survey, ?, ?, setup, ? FROM sweeps WHERE id = ?`,
			turn.Round, turn.Visit, now.first, now.sweep)
		s.good[sweep] = true
		return sweep, err
	}
	if now.round == int64(turn.Round) && now.visit == int64(turn.Visit) && now.start == now.first {
		return now.sweep, nil
	}
	if err := s.touch(now.sweep); err != nil {
		return 0, err
	}
	_, err = s.run(`UPDATE sweeps SET round = ?, visit = ?, start_ms = ? WHERE id = ?`, turn.Round, turn.Visit, now.first, now.sweep)
	return now.sweep, err
}
