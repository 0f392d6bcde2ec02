// Package rename gives setups other names, within a transaction of the database.
package rename

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"

	"nightfloor/survey"
)

// ErrApart is the error for setups that cannot be one.
var ErrApart = errors.New("the two were compared with each other")

// A Renaming gives a setup another name.
type Renaming struct{ From, To survey.Setup }

// A Change is a transaction under way. Touch is called before a sweep, by its number, is changed, so
// that its checksum can be renewed if it was true.
type Change struct {
	Context context.Context
	Tx      *sql.Tx
	Touch   func(sweep int64) error
}

// Setups gives setups other names in all surveys, and tells in which surveys there are sweeps
// through them, by number. Under a name that another setup has the two become one. Events that
// tell of an antenna's peaking go with its name. sql.ErrNoRows: there is no such setup.
func (c Change) Setups(all []Renaming) (surveys []int64, err error) {
	for _, r := range all {
		of, err := c.setup(r)
		if err != nil {
			return nil, fmt.Errorf("%v: %w", r.From, err)
		}
		surveys = append(surveys, of...)
	}
	slices.Sort(surveys)
	surveys = slices.Compact(surveys)
	for _, id := range surveys {
		for _, r := range all {
			if err := c.antenna(id, r.From.Antenna, r.To.Antenna); err != nil {
				return nil, err
			}
		}
	}
	return surveys, nil
}

// columns gives what stands in the columns of a setup.
func columns(s survey.Setup) []any {
	if !s.Bearing.Known {
		return []any{s.Antenna, s.Placement, nil}
	}
	return []any{s.Antenna, s.Placement, s.Bearing.Deg}
}

// find gives the number of a setup.
func (c Change) find(s survey.Setup) (id int64, err error) {
	const where = "antenna = ? AND placement = ? AND ifnull(bearing_deg, -1) = ifnull(?, -1)"
	return id, c.Tx.QueryRowContext(c.Context, "SELECT id FROM setups WHERE "+where, columns(s)...).Scan(&id)
}

func (c Change) run(query string, args ...any) error {
	_, err := c.Tx.ExecContext(c.Context, query, args...)
	return err
}

// setup renames a setup, and tells in which surveys it is.
func (c Change) setup(r Renaming) (surveys []int64, err error) {
	from, err := c.find(r.From)
	if err != nil {
		return nil, err
	}
	// The surveys that have sweeps through it.
	if surveys, err = c.numbers(`SELECT DISTINCT survey FROM sweeps WHERE setup = ?`, from); err != nil {
		return nil, err
	}
	to, err := c.find(r.To)
	if errors.Is(err, sql.ErrNoRows) { // what is stored of sweeps names it by number
		return surveys, c.run(`UPDATE setups SET (antenna, placement, bearing_deg) = (?, ?, ?) WHERE id = ?`, append(columns(r.To), from)...)
	}
	if err != nil || to == from {
		return surveys, err
	}
	return surveys, c.merge(from, to)
}

// numbers gives a column of numbers.
func (c Change) numbers(query string, args ...any) (all []int64, err error) {
	rows, err := c.Tx.QueryContext(c.Context, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var one int64
		if err := rows.Scan(&one); err != nil {
			return nil, err
		}
		all = append(all, one)
	}
	return all, rows.Err()
}

// merge makes one setup another one, everywhere.
func (c Change) merge(from, to int64) error {
	var survey, round int64
	err := c.Tx.QueryRowContext(c.Context, `SELECT s.survey, s.round FROM sweeps s JOIN surveys v ON v.id = s.survey
		WHERE v.kind = 'record' AND s.setup IN (?, ?) GROUP BY s.survey, s.round HAVING count(DISTINCT s.setup) = 2 LIMIT 1`, from, to).Scan(&survey, &round)
	switch {
	case err == nil:
		return fmt.Errorf("%w: survey %d has both in round %d; choose a name that no other setup of it has", ErrApart, survey, round)
	case !errors.Is(err, sql.ErrNoRows):
		return err
	}
	sweeps, err := c.numbers(`SELECT id FROM sweeps WHERE setup = ?`, from)
	for _, sweep := range sweeps {
		if err == nil {
			err = c.Touch(sweep)
		}
	}
	if err != nil {
		return err
	}
	return c.run(`
		UPDATE sweeps SET setup = ?2 WHERE setup = ?1;
		UPDATE visits SET asked = ?2 WHERE asked = ?1;
		UPDATE visits SET reached = ?2 WHERE reached = ?1;
		UPDATE surveys SET first_setup = ?2 WHERE first_setup = ?1;
		DELETE FROM setups WHERE id = ?1`, from, to)
}

// antenna lets the events of a survey that tell of an antenna's peaking follow its new name:
// they stay with the old one, too, while setups of that are left.
func (c Change) antenna(id int64, from, to string) error {
	if from == to {
		return nil
	}
	return c.run(`
		INSERT INTO events (survey, at_ms, text, repeaked) SELECT survey, at_ms, text, ?3 FROM events e WHERE survey = ?1 AND repeaked = ?2
			AND NOT EXISTS (SELECT 1 FROM events f WHERE f.survey = ?1 AND f.at_ms = e.at_ms AND f.text = e.text AND f.repeaked = ?3);
		DELETE FROM events WHERE survey = ?1 AND repeaked = ?2
			AND NOT EXISTS (SELECT 1 FROM sweeps s JOIN setups t ON t.id = s.setup WHERE s.survey = ?1 AND t.antenna = ?2)`, id, from, to)
}
