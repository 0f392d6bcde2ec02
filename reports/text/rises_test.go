package text

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// sampleRises is a night with a device that is on twice, noted once, one still on at the
// end, and the ionosphere.
func sampleRises() result.NoiseSources {
	d := reporttest.NewTide(7, func(k, i int, hours float64) float64 {
		return reporttest.Dishwasher(k, i, hours) + reporttest.Dusk(hours, 10, 3) + reporttest.Between(hours, 14.5, 99, 7)
	})
	d.Mark = func(r *survey.Reading, k, i int, hours float64) {
		if reporttest.Dishwasher(k, i, hours) > 0 {
			reporttest.Comb(r, -95)
		}
	}
	d.Events = []survey.Event{{Survey: 1, At: d.Start.Add(3 * time.Hour), Text: "dish\x1bwasher on"}}
	return noiseIn(d.Input(), input.Options{})
}

func TestGoldenRises(t *testing.T) {
	found := sampleRises()
	for name, write := range map[string]func(b *bytes.Buffer) error{
		"rises.txt":         func(b *bytes.Buffer) error { return WriteTable(b, found, reporttest.Zone) },
		"rises-summary.txt": func(b *bytes.Buffer) error { return WriteSummary(b, result.Report{Noise: found}, reporttest.Zone) },
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
	if err := result.WriteJSON(&b, noiseIn(reporttest.NewTide(1, nil).Input(), input.Options{})); err != nil || !strings.Contains(b.String(), `"rises": []`) {
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
	var b strings.Builder
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
