package turn

import (
	"context"
	"errors"
	"strings"

	"nightfloor/capture"
	"nightfloor/survey"
)

var (
	_ capture.Changer      = Chain(nil)
	_ capture.SetupChecker = Chain(nil)
)

// A Chain changes antennas step by step: what switches them, then what turns
// them, then the simulated house, which follows what was reached. Each is asked
// for what the one before reached. Where a rotator turns the antenna, its
// bearing is the asked one whatever was seen before it turned.
type Chain []capture.Changer

// Change goes through the steps. The error is that of the first that fails.
func (c Chain) Change(ctx context.Context, asked survey.Setup) (capture.Reached, error) {
	reached := capture.Reached{Setup: asked}
	var said []string
	for _, step := range c {
		if turner, ok := step.(interface{ Turns(antenna string) bool }); ok && reached.Setup.Antenna == asked.Antenna && turner.Turns(asked.Antenna) {
			reached.Setup.Bearing = asked.Bearing
		}
		next, err := step.Change(ctx, reached.Setup)
		reached.DoubtBefore = reached.DoubtBefore || next.DoubtBefore
		if err != nil {
			return capture.Reached{DoubtBefore: reached.DoubtBefore}, err
		}
		reached.Setup = next.Setup
		if next.Bearing.Known {
			reached.Bearing = next.Bearing
		}
		if next.Said != "" {
			said = append(said, next.Said)
		}
	}
	reached.Said = strings.Join(said, "; ")
	return reached, nil
}

// CheckSetups asks every step that can tell.
func (c Chain) CheckSetups(setups []survey.Setup) error {
	var errs []error
	for _, step := range c {
		if checker, ok := step.(capture.SetupChecker); ok {
			errs = append(errs, checker.CheckSetups(setups))
		}
	}
	return errors.Join(errs...)
}

// Ready asks every step that can be asked whether it is there to be used.
func (c Chain) Ready(ctx context.Context) error {
	var errs []error
	for _, step := range c {
		if one, ok := step.(interface{ Ready(context.Context) error }); ok {
			errs = append(errs, one.Ready(ctx))
		}
	}
	return errors.Join(errs...)
}
