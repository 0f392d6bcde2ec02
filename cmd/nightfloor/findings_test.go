package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"nightfloor/dsp/dsptest"
	"nightfloor/store"
	"nightfloor/survey"
)

// A supply of 65.012 kHz about 9.65 MHz: lines of 137 to 160 times that lie in the
// usable passband of 1.6 MHz, which is 24, on noise whose power swings with the mains.
const (
	supplySpacing = 65012.0
	supplyLines   = 24
	supplyNoise   = -92.0 // dBFS/Hz
	supplyLevel   = -63.0 // dBFS, of each line
	supplyDepth   = 0.6
	supplyRate    = 2.4e6
	supplyCentre  = 9.65e6
)

// supplyIQ is half a second of it, with the supply or with plain noise alone.
func supplyIQ(seed uint64, on bool) []byte {
	s := dsptest.New(seed, supplyRate, supplyCentre)
	density := math.Pow(10, supplyNoise/10)
	if on {
		s.Gated(dsptest.Gated{Mean: density, Mains: 50, Depth: supplyDepth})
		s.Comb(dsptest.Comb{Spacing: supplySpacing, Level: supplyLevel, Mains: 50, Low: supplyCentre - supplyRate/2, High: supplyCentre + supplyRate/2})
	} else {
		s.Noise(density)
	}
	return dsptest.U8(nil, s.Samples(supplyRate/2))
}

// measuredFinding is a finding as the contract has it.
type measuredFinding struct {
	Kind       string
	Spacing    *float64 `json:"spacing_hz"`
	Lines      *int
	Envelope   *float64 `json:"envelope_hz"`
	Mains      *float64 `json:"mains_hz"`
	Depth      *float64
	Strength   *float64 `json:"strength_db"`
	Low        *float64 `json:"low_hz"`
	High       *float64 `json:"high_hz"`
	Confidence float64
}

// findingsOf measures a file of bare codes.
func findingsOf(t *testing.T, file string) (findings []measuredFinding, resolution float64) {
	t.Helper()
	status, out, errOut := command(t, "measure", "--quiet", "--json", "--center", fmt.Sprint(supplyCentre), "--rate", fmt.Sprint(supplyRate), file)
	if status != 0 || errOut != "" {
		t.Fatalf("status %d: %s", status, errOut)
	}
	var document struct {
		Recordings []struct {
			Resolution float64 `json:"resolution_hz"`
			Findings   []measuredFinding
		}
	}
	if err := json.Unmarshal([]byte(out), &document); err != nil || len(document.Recordings) != 1 {
		t.Fatalf("%v in %s", err, out)
	}
	return document.Recordings[0].Findings, document.Recordings[0].Resolution
}

