package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"sync/atomic"
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
	go func() {
		for s := range signals {
			switch {
			case ctx.Err() == nil:
				stop()
			case s != syscall.SIGHUP: // of which a terminal that is closed may bring several
				stopAtOnce()
				time.AfterFunc(2*lastWords, func() { exit(os.Stderr, "stopped at once") })
			}
		}
	}()
	return ctx
}

func exit(to io.Writer, last string) {
	fmt.Fprintf(to, "nightfloor: %s\n", last)
	os.Exit(1)
}

// errStoppedAtOnce is what a second interrupt does to a survey.
var errStoppedAtOnce = errors.New("stopped at once: the sweep in hand was not stored")

// hurry gives a context that ends at the second interrupt only. lastWords after that the program
// ends, whatever the driver or the disk does; what is stored stays. over tells that no sweep is
// in hand any more.
func (c *console) hurry(ctx context.Context) (hard context.Context, over func()) {
	hard, cancel := context.WithCancel(context.WithoutCancel(ctx))
	var done atomic.Bool
	context.AfterFunc(c.atOnce, func() {
		cancel()
		time.Sleep(lastWords)
		if done.Load() {
			exit(c.err, "stopped at once")
		}
		exit(c.err, errStoppedAtOnce.Error())
	})
	return hard, func() { done.Store(true) }
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
