package store

import (
	"context"
	"database/sql/driver"
	"fmt"
	"maps"
	"slices"

	"nightfloor/store/checksum"
	"nightfloor/survey"
)

// each is checksum.EachRow within a change. It speaks to the driver itself, as a snapshot does.
func (c change) each(ctx context.Context, take func(row []driver.Value) error, query string, args ...any) error {
	return c.conn.Raw(func(raw any) error {
		return snapshot{conn: raw.(driver.QueryerContext)}.each(ctx, take, query, args...)
	})
}

// seal stores the checksum of a sweep as it is now.
func (c change) seal(sweep int64) error {
	sum, err := checksum.Of(c.ctx, c.each, sweep)
	if err == nil {
		_, err = c.run(`UPDATE sweeps SET checksum = ?1 WHERE id = ?2 AND checksum IS NOT ?1`, sum, sweep)
	}
	return err
}

// seals keeps the checksums of sweeps true that a change is about to touch, but for those that have
// none, or another: what is wrong with them stays told. Only what is touched is read.
type seals struct {
	change
	good map[int64]bool // by sweep: its checksum was true
}

// touch is called before each change of a sweep.
func (s *seals) touch(sweep int64) error {
	if _, touched := s.good[sweep]; touched {
		return nil
	}
	stored, err := s.number(`SELECT ifnull(checksum, -1) FROM sweeps WHERE id = ?`, sweep)
	if err != nil {
		return err
	}
	sum, err := checksum.Of(s.ctx, s.each, sweep)
	s.good[sweep] = sum == stored
	return err
}

// resealed runs do, which touches sweeps or makes them, and seals them anew.
func (c change) resealed(do func(s *seals) error) error {
	s := &seals{c, map[int64]bool{}}
	if err := do(s); err != nil {
		return err
	}
	for _, sweep := range slices.Sorted(maps.Keys(s.good)) {
		if !s.good[sweep] {
			continue
		}
		if err := c.seal(sweep); err != nil {
			return err
		}
	}
	return nil
}

// checkChecksums notes sweeps of which something is another than was stored.
func checkChecksums(ctx context.Context, snap snapshot, wrong *[]string) error {
	_, bad, err := checksum.Judge(ctx, snap.each, `SELECT id FROM sweeps`)
	for _, sweep := range bad[:min(named, len(bad))] {
		*wrong = append(*wrong, fmt.Sprintf("sweep %d: its rows, or those of its readings, carriers, findings or spectra, are not as they were stored", sweep))
	}
	if len(bad) > named {
		*wrong = append(*wrong, "not as they were stored: "+survey.Count(len(bad)-named, "more sweep"))
	}
	return err
}
