package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"nightfloor/cmd/nightfloor/console"
	"nightfloor/dsp/dsptest"
)

// command runs a command line in process and gives what it printed.
func command(t *testing.T, args ...string) (status int, out, errOut string) {
	t.Helper()
	var o, e bytes.Buffer
	status = run(t.Context(), console.New(strings.NewReader(""), &o, &e), args)
	return status, o.String(), e.String()
}

// antenna is what the test builds in: by how much an antenna hears stations
// and noise louder than the first.
type antenna struct {
	name          string
	bearing       *float64
	signal, noise float64 // dB
}

// field is a stretch of the 31 m band with stations, recorded by turns.
type field struct {
	antennas []antenna
	stations []float64 // SNR in 9 kHz through the first antenna, dB
	rounds   int
	seed     uint64
}

const (
	fieldRate   = 256e3
	fieldCentre = 9_627_300.0
	fieldFloor  = -92.0 // dBFS/Hz through the first antenna: 2.1 codes rms
)

// write records every round through every antenna, the order turning from
// round to round, and gives the files.
func (f field) write(t *testing.T, folder string) []string {
	t.Helper()
	rng := rand.New(rand.NewPCG(f.seed, 1))
	start := time.Date(2026, 11, 3, 20, 0, 0, 0, time.UTC)
	var files []string
	for round := range f.rounds {
		fade := make([]float64, len(f.stations))
		for i := range fade {
			fade[i] = 3 * rng.NormFloat64() // heard by all antennas alike
		}
		for turn := range f.antennas {
			a := f.antennas[(turn+round)%len(f.antennas)]
			s := dsptest.New(rng.Uint64(), fieldRate, fieldCentre)
			s.Noise(math.Pow(10, (fieldFloor+a.noise)/10))
			for i, snr := range f.stations {
				level := fieldFloor + 10*math.Log10(9e3) + snr + a.signal + fade[i] + rng.NormFloat64()
				s.Station(dsptest.Station{Hz: 9_555e3 + 15e3*float64(i) + 3, Level: level, Depth: 0.3})
			}
			at := start.Add(time.Duration(round*len(f.antennas)+turn) * time.Minute)
			name := filepath.Join(folder, fmt.Sprintf("r%02d-%s", round, a.name))
			files = append(files, writeSigMF(t, name, a, at, dsptest.U8(nil, s.Samples(fieldRate/2))))
		}
	}
	return files
}

// writeSigMF writes a pair by the letter of SigMF 1.2.5 and the contract.
func writeSigMF(t *testing.T, name string, a antenna, at time.Time, iq []byte) string {
	t.Helper()
	return writeTuned(t, name, a, at, iq, fieldRate, fieldCentre)
}

func writeTuned(t *testing.T, name string, a antenna, at time.Time, iq []byte, rate, centre float64) string {
	t.Helper()
	annotation := map[string]any{"core:sample_start": 0, "core:sample_count": len(iq) / 2}
	if a.bearing != nil {
		annotation["antenna:azimuth_angle"] = *a.bearing
	}
	meta := map[string]any{
		"global": map[string]any{
			"core:datatype": "cu8", "core:version": "1.2.5", "core:sample_rate": rate,
			"core:extensions": []any{
				map[string]any{"name": "antenna", "version": "1.0.0", "optional": true},
				map[string]any{"name": "capture_details", "version": "1.0.0", "optional": true},
				map[string]any{"name": "nightfloor", "version": "1.0.0", "optional": true}},
			"antenna:model": a.name, "nightfloor:placement": "attic",
		},
		"captures": []any{map[string]any{"core:sample_start": 0, "core:frequency": centre,
			"core:datetime": at.Format("2006-01-02T15:04:05.000Z"), "capture_details:gain": 20.0}},
		"annotations": []any{annotation},
	}
	text, err := json.Marshal(meta)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name+".sigmf-meta", text, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name+".sigmf-data", iq, 0o644); err != nil {
		t.Fatal(err)
	}
	return name + ".sigmf-meta"
}

