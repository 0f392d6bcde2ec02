package store

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"nightfloor/survey"
)

// ResumeSurvey notes that a survey goes on: it has no end any more. ErrUnknown:
// there is no such survey.
func (s *Store) ResumeSurvey(ctx context.Context, id int64) error {
	return s.write(ctx, fmt.Sprintf("resume survey %d", id), func(c change) error {
		return c.runOne(`UPDATE surveys SET end_ms = NULL, ending = '' WHERE id = ?`, id)
	})
}

// Progress tells how far a survey came, with the sweeps of its last few rounds; those of the
// very last have their spectra.
func (s *Store) Progress(ctx context.Context, sv survey.Survey, rounds int) (survey.Progress, error) {
	var from time.Time
	found, err := list(ctx, s, "read progress", func(p *survey.Progress) columns {
		return columns{{"ifnull(max(round), 0)", &p.Round},
			{"max(ifnull(max(visit), 0), ifnull((SELECT max(visit) FROM visits WHERE survey = ?1), 0))", &p.Visit},
			{"(SELECT min(start_ms) FROM sweeps WHERE survey = ?1 AND round > (SELECT max(round) FROM sweeps WHERE survey = ?1) - ?2)", optional{new(bool), &from}}}
	}, `FROM sweeps WHERE survey = ?1`, sv.ID, int64(rounds))
	if err != nil {
		return survey.Progress{}, err
	}
	p := found[0] // max gives a row even of none
	p.Survey, p.Made = sv, map[survey.Setup]int{}
	if p.Round == 0 {
		return p, nil
	}
	visits, err := s.Visits(ctx, sv.ID)
	if err != nil {
		return p, err
	}
	asked := map[int]survey.Setup{}
	for _, v := range visits {
		asked[v.Number] = v.Asked
		p.Wiring = v.Wiring
	}
	err = s.Sweeps(ctx, Filter{Survey: sv.ID, From: from}, func(w *survey.Sweep) error {
		if w.Round == p.Round {
			setup, ok := asked[w.Visit]
			if !ok { // recorded before visits were kept
				setup = w.Setup
			}
			p.Made[setup]++
		}
		for i := range w.Readings {
			r := &w.Readings[i]
			if end := r.Start.Add(r.Duration); end.After(p.Last) {
				p.Last = end
			}
			if w.Round == p.Round {
				var err error
				if r.Spectrum, err = s.Spectrum(ctx, r.ID); err != nil {
					return err
				}
			}
		}
		p.Recent = append(p.Recent, w)
		return nil
	})
	return p, err
}

// sweepsAtOnce is how many sweeps one transaction of FlagFrom changes: some tenths of a second of
// work. Chosen.
const sweepsAtOnce = 500

// FlagFrom raises a flag on all readings of a survey from a visit on. Of many sweeps it works in
// several transactions, the earlier sweeps first: after an error some may have the flag, and doing it
// again flags the rest.
func (s *Store) FlagFrom(ctx context.Context, id int64, visit int, flag string) error {
	if flag == "" || strings.Contains(flag, ",") {
		return fmt.Errorf("flag readings: %w: flag %q; %s", ErrInvalid, flag, mistake)
	}
	for last, flagged := int64(0), sweepsAtOnce; flagged == sweepsAtOnce; {
		err := s.write(ctx, "flag readings", func(c change) error {
			sweeps, err := c.numbers(`SELECT id FROM sweeps WHERE survey = ? AND visit >= ? AND id > ? AND EXISTS (
					SELECT 1 FROM readings WHERE sweep = sweeps.id AND instr(',' || flags || ',', ',' || ? || ',') = 0)
				ORDER BY id LIMIT ?`, id, int64(visit), last, flag, int64(sweepsAtOnce))
			if flagged = len(sweeps); err != nil || flagged == 0 {
				return err
			}
			last = sweeps[flagged-1]
			return c.resealed(func(touched *seals) error { return touched.flag(sweeps, flag) })
		})
		if err != nil {
			return err
		}
		if flagged == sweepsAtOnce {
			time.Sleep(letIn)
		}
	}
	return nil
}

// flag raises a flag on all readings of sweeps.
func (s *seals) flag(sweeps []int64, flag string) error {
	for _, sweep := range sweeps {
		if err := s.touch(sweep); err != nil {
			return err
		}
		had, err := s.texts(`SELECT DISTINCT flags FROM readings WHERE sweep = ?`, sweep)
		for _, flags := range had {
			if err == nil {
				_, err = s.run(`UPDATE readings SET flags = ? WHERE sweep = ? AND flags = ?`, withFlag(flags, flag), sweep, flags)
			}
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// withFlag adds a flag to a sorted list that commas part.
func withFlag(flags, flag string) string {
	all := splitFlags(flags)
	if slices.Contains(all, flag) {
		return flags
	}
	all = append(all, flag)
	slices.Sort(all)
	return strings.Join(all, ",")
}
