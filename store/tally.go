package store

import "nightfloor/store/tally"

// A counted is what this process has stored of sweeps, with what was added to them later.
type counted struct {
	own tally.Spans // the numbers of the readings
	tally.Counts
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
	is, err := tally.Of(c.ctx, c.tx, tally.Spans{{first, last}})
	g.next.own = g.next.own.With(first, last)
	g.next.Add(is, +1)
	return err
}

// addedTo counts what insert adds to readings.
func (g *guard) addedTo(c change, readings []int64, insert func() error) error {
	if g == nil {
		return insert()
	}
	var own tally.Spans
	for _, id := range readings {
		if g.next.own.Has(id) {
			own = own.With(id, id)
		}
	}
	before, err := tally.Of(c.ctx, c.tx, own)
	if err := first(err, insert()); err != nil {
		return err
	}
	after, err := tally.Of(c.ctx, c.tx, own)
	g.next.Add(before, -1)
	g.next.Add(after, +1)
	return err
}

// regrouped counts anew: readings stand in other sweeps, or are gone.
func (g *guard) regrouped(c change) (err error) {
	if g != nil {
		g.next.Counts, err = tally.Of(c.ctx, c.tx, g.next.own)
	}
	return err
}
