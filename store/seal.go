package store

import (
	"context"
	"database/sql/driver"
	"fmt"
	"maps"
	"slices"

	"nightfloor/store/checksum"
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

// A storedSum is the checksum that is stored of a sweep.
type storedSum struct{ sweep, sum int64 }

// checksums gives the checksums of sweeps that have one; the query gives their numbers.
func (c change) checksums(query string, args ...any) (all []storedSum, err error) {
	return all, c.each(c.ctx, func(row []driver.Value) error {
		all = append(all, storedSum{integer(row[0]), integer(row[1])})
		return nil
	}, `SELECT id, checksum FROM sweeps WHERE checksum IS NOT NULL AND id IN (`+query+`)`, args...)
}

// checkChecksums notes sweeps of which something is another than was stored.
func checkChecksums(ctx context.Context, snap snapshot, wrong *[]string) error {
	var stored []storedSum
	err := snap.each(ctx, func(row []driver.Value) error {
		stored = append(stored, storedSum{integer(row[0]), integer(row[1])})
		return nil
	}, `SELECT id, checksum FROM sweeps WHERE checksum IS NOT NULL ORDER BY id`)
	bad := 0
	for _, s := range stored {
		sum, sumErr := checksum.Of(ctx, snap.each, s.sweep)
		if err = first(err, sumErr); err != nil {
			return err
		}
		if sum == s.sum {
			continue
		}
		if bad++; bad <= named {
			*wrong = append(*wrong, fmt.Sprintf("sweep %d: its rows, or those of its readings, carriers, findings or spectra, are not as they were stored", s.sweep))
		}
	}
	if bad > named {
		*wrong = append(*wrong, fmt.Sprintf("%d more sweeps are not as they were stored", bad-named))
	}
	return err
}