// What is built into a recording is what measure says of it, and nothing else; of plain
// noise it says nothing.
func TestMeasureFindsASupply(t *testing.T) {
	notInShort(t)
	t.Parallel()
	folder := t.TempDir()
	loud, still := filepath.Join(folder, "loud.cu8"), filepath.Join(folder, "still.cu8")
	for file, on := range map[string]bool{loud: true, still: false} {
		if err := os.WriteFile(file, supplyIQ(7, on), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if found, _ := findingsOf(t, still); len(found) != 0 {
		t.Errorf("in plain noise: %+v", found)
	}
	found, resolution := findingsOf(t, loud)
	byKind := map[string]measuredFinding{}
	for _, f := range found {
		byKind[f.Kind] = f
	}
	comb, ok := byKind[survey.FindingComb]
	if !ok {
		t.Fatalf("%+v, want a comb", found)
	}
	// A line of 12 dB over the noise in 110 Hz is placed to some 10 Hz; of 24 about number 149
	// the spacing comes out to 10/149/√24 = 0.014 Hz; half a hertz is three columns at 10 MHz.
	if math.Abs(*comb.Spacing-supplySpacing) > 0.5 || *comb.Lines != supplyLines || comb.Confidence < survey.Confident || comb.Confidence >= 1 {
		t.Errorf("spacing %v, %v lines, confidence %v", *comb.Spacing, *comb.Lines, comb.Confidence)
	}
	if want := supplyLevel - supplyNoise - 10*math.Log10(resolution); math.Abs(*comb.Strength-want) > 0.5 {
		t.Errorf("%.2f dB over the floor, want %.2f", *comb.Strength, want)
	}
	if *comb.Low != supplyCentre-supplyRate/3 || *comb.High != supplyCentre+supplyRate/3 {
		t.Errorf("%v–%v, want the usable passband", *comb.Low, *comb.High)
	}
	if comb.Envelope != nil || comb.Depth != nil || comb.Mains == nil || *comb.Mains != 50 {
		t.Errorf("a comb has an envelope or a depth, or not the mains of the noise beside it: %+v", comb)
	}
	// The tolerance of the depth is the detector's own (dsp); half a second resolves 2 Hz.
	mains, ok := byKind[survey.FindingMains]
	if !ok || len(found) != 2 {
		t.Fatalf("%+v, want a comb and noise modulated by the mains", found)
	}
	if math.Abs(*mains.Envelope-100) > 0.5 || *mains.Mains != 50 || math.Abs(*mains.Depth-supplyDepth) > 0.05 || mains.Spacing != nil || mains.Strength != nil {
		t.Errorf("%+v", mains)
	}
}

// Of a supply whose lines themselves swing with the mains, over noise that does not, the comb
// has the beat: of an amplitude 1 + 0.5·sin, a depth of 2·0.5/(1 + 0.5²) of the power.
func TestMeasureTellsTheBeatOfLines(t *testing.T) {
	notInShort(t)
	t.Parallel()
	file := filepath.Join(t.TempDir(), "beating.cu8")
	s := dsptest.New(9, supplyRate, supplyCentre).Noise(math.Pow(10, supplyNoise/10))
	s.Comb(dsptest.Comb{Spacing: supplySpacing, Level: supplyLevel, Mains: 50, Depth: 0.5, Wobble: 0.3, Low: supplyCentre - supplyRate/2, High: supplyCentre + supplyRate/2})
	if err := os.WriteFile(file, dsptest.U8(nil, s.Samples(supplyRate/2)), 0o644); err != nil {
		t.Fatal(err)
	}
	found, _ := findingsOf(t, file)
	if len(found) != 1 || found[0].Kind != survey.FindingComb {
		t.Fatalf("%+v, want one comb", found)
	}
	comb := found[0]
	if comb.Mains == nil || *comb.Mains != 50 || comb.Envelope == nil || math.Abs(*comb.Envelope-100) > 0.5 || comb.Depth == nil || math.Abs(*comb.Depth-0.8) > 0.1 {
		t.Errorf("mains %v, envelope %v, depth %v", comb.Mains, comb.Envelope, comb.Depth)
	}
}

// Recordings of it through a whip that hears it and a loop that does not come to stand
// in the database with comb and mains-modulated noise in both, in the loop's by force.
func TestImportedFindingsAreStored(t *testing.T) {
	notInShort(t)
	t.Parallel()
	folder := t.TempDir()
	database := filepath.Join(folder, "night.db")
	args := []string{"import", "--db", database, "--segment", "9400-9900"}
	for i, name := range []string{"loop", "whip"} {
		start := time.Date(2026, 11, 3, 21, i, 0, 0, time.UTC)
		args = append(args, writeSupply(t, filepath.Join(folder, name), name, start, supplyIQ(uint64(i), name == "whip")))
	}
	if status, _, errOut := command(t, args...); status != 0 {
		t.Fatalf("status %d: %s", status, errOut)
	}
	db, err := store.OpenReadOnly(t.Context(), database)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	// The density swings by depth times its mean: squared, that compares.
	built := map[string]float64{survey.FindingComb: math.Pow(10, supplyLevel/10), survey.FindingMains: math.Pow(supplyDepth*math.Pow(10, supplyNoise/10), 2)}
	seen := map[string]int{}
	err = db.Sweeps(t.Context(), store.Filter{}, func(s *survey.Sweep) error {
		for _, f := range s.Readings[0].Findings {
			seen[f.Kind]++
			want := 0.0
			if s.Setup.Antenna == "whip" {
				want = built[f.Kind]
			}
			// 5 % for a line's place between columns.
			if f.Detected() != (want > 0) || !(f.Sigma > 0) || math.Abs(f.Power-want) > 4.5*f.Sigma+0.05*want {
				t.Errorf("%v: %+v, want a power of %.3g", s.Setup, f, want)
			}
		}
		return nil
	})
	if err != nil || len(seen) != 2 || seen[survey.FindingComb] != 2 || seen[survey.FindingMains] != 2 {
		t.Errorf("stored %v, %v, want both kinds twice", seen, err)
	}
}

// writeSupply writes a SigMF pair.
func writeSupply(t *testing.T, name, antenna string, at time.Time, iq []byte) string {
	t.Helper()
	text, err := json.Marshal(map[string]any{
		"global":      map[string]any{"core:datatype": "cu8", "core:version": "1.2.5", "core:sample_rate": supplyRate, "antenna:model": antenna, "nightfloor:placement": "attic"},
		"captures":    []any{map[string]any{"core:sample_start": 0, "core:frequency": supplyCentre, "core:datetime": at.Format(time.RFC3339), "capture_details:gain": 20.0}},
		"annotations": []any{},
	})
	if err != nil {
		t.Fatal(err)
	}
	for suffix, content := range map[string][]byte{".sigmf-meta": text, ".sigmf-data": iq} {
		if err := os.WriteFile(name+suffix, content, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return name + ".sigmf-meta"
}
