// Package tally counts readings and what belongs to them.
package tally

import (
	"context"
	"database/sql"
	"encoding/json"
	"slices"
)

// Counts are how many rows there are of each kind.
type Counts struct{ Sweeps, Readings, Carriers, Findings, Spectra int64 }

// Spans are runs of numbers, from the first to the last of each, in order. What one process
// stores is one run as long as no other stores readings beside it.
type Spans [][2]int64

// With gives the spans with one more behind.
func (own Spans) With(first, last int64) Spans {
	own = slices.Clone(own) // those from before a transaction stay as they are
	if n := len(own); n > 0 && own[n-1][1] == first-1 {
		own[n-1][1] = last
		return own
	}
	return append(own, [2]int64{first, last})
}

// FromLast gives the number that stands so far before the last.
func (own Spans) FromLast(far int) (number int64, ok bool) {
	left := int64(far)
	for _, span := range slices.Backward(own) {
		if left <= span[1]-span[0] {
			return span[1] - left, true
		}
		left -= span[1] - span[0] + 1
	}
	return 0, false
}

// Has tells whether a number is one of them.
func (own Spans) Has(number int64) bool {
	return slices.ContainsFunc(own, func(span [2]int64) bool { return span[0] <= number && number <= span[1] })
}

// Add adds other counts, by times times.
func (r *Counts) Add(o Counts, times int64) {
	r.Sweeps, r.Readings, r.Spectra = r.Sweeps+times*o.Sweeps, r.Readings+times*o.Readings, r.Spectra+times*o.Spectra
	r.Carriers, r.Findings = r.Carriers+times*o.Carriers, r.Findings+times*o.Findings
}

// Of counts readings by their numbers, the sweeps that they stand in and what they hold.
func Of(ctx context.Context, tx *sql.Tx, own Spans) (is Counts, err error) {
	if len(own) == 0 {
		return is, nil
	}
	list, err := json.Marshal(own)
	if err != nil {
		return is, err
	}
	const among = " FROM own CROSS JOIN "
	err = tx.QueryRowContext(ctx, `WITH own AS MATERIALIZED (SELECT value ->> 0 AS low, value ->> 1 AS high FROM json_each(?))
		SELECT (SELECT count(*) FROM sweeps WHERE id IN (SELECT sweep`+among+`readings ON id BETWEEN low AND high)),
			(SELECT count(*)`+among+`readings ON id BETWEEN low AND high), (SELECT count(*)`+among+`carriers ON reading BETWEEN low AND high),
			(SELECT count(*)`+among+`findings ON reading BETWEEN low AND high), (SELECT count(*)`+among+`spectra ON reading BETWEEN low AND high)`, string(list)).
		Scan(&is.Sweeps, &is.Readings, &is.Carriers, &is.Findings, &is.Spectra)
	return is, err
}
