package store

import (
	"encoding/json"
	"slices"
)

// A tally counts what this process has stored of sweeps, with what was added to them later.
type tally struct {
	own spans // the numbers of the readings
	counts
}

// counts are how many rows there are of each kind.
type counts struct{ sweeps, readings, carriers, findings, spectra int64 }

// spans are runs of numbers, from the first to the last of each, in order. What one process
// stores is one run as long as no other stores readings beside it.
type spans [][2]int64

// with gives the spans with one more behind.
func (own spans) with(first, last int64) spans {
	own = slices.Clone(own) // those from before a transaction stay as they are
	if n := len(own); n > 0 && own[n-1][1] == first-1 {
		own[n-1][1] = last
		return own
	}
	return append(own, [2]int64{first, last})
}

// fromLast gives the number that stands so far before the last.
func (own spans) fromLast(far int) (number int64, ok bool) {
	left := int64(far)
	for _, span := range slices.Backward(own) {
		if left <= span[1]-span[0] {
			return span[1] - left, true
		}
		left -= span[1] - span[0] + 1
	}
	return 0, false
}

// has tells whether a number is one of them.
func (own spans) has(number int64) bool {
	return slices.ContainsFunc(own, func(span [2]int64) bool { return span[0] <= number && number <= span[1] })
}

// begin and commit stand around a transaction, which counts in between.
func (g *guard) begin() {
	if g != nil {
		g.next = g.stored
	}
}

func (g *guard) commit() {
	if g != nil {
		g.stored = g.next
	}
}

// addedSweep counts a sweep with these readings, whose numbers follow each other.
func (g *guard) addedSweep(c change, readings []int64) error {
	if g == nil || len(readings) == 0 {
		return nil
	}
	first, last := readings[0], readings[len(readings)-1]
	is, err := c.count(spans{{first, last}})
	g.next.own = g.next.own.with(first, last)
	g.next.add(is, +1)
	return err
}

// addedTo counts what insert adds to readings.
func (g *guard) addedTo(c change, readings []int64, insert func() error) error {
	if g == nil {
		return insert()
	}
	var own spans
	for _, id := range readings {
		if g.next.own.has(id) {
			own = own.with(id, id)
		}
	}
	before, err := c.count(own)
	if err := first(err, insert()); err != nil {
		return err
	}
	after, err := c.count(own)
	g.next.add(before, -1)
	g.next.add(after, +1)
	return err
}

// regrouped counts anew: readings stand in other sweeps, or are gone.
func (g *guard) regrouped(c change) (err error) {
	if g != nil {
		g.next.counts, err = c.count(g.next.own)
	}
	return err
}

// add adds other counts, by times times.
func (r *counts) add(o counts, times int64) {
	r.sweeps, r.readings, r.spectra = r.sweeps+times*o.sweeps, r.readings+times*o.readings, r.spectra+times*o.spectra
	r.carriers, r.findings = r.carriers+times*o.carriers, r.findings+times*o.findings
}

// count counts readings by their numbers, the sweeps that they stand in and what they hold.
func (c change) count(own spans) (is counts, err error) {
	if len(own) == 0 {
		return is, nil
	}
	list, err := json.Marshal(own)
	if err != nil {
		return is, err
	}
	const among = " FROM own CROSS JOIN "
	err = c.tx.QueryRowContext(c.ctx, `WITH own AS MATERIALIZED (SELECT value ->> 0 AS low, value ->> 1 AS high FROM json_each(?))
		SELECT (SELECT count(*) FROM sweeps WHERE id IN (SELECT sweep`+among+`readings ON id BETWEEN low AND high)),
			(SELECT count(*)`+among+`readings ON id BETWEEN low AND high), (SELECT count(*)`+among+`carriers ON reading BETWEEN low AND high),
			(SELECT count(*)`+among+`findings ON reading BETWEEN low AND high), (SELECT count(*)`+among+`spectra ON reading BETWEEN low AND high)`, string(list)).
		Scan(&is.sweeps, &is.readings, &is.carriers, &is.findings, &is.spectra)
	return is, err
}
