package console

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"
)

// LastWords is how long a command may take to end after a second interrupt, so that it can still
// store how a survey ended. A slow card takes some tenths of a second for that. Chosen.
const LastWords = time.Second

// CatchSignals gives a context that ends at the first interrupt (or SIGTERM, or SIGHUP), and has
// StoppedAtOnce hold after the next. Whatever a command does then, it ends soon after.
func (c *Console) CatchSignals() context.Context {
	ctx, stop := context.WithCancel(context.Background())
	atOnce, stopAtOnce := context.WithCancel(context.Background())
	c.stop, c.atOnce = stop, atOnce
	signals := make(chan os.Signal, 4)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM)
	if !signal.Ignored(syscall.SIGHUP) { // as nohup has it
		signal.Notify(signals, syscall.SIGHUP)
	}
	c.ExitAfter(2*LastWords, os.Stderr, "stopped at once")
	go func() {
		for s := range signals {
			switch {
			case ctx.Err() == nil:
				stop()
			case s != syscall.SIGHUP: // of which a terminal that is closed may bring several
				stopAtOnce()
			}
		}
	}()
	return ctx
}

// ExitAfter has the program end so long after the second interrupt, with a last line, unless the
// function that it gives is called before that interrupt.
func (c *Console) ExitAfter(d time.Duration, to io.Writer, last string) (stop func() bool) {
	return context.AfterFunc(c.atOnce, func() {
		time.Sleep(d)
		fmt.Fprintf(to, "nightfloor: %s\n", last)
		os.Exit(1)
	})
}

// StoppedAtOnce tells whether the second interrupt came.
func (c *Console) StoppedAtOnce() bool { return c.atOnce.Err() != nil }

// ErrStoppedAtOnce is what a second interrupt does to a survey.
var ErrStoppedAtOnce = errors.New("stopped at once: the sweep in hand was not stored")

// Hurry gives a context that ends at the second interrupt only. Until done is called the program
// ends LastWords after that, whatever the driver or the disk does; what is stored stays.
func (c *Console) Hurry(ctx context.Context) (hard context.Context, done func() bool) {
	hard, cancel := context.WithCancel(context.WithoutCancel(ctx))
	context.AfterFunc(c.atOnce, cancel)
	return hard, c.ExitAfter(LastWords, c.Err, ErrStoppedAtOnce.Error())
}

// KeepOnBrokenPipe has a write to a pipe that nobody reads fail, rather than end the program.
func KeepOnBrokenPipe() (done func()) {
	broken := make(chan os.Signal, 1)
	signal.Notify(broken, syscall.SIGPIPE)
	return func() { signal.Stop(broken) }
}

// Write writes to standard error, above the line that ShowLine drew. Where nobody reads that any
// more, the command is to stop, as at an interrupt: what it does would go unseen.
func (c *Console) Write(b []byte) (int, error) {
	c.foot.mu.Lock()
	defer c.foot.mu.Unlock()
	n, err := c.redraw(b)
	if errors.Is(err, syscall.EPIPE) {
		c.stop()
	}
	return n, err
}
