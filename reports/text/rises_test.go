package text

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// sampleRises is a night with a device that is on twice, noted once, one still on at the
// end, and the ionosphere.
func sampleRises() result.NoiseSources {
	d := reporttest.NewDin(7)
	d.Start = time.Date(2026, 11, 3, 9, 0, 0, 0, time.UTC) // the sun sets at 15:50 UTC there, and rises at 6:05
	in, random := d.Input(), rand.New(rand.NewPCG(7, 13))
	in.Events = []survey.Event{{Survey: 1, At: d.Start.Add(3 * time.Hour), Text: "dish\x1bwasher on"}}
	for _, s := range in.Sweeps {
		hours := s.Start.Sub(d.Start).Hours()
		for i, segment := range []survey.Segment{{Name: "80 m", Low: 3.5e6, High: 3.8e6}, {Name: "60 m", Low: 4.7e6, High: 5.1e6}, {Name: "41 m", Low: 7.2e6, High: 7.5e6}} {
			r, floor := s.Readings[i], *s.Readings[i].Floor
			r.Segment, r.Start, r.Floor, r.Findings = segment, r.Start.Add(3*time.Second), &floor, nil
			s.Readings = append(s.Readings, r)
		}
		for i := range s.Readings {
			r, level := &s.Readings[i], 0.2*random.NormFloat64()
			if hours >= 3.02 && hours < 5.02 && i < 5 && s.Setup != d.Setups[2] {
				level += 6
				if s.Setup == d.Setups[1] {
					level -= 1.5
				}
				r.Findings = append(r.Findings, survey.Finding{Kind: survey.FindingComb, Low: r.Segment.Low, High: r.Segment.High, Spacing: 65013, Lines: 8, Sought: true,
					Power: stats.FromDecibel(-83), Sigma: stats.FromDecibel(-103), Confidence: 0.9999})
			}
			if hours >= 14.5 {
				level += 7
			}
			level += 10 * max(0, min(1, (hours-5.3)/3, (22.6-hours)/3)) // the ionosphere, by night
			r.Floor.Density += survey.DBFSPerHz(level)
			r.Floor.Quiet = r.Floor.Density
		}
	}
	return noiseIn(in, input.Options{})
}

func TestGoldenRises(t *testing.T) {
	found := sampleRises()
	for name, write := range map[string]func(b *bytes.Buffer) error{
		"rises.txt":    func(b *bytes.Buffer) error { return WriteTable(b, found, reporttest.Zone, Width) },
		"rises-80.txt": func(b *bytes.Buffer) error { return WriteTable(b, found, reporttest.Zone, 80) },
		"rises-summary.txt": func(b *bytes.Buffer) error {
			return WriteSummary(b, result.Report{Noise: found}, reporttest.Zone, Width)
		},
		"rises-summary-80.txt": func(b *bytes.Buffer) error { return WriteSummary(b, result.Report{Noise: found}, reporttest.Zone, 80) },
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		golden(t, name, b.Bytes())
		if strings.ContainsRune(b.String(), '\x1b') {
			t.Errorf("%s carries an escape character", name)
		}
		for i, line := range strings.Split(b.String(), "\n") {
			if len([]rune(line)) > 100 {
				t.Errorf("%s:%d is %d characters wide", name, i+1, len([]rune(line)))
			}
		}
	}
}

// Every field is there, null where it does not apply: an end that was not seen.
func TestRisesJSON(t *testing.T) {
	var b bytes.Buffer
	if err := result.WriteJSON(&b, sampleRises()); err != nil {
		t.Fatal(err)
	}
	var doc struct{ Rises []map[string]any }
	if err := json.Unmarshal(b.Bytes(), &doc); err != nil {
		t.Fatal(err)
	}
	open := 0
	for _, r := range doc.Rises {
		for _, field := range []string{"kind", "segments", "segments_measured", "from", "to", "antenna", "placement", "bearing_deg", "rise_db", "low_db", "high_db",
			"events", "sources", "evidence", "against", "strength"} {
			if x, ok := r[field]; !ok || x == nil && field != "to" && field != "bearing_deg" {
				t.Errorf("%v: %s is %v", r["kind"], field, x)
			}
		}
		if r["to"] == nil {
			open++
		}
	}
	if len(doc.Rises) != 3 || open != 1 {
		t.Errorf("%d rises, %d without an end; want 3 and 1", len(doc.Rises), open)
	}
	b.Reset()
	if err := result.WriteJSON(&b, noiseIn(reporttest.NewDin(1).Input(), input.Options{})); err != nil || !strings.Contains(b.String(), `"rises": []`) {
		t.Errorf("%v: no empty array of rises", err)
	}
}

// The CSV has a row for each strength of a rise, under the headings of the sources.
func TestRisesCSV(t *testing.T) {
	found := sampleRises()
	var b bytes.Buffer
	if err := WriteCSV(&b, found); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll() // an error where rows are not as long as the heading
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	steps, want := 0, 0
	for _, r := range found.Rises {
		if r.Kind == result.RiseStep {
			want += len(r.Strength)
		}
	}
	for _, row := range rows {
		if row[column["kind"]] == result.RiseStep {
			steps++
			if row[column["simulated"]] != "true" || row[column["strength_level_db"]] == "" || row[column["first_utc"]] == "" || row[column["segment"]] == "" {
				t.Errorf("%q", row)
			}
		}
	}
	if steps != want {
		t.Errorf("%d rows of steps, want %d", steps, want)
	}
}

// A night in several stretches, and many of them, are one sentence.
func TestManyNightsInWords(t *testing.T) {
	var all []result.Rise
	for n := range 5 {
		from, level := time.Date(2026, 11, 3+n, 19, 0, 0, 0, time.UTC), survey.DB(4+n)
		to := from.Add(8 * time.Hour)
		all = append(all, result.Rise{Kind: result.RiseNight, From: &from, To: &to, Level: &level, Segments: []string{"49 m"}, Measured: 2})
	}
	b := Sheet{Width: Width}
	summaryRises(&b, all, reporttest.Zone)
	want := "\nRises of the floor\n  5 times between 3 Nov 2026 20:00 – 8 Nov 04:00 CET the floor rises in the dark, by up to 8.0 dB,\n" +
		"     with no sign of a device: the ionosphere, no interference\n"
	if b.String() != want {
		t.Errorf("got %q\nwant %q", b.String(), want)
	}
	b.Reset()
	summaryRises(&b, nil, reporttest.Zone)
	if b.Len() > 0 {
		t.Errorf("of none: %q", b.String())
	}
}
