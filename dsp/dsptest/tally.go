package dsptest

import (
	"sync"
	"testing"
)

// A Tally counts by kind what should not be found, and where it was. It may be used by
// several goroutines.
type Tally struct {
	T             *testing.T
	lock          sync.Mutex
	seen, flagged map[string]int
}

// Add counts one of a kind; what was found is logged where it is flagged.
func (c *Tally) Add(kind string, what any, flagged bool) bool {
	c.lock.Lock()
	defer c.lock.Unlock()
	if c.seen == nil {
		c.seen, c.flagged = map[string]int{}, map[string]int{}
	}
	c.seen[kind]++
	if flagged {
		c.flagged[kind]++
		c.T.Logf("%s: %+v", kind, what)
	}
	return flagged
}

// Log tells what was counted.
func (c *Tally) Log() {
	for kind, n := range c.seen {
		c.T.Logf("%-32s %5d clean, %d flagged", kind, n, c.flagged[kind])
	}
}
