package main

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"testing"

	"nightfloor/capture/scene"
	"nightfloor/reports/result"
	"nightfloor/store"
	"nightfloor/survey"
)

// TestAmateurBandOfTheHouse records 30 m in the simulated house, from I/Q to the report, while its supplies put lines
// into it: two whips are ranked by what is on the air there, and what the walls take and the floors make of it
// is within the interval.
func TestAmateurBandOfTheHouse(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: 100 s of I/Q, too much for the race detector")
	}
	t.Parallel() // others wait meanwhile
	study, loft := survey.Setup{Antenna: "whip", Placement: "study"}, survey.Setup{Antenna: "whip", Placement: "loft"}
	held := 0
	for seed := 3; seed < 3+*houses; seed++ {
		uri := fmt.Sprintf("scene:house?seed=%d", seed)
		segment, path := rankingOfTheHouse(t, uri)
		house, err := scene.Open(uri, scene.Options{})
		if err != nil {
			t.Fatal(err)
		}
		defer house.Close()
		_, first, last := gainAndTimes(t, path)
		built, _, err := house.Truth().Advantage(loft, study, segment.Low, segment.High, first, last)
		if err != nil {
			t.Fatal(err)
		}
		at := slices.IndexFunc(segment.Setups, func(s result.RankSetup) bool { return s.Setup == loft })
		if at < 0 || segment.Setups[at].Low == nil {
			t.Fatalf("%s: no interval: %+v", uri, segment)
		}
		found := segment.Setups[at]
		t.Logf("%s: built in %.1f dB, found %.1f (%.1f … %.1f)", uri, built, *found.SNRAdvantage, *found.Low, *found.High)
		if *found.Low <= built && built <= *found.High {
			held++
		}
	}
	if held*10 < 9**houses {
		t.Errorf("in its interval in %d of %d houses, want 9 of 10", held, *houses)
	}
}

// rankingOfTheHouse records an amateur band, in which combs are found, and gives its ranking over the whole
// time, and the database.
func rankingOfTheHouse(t *testing.T, uri string) (segment result.RankSegment, path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "air.db")
	if status, _, errOut := command(t, "record", "--quiet", "--plan", "testdata/on-air.toml", "--receiver", uri, "--db", path); status != 0 {
		t.Fatalf("record: status %d: %s", status, errOut)
	}
	db, err := store.OpenReadOnly(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	combs := 0
	err = db.Sweeps(t.Context(), store.Filter{}, func(s *survey.Sweep) error {
		for _, f := range s.Readings[0].Findings {
			if f.Kind == survey.FindingComb && f.Detected() {
				combs++
			}
		}
		return nil
	})
	if err != nil || combs == 0 {
		t.Fatalf("%d combs found, %v: the house is no test", combs, err)
	}
	status, out, errOut := command(t, "report", "rank", "--format", "json", "--db", path)
	var found result.Rank
	if status != 0 || json.Unmarshal([]byte(out), &found) != nil || len(found.Segments) == 0 {
		t.Fatalf("report rank: status %d: %s%s", status, errOut, out)
	}
	segment = found.Segments[0]
	if !found.Simulated || segment.Of != result.OfTransmissions || segment.Period != result.PeriodAll || segment.Segment != "30 m amateur" {
		t.Fatalf("%+v", segment)
	}
	return segment, path
}
