package main

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

// lastWords is how long a command may take to end after a second interrupt, so that it can still
// store how a survey ended. A slow card takes some tenths of a second for that. Chosen.
const lastWords = time.Second

// catchSignals gives a context that ends at the first interrupt (or SIGTERM, or SIGHUP), and has
// c.atOnce end at the next. Whatever a command does then, it ends soon after.
func (c *console) catchSignals() context.Context {
	ctx, stop := context.WithCancel(context.Background())
	atOnce, stopAtOnce := context.WithCancel(context.Background())
	c.stop, c.atOnce = stop, atOnce
	signals := make(chan os.Signal, 4)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM)
	if !signal.Ignored(syscall.SIGHUP) { // as nohup has it
		signal.Notify(signals, syscall.SIGHUP)
	}
	c.exitAfter(2*lastWords, os.Stderr, "stopped at once")
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

// exitAfter has the program end so long after the second interrupt, with a last line, unless the
// function that it gives is called before that interrupt.
func (c *console) exitAfter(d time.Duration, to io.Writer, last string) (stop func() bool) {
	return context.AfterFunc(c.atOnce, func() {
		time.Sleep(d)
		fmt.Fprintf(to, "nightfloor: %s\n", last)
		os.Exit(1)
	})
}

// errStoppedAtOnce is what a second interrupt does to a survey.
var errStoppedAtOnce = errors.New("stopped at once: the sweep in hand was not stored")

// hurry gives a context that ends at the second interrupt only. Until done is called the program
// ends lastWords after that, whatever the driver or the disk does; what is stored stays.
func (c *console) hurry(ctx context.Context) (hard context.Context, done func() bool) {
	hard, cancel := context.WithCancel(context.WithoutCancel(ctx))
	context.AfterFunc(c.atOnce, cancel)
	return hard, c.exitAfter(lastWords, c.err, errStoppedAtOnce.Error())
}

// keepOnBrokenPipe has a write to a pipe that nobody reads fail, rather than end the program.
func keepOnBrokenPipe() (done func()) {
	broken := make(chan os.Signal, 1)
	signal.Notify(broken, syscall.SIGPIPE)
	return func() { signal.Stop(broken) }
}

// Write writes to standard error. Where nobody reads that any more, the command is to stop, as at
// an interrupt: what it does would go unseen.
func (c *console) Write(b []byte) (int, error) {
	n, err := c.err.Write(b)
	if errors.Is(err, syscall.EPIPE) {
		c.stop()
	}
	return n, err
}
