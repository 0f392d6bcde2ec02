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
