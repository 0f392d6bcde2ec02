package store

import (
	"context"
	"database/sql/driver"
	"fmt"
	"slices"
	"strings"

	"nightfloor/survey"
)

// ResumeSurvey notes that a survey goes on: it has no end any more. ErrUnknown:
// there is no such survey.
func (s *Store) ResumeSurvey(ctx context.Context, id int64) error {
	return s.write(ctx, fmt.Sprintf("resume survey %d", id), func(c change) error {
		return c.runOne(`UPDATE surveys SET end_ms = NULL, ending = '' WHERE id = ?`, id)
	})
}

// Progress tells how far a survey came, with the sweeps of its last few rounds.
func (s *Store) Progress(ctx context.Context, sv survey.Survey, rounds int) (survey.Progress, error) {
	p := survey.Progress{Survey: sv, Made: map[survey.Setup]int{}}
	var from int64
	err := s.read(ctx, "read progress", func(snap snapshot) error {
		return snap.each(ctx, func(row []driver.Value) error {
			p.Round, p.Visit, from = int(integer(row[0])), int(max(integer(row[1]), integer(row[2]))), integer(row[3])
			return nil
		}, `
			SELECT ifnull(max(round), 0), ifnull(max(visit), 0),
				ifnull((SELECT max(visit) FROM visits WHERE survey = ?1), 0),
				ifnull((SELECT min(start_ms) FROM sweeps WHERE survey = ?1 AND round > (SELECT max(round) FROM sweeps WHERE survey = ?1) - ?2), 0)
			FROM sweeps WHERE survey = ?1`, sv.ID, int64(rounds))
	})
	if err != nil || p.Round == 0 {
		return p, err
	}
	visits, err := s.Visits(ctx, sv.ID)
	if err != nil {
		return p, err
	}
	asked := map[int]survey.Setup{}
	for _, v := range visits {
		asked[v.Number] = v.Asked
	}
	filter := Filter{Survey: sv.ID, From: instant(from)}
	err = s.Sweeps(ctx, filter, func(w *survey.Sweep) error {
		if w.Round == p.Round {
			setup, ok := asked[w.Visit]
			if !ok { // recorded before visits were kept
				setup = w.Setup
			}
			p.Made[setup]++
		}
		for _, r := range w.Readings {
			if end := r.Start.Add(r.Duration); end.After(p.Last) {
				p.Last = end
			}
		}
		p.Recent = append(p.Recent, w)
		return nil
	})
	if err != nil {
		return p, err
	}
	return p, s.spectraOf(ctx, p)
}

// spectraOf gives the readings of the last round their spectra.
func (s *Store) spectraOf(ctx context.Context, p survey.Progress) error {
	for _, w := range p.Recent {
		if w.Round != p.Round {
			continue
		}
		for i := range w.Readings {
			var err error
			if w.Readings[i].Spectrum, err = s.Spectrum(ctx, w.Readings[i].ID); err != nil {
				return err
			}
		}
	}
	return nil
}

// FlagFrom raises a flag on all readings of a survey from a visit on.
func (s *Store) FlagFrom(ctx context.Context, id int64, visit int, flag string) error {
	if flag == "" || strings.Contains(flag, ",") {
		return fmt.Errorf("flag readings: %w: flag %q; this is a mistake in nightfloor, please report it", ErrInvalid, flag)
	}
	return s.write(ctx, "flag readings", func(c change) error {
		rows, err := c.tx.QueryContext(ctx, `
			SELECT DISTINCT flags FROM readings WHERE sweep IN (SELECT id FROM sweeps WHERE survey = ? AND visit >= ?)`, id, visit)
		if err != nil {
			return err
		}
		var had []string
		for rows.Next() {
			var flags string
			if err := rows.Scan(&flags); err != nil {
				return first(err, rows.Close())
			}
			had = append(had, flags)
		}
		if err := first(rows.Err(), rows.Close()); err != nil {
			return err
		}
		for _, flags := range had {
			with := withFlag(flags, flag)
			if with == flags {
				continue
			}
			if _, err := c.run(`
				UPDATE readings SET flags = ? WHERE flags = ? AND sweep IN (SELECT id FROM sweeps WHERE survey = ? AND visit >= ?)`, with, flags, id, visit); err != nil {
				return err
			}
		}
		return nil
	})
}

// withFlag adds a flag to a sorted, comma-separated list.
func withFlag(flags, flag string) string {
	all := splitFlags(flags)
	if slices.Contains(all, flag) {
		return flags
	}
	all = append(all, flag)
	slices.Sort(all)
	return strings.Join(all, ",")
}
