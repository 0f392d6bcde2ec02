package main

import (
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A recording is the same whatever start is given for it, and what is stored of it is said.
func TestOneRecordingWithTwoStarts(t *testing.T) {
	start := time.Date(2026, 11, 3, 21, 4, 10, 0, time.UTC)
	bare := noiseIn(t, t.TempDir(), "loop.cu8")
	named := noiseIn(t, t.TempDir(), "9650kHz 48ksps 20261103T210410Z.cu8")
	described := writeSigMF(t, filepath.Join(t.TempDir(), "x"), antenna{name: "loop"}, start, make([]byte, 40_000))
	for _, file := range []string{bare, named, described} {
		database := filepath.Join(t.TempDir(), "night.db")
		args := []string{"import", file, "--db", database, "--antenna", "loop@loft", "--center", "9650kHz", "--rate", "48kHz"}
		first := args
		if file == bare {
			first = append(args, "--start", "2026-11-03T21:04:10Z")
		}
		if status, out, errOut := command(t, first...); status != 0 || !strings.HasPrefix(out, "stored 1, ") {
			t.Fatalf("%s: status %d, %s%s", file, status, out, errOut)
		}
		status, out, errOut := command(t, append(args, "--start", "2026-11-05T21:04:10Z")...)
		want := "as heard through loop@loft; skipped, and its start stays " + start.Local().Format("2 Jan 2006 15:04:05 MST") +
			": nightfloor database remove-survey takes a survey out to import it anew\n"
		if status != 0 || !strings.HasPrefix(out, "stored 0, skipped 1 ") || !strings.Contains(errOut, want) {
			t.Errorf("%s: status %d, %sno %q in %s", file, status, out, want, errOut)
		}
	}
}
