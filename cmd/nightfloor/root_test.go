package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"nightfloor/cmd/nightfloor/console"
)

// A command that the operator stops says so in plain words, and once; measure stores nothing.
func TestStoppedByOperator(t *testing.T) {
	folder := t.TempDir()
	iq, db := filepath.Join(folder, "night.cu8"), filepath.Join(folder, "night.db")
	if err := os.WriteFile(iq, make([]byte, 1<<20), 0o644); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for _, args := range [][]string{
		{"measure", iq, "--center", "9.65MHz", "--rate", "2.4MHz"},
		{"import", iq, "--center", "9.65MHz", "--rate", "2.4MHz", "--antenna", "whip", "--db", db},
		{"record", "--plan", "testdata/two-setups.toml", "--receiver", "scene:house", "--db", db},
		{"demo", "--out", folder},
	} {
		var out, errOut bytes.Buffer
		status := run(ctx, console.New(strings.NewReader(""), &out, &errOut), args)
		lines := strings.Split(strings.TrimSpace(errOut.String()), "\n")
		want := ": " + stoppedByOperator
		if args[0] == "measure" {
			want = "measure: 0 of 1 recording done: stopped by the operator; nothing is stored, and the command can be given again"
		}
		if last := lines[len(lines)-1]; status != 1 || !strings.HasSuffix(last, want) || strings.Contains(errOut.String(), "context") {
			t.Errorf("%s: status %d: %s", args[0], status, errOut.String())
		}
	}
}
