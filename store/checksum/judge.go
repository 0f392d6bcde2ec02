package checksum

import (
	"context"
	"database/sql/driver"
)

// Judge tells which sweeps are as they were stored, and which are not. Those that have no checksum are
// neither. The query gives the sweeps that are meant.
func Judge(ctx context.Context, each EachRow, query string, args ...any) (good, bad []int64, err error) {
	stored := map[int64]int64{} // sums by sweep
	var sweeps []int64
	err = each(ctx, func(row []driver.Value) error {
		sweep, _ := row[0].(int64)
		stored[sweep], _ = row[1].(int64)
		sweeps = append(sweeps, sweep)
		return nil
	}, `SELECT id, checksum FROM sweeps WHERE checksum IS NOT NULL AND id IN (`+query+`) ORDER BY id`, args...)
	if err != nil {
		return nil, nil, err
	}
	for _, sweep := range sweeps {
		sum, err := Of(ctx, each, sweep)
		switch {
		case err != nil:
			return nil, nil, err
		case sum == stored[sweep]:
			good = append(good, sweep)
		default:
			bad = append(bad, sweep)
		}
	}
	return good, bad, nil
}