// rankDocument is what the test reads of the ranking.
type rankDocument struct {
	Reference struct{ Antenna string }
	Segments  []struct {
		Segment, Period string
		Setups          []rankSetup
	}
}

type rankSetup struct {
	Antenna      string
	Bearing      *float64 `json:"bearing_deg"`
	Rank         int
	Advantage    *float64 `json:"snr_advantage_db"`
	Low          *float64 `json:"low_db"`
	High         *float64 `json:"high_db"`
	SignalChange *float64 `json:"signal_change_db"`
	FloorChange  *float64 `json:"floor_change_db"`
	MayBeBest    bool     `json:"may_be_best"`
	Rounds       int
}

// Recordings made by the time-domain generator (which shares nothing with the
// simulated house) are imported and ranked by the command line alone.
func TestImportedRecordingsAreRankedAsBuilt(t *testing.T) {
	notInShort(t)
	t.Parallel()
	bearing := 40.0
	f := field{
		antennas: []antenna{{name: "whip"}, {name: "loop", bearing: &bearing, signal: 1, noise: -3}, {name: "wire", signal: -4, noise: 4}},
		stations: []float64{22, 18, 14, 10, 6, 3, 0, -2, -4}, rounds: 12, seed: 3,
	}
	folder := t.TempDir()
	files := f.write(t, folder)
	database := filepath.Join(folder, "survey.db")
	status, out, errOut := command(t, append([]string{"import", "--db", database, "--segment", "9550-9700", "--json"}, files...)...)
	if status != 0 {
		t.Fatalf("import: status %d: %s", status, errOut)
	}
	var imported struct{ Stored, Skipped, Setups, Rounds int }
	if err := json.Unmarshal([]byte(out), &imported); err != nil {
		t.Fatal(err)
	}
	if imported.Stored != 36 || imported.Setups != 3 || imported.Rounds != 12 {
		t.Errorf("import: %+v, want 36 stored, 3 setups, 12 rounds", imported)
	}
	status, out, errOut = command(t, "report", "rank", "--db", database, "--format", "json")
	if status != 0 {
		t.Fatalf("report: status %d: %s", status, errOut)
	}
	var rank rankDocument
	if err := json.Unmarshal([]byte(out), &rank); err != nil {
		t.Fatal(err)
	}
	if rank.Reference.Antenna != "whip" || len(rank.Segments) != 1 || len(rank.Segments[0].Setups) != 3 {
		t.Fatalf("ranking: %s", out)
	}
	// Each antenna's own fading is 1 dB a station and round: the mean of 9
	// stations and 12 rounds is good to sqrt(2/108) = 0.14 dB; three sigma, and
	// 0.15 dB for quantisation and floors.
	const tol = 0.55
	for i, want := range []struct {
		name      string
		advantage float64
	}{{"loop", 4}, {"whip", 0}, {"wire", -8}} {
		got := rank.Segments[0].Setups[i]
		if got.Antenna != want.name || got.Rank != i+1 || got.Rounds != 12 || got.Advantage == nil || got.SignalChange == nil {
			t.Fatalf("place %d: %+v, want %s", i+1, got, want.name)
		}
		if math.Abs(*got.Advantage-want.advantage) > tol {
			t.Errorf("%s: advantage %.2f dB, want %.1f ± %.2f", want.name, *got.Advantage, want.advantage, tol)
		}
		if d := *got.Advantage - (*got.SignalChange - *got.FloorChange); math.Abs(d) > 0.01 {
			t.Errorf("%s: advantage is not signal change − floor change: off by %.3f dB", want.name, d)
		}
		if want.name != "whip" && (got.Low == nil || *got.Low > want.advantage+tol || *got.High < want.advantage-tol) {
			t.Errorf("%s: interval %v–%v", want.name, got.Low, got.High)
		}
	}
	t.Logf("%s", out)
}
