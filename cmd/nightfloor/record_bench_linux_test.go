package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

var pace = flag.Duration("pace", 3*time.Second, "how long BenchmarkRecordAtTruePace records; for its figures two minutes and more")

// BenchmarkRecordAtTruePace records at 2.4 MS/s from the stand-in, which delivers
// as a dongle does, and gives the share of one core and the memory that record
// takes. The stand-in works in the same process: its own time is taken off.
// The first budget is a quarter of a core; the goal a tenth, and 100 MB.
func BenchmarkRecordAtTruePace(b *testing.B) {
	for b.Loop() {
		t := newBench(b, map[string]float64{"whip": 0, "loop": -6}, func(p string) string {
			return strings.NewReplacer("rounds = 6\n", "", `dwell = "200ms"`, `dwell = "500ms"`, "sweeps = 2", "sweeps = 10").Replace(p)
		})
		status := filepath.Join(t.folder, "status")
		t.control(b, append([]string{"antenna 0", "patient 1", "status " + status}, benchSky...)...)
		t.env = append(t.env, byStandIn+"=") // it goes by the host's time
		cmd := t.command("record", "--plan", t.plan, "--db", t.database, "--for", pace.String())
		begun := time.Now()
		if said, err := cmd.CombinedOutput(); err != nil {
			b.Fatalf("%v %s", err, said)
		}
		took := time.Since(begun).Seconds()
		usage := cmd.ProcessState.SysUsage().(*syscall.Rusage)
		own := standInSeconds(b, status)
		spent := cmd.ProcessState.UserTime().Seconds() + cmd.ProcessState.SystemTime().Seconds() - own
		sweeps, _, _ := t.sweeps(b)
		b.ReportMetric(100*spent/took, "%core")
		b.ReportMetric(100*own/took, "%core-stand-in")
		b.ReportMetric(float64(usage.Maxrss)/1024, "MiB") // kilobytes on Linux
		b.ReportMetric(float64(len(sweeps)), "sweeps")
	}
}

// standInSeconds adds up the processor time that the stand-in reports.
func standInSeconds(b *testing.B, status string) (sum float64) {
	text, err := os.ReadFile(status)
	if err != nil {
		b.Fatal(err)
	}
	for line := range strings.Lines(string(text)) {
		var s float64
		if n, _ := fmt.Sscanf(line, "cpu %f", &s); n == 1 {
			sum += s
		}
	}
	return sum
}
