package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"nightfloor/reports/result"
)

// A plan that lists the simulated house's beacon, and a frequency at which nothing is sent, is ranked by the one, and
// the report says which was heard.
func TestListedInTheHouse(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	file, db := filepath.Join(folder, "plan.toml"), filepath.Join(folder, "night.db")
	const text = `title = "whip against loop"
[receiver]
uri = "scene:house?seed=1"
sample_rate = "1.2 MHz"
[turns]
dwell = "200ms"
sweeps = 1
rounds = 6
every = "2m"
[[setup]]
antenna = "whip"
placement = "study"
[[setup]]
antenna = "loop"
placement = "loft"
bearings = [20]
[[segment]]
band = "20 m amateur"
listed = ["14.1 MHz", "14.2 MHz"]
`
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if status, out, errOut := command(t, "record", "--plan", file, "--db", db); status != 0 {
		t.Fatalf("record: %d\n%s%s", status, out, errOut)
	}
	_, out, errOut := command(t, "report", "rank", "--db", db, "--format", "json")
	var rank result.Rank
	if err := json.Unmarshal([]byte(out), &rank); err != nil {
		t.Fatalf("%v\n%s%s", err, out, errOut)
	}
	s := rank.Segments[0]
	if len(s.Listed) != 2 || !s.Listed[0].Counts || s.Listed[0].Rounds != 6 || s.Listed[1].Counts || s.Of != result.OfListed {
		t.Errorf("of %s: %+v, want the first of two heard", s.Of, s.Listed)
	}
	_, out, _ = command(t, "report", "rank", "--db", db)
	if !strings.Contains(out, "Compared by what the plan lists: 14.1 MHz heard in 6 of 6 rounds, 14.2 MHz not.") {
		t.Error(out)
	}
}
