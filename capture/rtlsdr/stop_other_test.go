//go:build !linux && !darwin && !freebsd && !netbsd

package rtlsdr

import (
	"testing"
	"time"
)

// stopFor cannot stop a process on this system.
func stopFor(t *testing.T, _ time.Duration) time.Time {
	t.Error("processes cannot be stopped on this system")
	return time.Now()
}
