package main

import (
	"os"
	"os/signal"
	"syscall"
)

// nextInterrupt gives a channel that hears the next interrupt.
func nextInterrupt() <-chan os.Signal {
	c := make(chan os.Signal, 1)
	signal.Notify(c, os.Interrupt, syscall.SIGTERM)
	return c
}
