package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"path/filepath"
	"testing"
	"time"

	"nightfloor/capture/scene"
	"nightfloor/reports/result"
	"nightfloor/store"
	"nightfloor/survey"
)

var houses = flag.Int("houses", 1, "in how many simulated houses TestBearingsOfTheHouse turns a loop")

// TestBearingsOfTheHouse turns a loop in the simulated study, from I/Q to the report, and
// wants the floor's null where the scene's own densities, asked for in steps of 0.1°, are
// least: within 5°, and within the 95 % interval in 9 houses of 10.
func TestBearingsOfTheHouse(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: 40 s of I/Q, too much for the race detector")
	}
	t.Parallel() // others wait meanwhile
	near, held, deep := 0, 0, 0
	for seed := 3; seed < 3+*houses; seed++ {
		uri := fmt.Sprintf("scene:house?seed=%d", seed)
		p, path := patternOfTheHouse(t, uri)
		if p.Null == nil {
			t.Fatalf("%s: no null: %s", uri, *p.NoNull)
		}
		null, depth := nullOfTheHouse(t, uri, path, survey.Segment{Low: p.Low, High: p.High})
		t.Logf("%s: built in %.1f°, %.2f dB; found %.1f° (%.1f … %.1f), %.2f dB (%.2f … %.2f)", uri,
			null, depth, *p.Null, *p.NullLow, *p.NullHigh, *p.Depth, *p.DepthLow, *p.DepthHigh)
		if math.Abs(math.Remainder(*p.Null-null, 180)) <= 5 {
			near++
		}
		if *p.NullLow <= null && null <= *p.NullHigh { // nowhere near 0°
			held++
		}
		if float64(*p.DepthLow) <= depth && depth <= float64(*p.DepthHigh) {
			deep++
		}
	}
	t.Logf("of %d houses: null within 5° in %d, in its interval in %d; depth in its interval in %d", *houses, near, held, deep)
	if least := int(math.Ceil(0.9 * float64(*houses))); near < *houses || held < least || deep < least {
		t.Errorf("want all within 5°, and %d in each interval", least)
	}
}

// patternOfTheHouse records a turned loop and gives the pattern of its floor, and the
// database.
func patternOfTheHouse(t *testing.T, uri string) (p result.Pattern, path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "turned.db")
	if status, _, errOut := command(t, "record", "--quiet", "--plan", "testdata/turned-loop.toml", "--receiver", uri, "--db", path); status != 0 {
		t.Fatalf("record: status %d: %s", status, errOut)
	}
	status, out, errOut := command(t, "report", "bearings", "--format", "json", "--db", path)
	var found result.Bearings
	if status != 0 || json.Unmarshal([]byte(out), &found) != nil || len(found.Patterns) == 0 {
		t.Fatalf("report bearings: status %d: %s%s", status, errOut, out)
	}
	p = found.Patterns[0]
	if !found.Simulated || p.Of != result.OfFloor || p.Antenna != "loop" || p.Placement != "study" || p.Rounds != 8 || len(p.Points) != 12 {
		t.Fatalf("%+v", p)
	}
	return p, path
}

// nullOfTheHouse gives bearing and depth of the floor's null through the loop in the
// study: densities in linear power over the segment and over the times of the sweeps.
func nullOfTheHouse(t *testing.T, uri, path string, segment survey.Segment) (null, depth float64) {
	t.Helper()
	house, err := scene.Open(uri, scene.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer house.Close()
	gain, first, last := gainAndTimes(t, path)
	const places, moments = 5, 4
	least, most := math.Inf(1), 0.0
	for tenths := range 1800 {
		setup := survey.Setup{Antenna: "loop", Placement: "study", Bearing: survey.BearingOf(float64(tenths) / 10)}
		var sum float64
		for i := range places {
			for j := range moments {
				f := segment.Low + (segment.High-segment.Low)*survey.Hz((float64(i)+0.5)/places)
				at := first.Add(time.Duration(float64(last.Sub(first)) * (float64(j) + 0.5) / moments))
				d, err := house.Truth().Density(setup, f, gain, at)
				if err != nil {
					t.Fatal(err)
				}
				sum += d.Linear()
			}
		}
		if sum < least {
			null, least = setup.Bearing.Deg, sum
		}
		most = max(most, sum)
	}
	return null, 10 * math.Log10(most/least)
}

// gainAndTimes gives the loop's gain and when the survey's sweeps began and ended.
func gainAndTimes(t *testing.T, path string) (gain survey.DB, first, last time.Time) {
	t.Helper()
	db, err := store.OpenReadOnly(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	err = db.Sweeps(t.Context(), store.Filter{}, func(s *survey.Sweep) error {
		if first.IsZero() {
			first = s.Start
		}
		last = s.Start
		if s.Setup.Antenna == "loop" {
			gain = s.Readings[0].Gain.DB
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return gain, first, last
}
