// Package open opens what a command line names: plans, databases, and what a plan names, the
// receiver and what changes antennas, with the cautions that go with it. Errors say what to do.
package open

import (
	"context"
	"slices"

	"nightfloor/capture/instrument"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/store"
	"nightfloor/survey/plan"
)

// Both opens the plan's receiver, which check may refuse, and the database. One that is there
// comes first: if another record writes into it, that is why the dongle is busy. One that is
// not there comes last: none is left where nothing can be recorded.
func Both(ctx context.Context, c *console.Console, p plan.Plan, named string, check func(instrument.Instrument) error) (in instrument.Instrument, db *store.Store, path string, release func(), err error) {
	open := []func() error{
		func() (err error) {
			if in, err = Instrument(ctx, c, p); err == nil {
				err = check(in)
			}
			return err
		},
		func() (err error) {
			db, path, release, err = ToWrite(ctx, named, store.Open)
			return err
		},
	}
	if databaseThere(named) {
		slices.Reverse(open)
	}
	if err = open[0](); err == nil {
		err = open[1]()
	}
	if err != nil && in.Receiver != nil {
		in.Receiver.Close()
	}
	if err != nil && release != nil {
		release()
	}
	return in, db, path, release, err
}
