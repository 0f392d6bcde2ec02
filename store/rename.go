package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"slices"
	"strings"

	"nightfloor/survey"
)

// A Renaming gives a setup another name.
type Renaming struct{ From, To survey.Setup }

// RenameSetups gives setups other names in all surveys, all or none, and tells in which surveys
// there are sweeps through them. Under a name that another setup has the two become one. Events that
// tell of an antenna's peaking go with its name. ErrUnknown: there is no such setup; ErrApart: a
// survey that was recorded has both in one round. Rounds of imports are to be put in order anew.
func (s *Store) RenameSetups(ctx context.Context, all []Renaming) (surveys []int64, err error) {
	err = s.write(ctx, "rename setups", func(c change) error {
		surveys = nil // it may be tried twice
		for _, r := range all {
			of, err := c.renameSetup(r)
			if err != nil {
				return fmt.Errorf("%v: %w", r.From, err)
			}
			surveys = append(surveys, of...)
		}
		slices.Sort(surveys)
		surveys = slices.Compact(surveys)
		for _, id := range surveys {
			for _, r := range all {
				if err := c.renameAntenna(id, r.From.Antenna, r.To.Antenna); err != nil {
					return err
				}
			}
		}
		return nil
	})
	return surveys, err
}

// renameSetup renames a setup, and tells in which surveys it is.
func (c change) renameSetup(r Renaming) (surveys []int64, err error) {
	find := func(s survey.Setup) (int64, error) {
		args, err := c.values(setupColumns(&s))
		if err != nil {
			return 0, err
		}
		return c.number("SELECT id FROM setups WHERE "+sameSetup, args...)
	}
	from, err := find(r.From)
	if errors.Is(err, sql.ErrNoRows) {
		err = ErrUnknown
	}
	if err != nil {
		return nil, err
	}
	err = c.each(c.ctx, func(row []driver.Value) error {
		surveys = append(surveys, integer(row[0]))
		return nil
	}, `SELECT DISTINCT survey FROM sweeps WHERE setup = ?`, from)
	if err != nil {
		return nil, err
	}
	to, err := find(r.To)
	switch {
	case errors.Is(err, sql.ErrNoRows): // what is stored of sweeps names it by number
		row := setupColumns(&r.To)
		args, err := c.values(row)
		if err == nil {
			_, err = c.run(`UPDATE setups SET (`+row.names("")+`) = (?, ?, ?) WHERE id = ?`, append(args, from)...)
		}
		return surveys, err
	case err != nil || to == from:
		return surveys, err
	}
	return surveys, c.mergeSetups(from, to)
}

// mergeSetups makes one setup another one, everywhere.
func (c change) mergeSetups(from, to int64) error {
	var survey, round int64
	err := c.tx.QueryRowContext(c.ctx, `SELECT s.survey, s.round FROM sweeps s JOIN surveys v ON v.id = s.survey
		WHERE v.kind = 'record' AND s.setup IN (?, ?) GROUP BY s.survey, s.round HAVING count(DISTINCT s.setup) = 2 LIMIT 1`, from, to).Scan(&survey, &round)
	switch {
	case err == nil:
		return fmt.Errorf("%w: survey %d has both in round %d; choose a name that no other setup of it has", ErrApart, survey, round)
	case !errors.Is(err, sql.ErrNoRows):
		return err
	}
	return c.resealed(func() error {
		for _, column := range []string{"sweeps SET setup", "visits SET asked", "visits SET reached", "surveys SET first_setup"} {
			_, name, _ := strings.Cut(column, " SET ")
			if _, err := c.run(`UPDATE `+column+` = ?2 WHERE `+name+` = ?1`, from, to); err != nil {
				return err
			}
		}
		_, err := c.run(`DELETE FROM setups WHERE id = ?`, from)
		return err
	}, `SELECT id FROM sweeps WHERE setup = ?`, from)
}

// renameAntenna lets the events of a survey that tell of an antenna's peaking follow its new name:
// they stay with the old one, too, while setups of that are left.
func (c change) renameAntenna(id int64, from, to string) error {
	if from == to {
		return nil
	}
	_, err := c.run(`INSERT INTO events (survey, at_ms, text, repeaked) SELECT survey, at_ms, text, ?3 FROM events e WHERE survey = ?1 AND repeaked = ?2
		AND NOT EXISTS (SELECT 1 FROM events f WHERE f.survey = ?1 AND f.at_ms = e.at_ms AND f.text = e.text AND f.repeaked = ?3)`, id, from, to)
	if err != nil {
		return err
	}
	_, err = c.run(`DELETE FROM events WHERE survey = ?1 AND repeaked = ?2
		AND NOT EXISTS (SELECT 1 FROM sweeps s JOIN setups t ON t.id = s.setup WHERE s.survey = ?1 AND t.antenna = ?2)`, id, from)
	return err
}
