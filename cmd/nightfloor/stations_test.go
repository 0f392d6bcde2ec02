package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"nightfloor/reports/result"
)

// TestAmateurBandsOfTheHouse records a short night of the simulated house, in whose sky there are
// broadcasters alone: on amateur bands nothing but lines of its supplies is heard, by which no setup
// hears best, and 31 m is ranked by its broadcasters.
func TestAmateurBandsOfTheHouse(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: 12 s of I/Q, too much for the race detector")
	}
	t.Parallel() // others wait meanwhile
	folder := t.TempDir()
	text := "[receiver]\nsample_rate = \"1.6 MHz\"\n[turns]\ndwell = \"250ms\"\nsweeps = 1\nrounds = 8\nevery = \"2m\"\nseed = 1\n" +
		"[[setup]]\nantenna = \"whip\"\nplacement = \"study\"\n[[setup]]\nantenna = \"loop\"\nplacement = \"loft\"\nbearings = [20]\n"
	for _, band := range []string{"40 m amateur", "30 m amateur", "31 m"} {
		text += fmt.Sprintf("[[segment]]\nband = %q\n", band)
	}
	path, plan := filepath.Join(folder, "night.db"), filepath.Join(folder, "amateur.toml")
	if err := os.WriteFile(plan, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if status, _, errOut := command(t, "record", "--quiet", "--plan", plan, "--receiver", "scene:house?seed=1", "--db", path); status != 0 {
		t.Fatalf("record: status %d: %s", status, errOut)
	}
	status, out, errOut := command(t, "report", "rank", "--format", "json", "--db", path)
	var found result.Rank
	if status != 0 || json.Unmarshal([]byte(out), &found) != nil || len(found.Segments) == 0 {
		t.Fatalf("report rank: status %d: %s%s", status, errOut, out)
	}
	for _, s := range found.Segments {
		t.Logf("%s, %s: %s by %d carriers; %q", s.Segment, s.Period, s.Verdict.Kind, s.Setups[0].Carriers, s.Doubts)
		if want := s.Segment == "31 m"; (s.Setups[0].Carriers >= 10) != want || (s.Verdict.Kind == result.VerdictNoStations) == want {
			t.Errorf("%s, %s: %s by %d carriers", s.Segment, s.Period, s.Verdict.Kind, s.Setups[0].Carriers)
		}
	}
}
