//go:build linux || darwin || freebsd || netbsd

package rtlsdr

import (
	"fmt"
	"os"
	"os/exec"
	"testing"
	"time"
)

// stopFor stops this process, as a suspended shell job is, and gives when it went on.
func stopFor(t *testing.T, d time.Duration) time.Time {
	script := fmt.Sprintf("kill -STOP %[1]d; sleep %[2]g; kill -CONT %[1]d", os.Getpid(), d.Seconds())
	begun := time.Now()
	if err := exec.Command("sh", "-c", script).Run(); err != nil {
		t.Error(err)
	}
	if time.Since(begun) < d {
		t.Errorf("stopped for %v, want %v", time.Since(begun), d)
	}
	return begun.Add(d)
}
