package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

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
		stored, err := c.number(`SELECT count(*) FROM recordings WHERE digest = ?`, from.Digest)
		if err == nil && stored > 0 {
			err = fmt.Errorf("recording %s: %w; nothing to do", from.File, ErrStored)
		}
		if err != nil {
			return err
		}
		recording, err := c.insert(`INSERT INTO recordings (digest, file) VALUES (?, ?)`, from.Digest, from.File)
		if err != nil {
			return err
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
