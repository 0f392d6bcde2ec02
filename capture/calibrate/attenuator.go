package calibrate

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"time"
)

// An Attenuator stands between antenna and receiver, or does not.
type Attenuator interface {
	// Put puts it in, or takes it out, and returns when that is done.
	Put(ctx context.Context, in bool) error
	// ByHand tells whether a person does it, who takes it out at the end unasked.
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
	program, timeOut := a.Argv, a.TimeOut
	where := "out"
	if in {
		where = "in"
	}
	limited, cancel := context.WithTimeout(ctx, timeOut)
	defer cancel()
	cmd := exec.CommandContext(limited, program[0], append(append([]string{}, program[1:]...), where)...)
	cmd.Env = append(os.Environ(), "NIGHTFLOOR_ATTENUATOR="+where)
	cmd.WaitDelay = time.Second // a child of it may hold its output open
	said, err := cmd.CombinedOutput()
	switch {
	case err == nil, errors.Is(err, exec.ErrWaitDelay) && cmd.ProcessState.Success():
		return nil
	case ctx.Err() == nil && limited.Err() != nil:
		err = fmt.Errorf("did not end within %v", timeOut)
	}
	lines := strings.Split(strings.TrimSpace(string(said)), "\n")
	quoted := ""
	if last := lines[len(lines)-1]; last != "" {
		quoted = fmt.Sprintf(" (it said %.200q)", last)
	}
	return fmt.Errorf("the attenuator was not put %s: %s: %w%s; run it by hand to see why", where, program[0], err, quoted)
}
