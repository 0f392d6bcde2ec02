package calibrate

import (
	"context"
	"fmt"
	"slices"
	"time"

	"nightfloor/capture/turn"
)

// An Attenuator stands between antenna and receiver, or does not.
type Attenuator interface {
	// Put puts it in, or takes it out, and returns when that is done.
	Put(ctx context.Context, in bool) error
	// ByHand tells whether a person does it, who is not asked to take it out where a run
	// fails, only told.
	ByHand() bool
}

// A ProgramAttenuator is put in and out by a program of the user's. It is started without
// a shell, with "in" or "out" as its last argument and as NIGHTFLOOR_ATTENUATOR; exit
// status 0 says that it is done.
type ProgramAttenuator struct {
	Argv    []string
	TimeOut time.Duration
}

// ByHand says that it is not.
func (ProgramAttenuator) ByHand() bool { return false }

// Put starts the program and waits for its end.
func (a ProgramAttenuator) Put(ctx context.Context, in bool) error {
	where := "out"
	if in {
		where = "in"
	}
	return putBy(ctx, a.TimeOut, a.Argv, "NIGHTFLOOR_ATTENUATOR", where, "the attenuator was not put")
}

// putBy starts a program of the user's with a state as its last argument and as an environment
// variable, and waits for its end. failed begins the error.
func putBy(ctx context.Context, timeOut time.Duration, argv []string, variable, state, failed string) error {
	var said turn.Tail
	err := turn.RunProgram(ctx, timeOut, append(slices.Clone(argv), state), []string{variable + "=" + state}, &said, &said)
	if err != nil {
		return fmt.Errorf("%s %s: %w", failed, state, err)
	}
	return nil
}
