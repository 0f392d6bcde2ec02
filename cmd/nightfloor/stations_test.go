package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"nightfloor/capture/scene"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// TestAmateurBandsOfTheHouse records a short night of the simulated house, in whose sky there are
// broadcasters, and voices on amateur bands, too few for so short a night: there nothing but lines of its supplies is heard, by which no setup
// hears best, and 31 m is ranked by its broadcasters.
func TestAmateurBandsOfTheHouse(t *testing.T) {
	notInShort(t)
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

// TestImportedAmateurBand imports recordings of an amateur band of the simulated house, six through either of two
// whips: combs are found in single ones, and none of their lines says which antenna hears best.
func TestImportedAmateurBand(t *testing.T) {
	notInShort(t)
	t.Parallel() // others wait meanwhile
	const rate, centre = 1.024e6, 7.1e6
	house, err := scene.Open("scene:house?seed=1", scene.Options{})
	if err != nil {
		t.Fatal(err)
	}
	folder, ctx := t.TempDir(), t.Context()
	args := []string{"import", "--quiet", "--segment", "40 m amateur", "--db", filepath.Join(folder, "imported.db")}
	if _, err := house.Tune(ctx, centre); err != nil {
		t.Fatal(err)
	}
	if _, err := house.SetGain(ctx, 20); err != nil {
		t.Fatal(err)
	}
	for n := range 12 {
		place := []string{"study", "loft"}[n%2]
		if _, err := house.Change(ctx, survey.Setup{Antenna: "whip", Placement: place}); err != nil {
			t.Fatal(err)
		}
		iq := make([]byte, rate)
		for range 2 { // the first holds what was before the change
			if _, err := house.Read(ctx, iq); err != nil {
				t.Fatal(err)
			}
		}
		at := house.Now().Add(-time.Second / 2)
		args = append(args, writeTuned(t, filepath.Join(folder, fmt.Sprintf("r%02d", n)), antenna{name: "whip in the " + place}, at, iq, rate, centre))
		if err := house.Sleep(ctx, time.Minute); err != nil {
			t.Fatal(err)
		}
	}
	if status, _, errOut := command(t, args...); status != 0 {
		t.Fatalf("import: status %d: %s", status, errOut)
	}
	status, out, errOut := command(t, "report", "rank", "--format", "json", "--db", args[5])
	var found result.Rank
	if status != 0 || json.Unmarshal([]byte(out), &found) != nil || len(found.Segments) == 0 {
		t.Fatalf("report rank: status %d: %s%s", status, errOut, out)
	}
	for _, s := range found.Segments {
		t.Logf("%s, %s: %s by %d carriers in %d rounds; %q", s.Segment, s.Period, s.Verdict.Kind, s.Setups[0].Carriers, s.Setups[0].Rounds, s.Doubts)
		if s.Verdict.Kind != result.VerdictNoStations || s.Setups[0].Rounds != 6 {
			t.Errorf("%s, %s: %s", s.Segment, s.Period, s.Verdict.Kind)
		}
	}
}
