package main

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"testing"

	"nightfloor/capture/scene"
	"nightfloor/reports/input"
	"nightfloor/reports/onair"
	"nightfloor/reports/result"
	"nightfloor/reports/series"
	"nightfloor/store"
	"nightfloor/survey"
)

var studyWhip, loftWhip = survey.Setup{Antenna: "whip", Placement: "study"}, survey.Setup{Antenna: "whip", Placement: "loft"}

// TestAmateurBandOfTheHouse records 30 m in the simulated house, from I/Q on, while its supplies put lines
// into it, and compares two whips by what is on the air there. Both hear every wave alike but for what the walls
// take, so that the difference of their SNR is that of losses and floors.
func TestAmateurBandOfTheHouse(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: 100 s of I/Q, too much for the race detector")
	}
	t.Parallel() // others wait meanwhile
	held := 0
	for seed := 3; seed < 3+*houses; seed++ {
		uri := fmt.Sprintf("scene:house?seed=%d", seed)
		in, air := airOfTheHouse(t, uri)
		segment := in.Ranked()[0]
		built, combs := advantageOfTheLoft(t, uri, in, segment)
		var rounds []input.RoundKey
		for n := range 12 {
			rounds = append(rounds, input.RoundKey{Survey: 1, Round: n + 1})
		}
		c, ok := air.Compare(segment, rounds, loftWhip, studyWhip)
		if !ok || c.ByRound == nil || c.Rounds != 12 || combs == 0 {
			t.Fatalf("%s: %+v, %d combs found", uri, c, combs)
		}
		y := series.Series{Values: c.ByRound, Stratum: make([]int, 12)}
		for n := range rounds {
			y.Times = append(y.Times, float64(n))
		}
		f := series.Of(y)
		m := f.All(series.Pool([]*series.Fit{f}, 2))
		low, high, _ := m.Interval()
		t.Logf("%s: built in %.1f dB, found %.1f (%.1f … %.1f) by %d quantiles of %d slots, %d combs found", uri,
			built, m.Mean, low, high, c.Quantiles, c.Slots, combs)
		if low <= built && built <= high {
			held++
		}
	}
	if held*10 < 9**houses {
		t.Errorf("in its interval in %d of %d houses, want 9 of 10", held, *houses)
	}
}

// airOfTheHouse records a survey and gives its rows and what is on the air in them.
func airOfTheHouse(t *testing.T, uri string) (input.Selection, *onair.Air) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "air.db")
	if status, _, errOut := command(t, "record", "--quiet", "--plan", "testdata/on-air.toml", "--receiver", uri, "--db", path); status != 0 {
		t.Fatalf("record: status %d: %s", status, errOut)
	}
	db, err := store.OpenReadOnly(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var ranked result.Rank
	if _, out, errOut := command(t, "report", "rank", "--format", "json", "--db", path); json.Unmarshal([]byte(out), &ranked) != nil {
		t.Fatalf("report rank: %s", errOut)
	}
	if s := ranked.Segments[0]; s.Of != result.OfTransmissions || s.Verdict == nil || len(s.Setups) != 2 || s.Setups[0].Low == nil {
		t.Errorf("%s: ranked by %s, verdict %+v, want %s", uri, s.Of, s.Verdict, result.OfTransmissions)
	}
	in, err := loadRows(t.Context(), db, store.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	selected, err := input.Select(in, input.Options{})
	if err != nil {
		t.Fatal(err)
	}
	air := onair.New(selected)
	for _, name := range air.Segments() {
		err := db.Spectra(t.Context(), store.Filter{Segment: name}, func(reading int64, s *survey.Spectrum) error {
			air.Add(reading, s)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return selected, air
}

// advantageOfTheLoft gives by how much the whip in the loft hears better than that in the study, and how
// often a comb was found.
func advantageOfTheLoft(t *testing.T, uri string, in input.Selection, segment survey.Segment) (built float64, combs int) {
	t.Helper()
	house, err := scene.Open(uri, scene.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer house.Close()
	first, last := in.Sweeps[0], in.Sweeps[len(in.Sweeps)-1]
	advantage, _, err := house.Truth().Advantage(loftWhip, studyWhip, segment.Low, segment.High, first.Start, last.Start)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range in.Sweeps {
		for _, f := range s.Readings[0].Findings {
			if f.Kind == survey.FindingComb && f.Detected() {
				combs++
			}
		}
	}
	return float64(advantage), combs
}
