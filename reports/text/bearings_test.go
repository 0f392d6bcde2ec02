package text

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// spun is a loop turned beside a whip, with a null of its floor, one of a station, and a station
// without one.
func spun() result.Bearings {
	w := reporttest.NewWorld(4)
	w.Rounds, w.Sweeps, w.Fade, w.Levels = 12, 1, 1, []float64{25, 20, 30}
	w.Gain, w.Floor = make([]float64, 13), slices.Repeat([]float64{-100}, 13)
	in := w.Input()
	in.Surveys[0].First = survey.Setup{Antenna: "whip", Placement: "attic"}
	for _, s := range in.Sweeps {
		k := 0
		for s.Setup != w.Setup(k) {
			k++
		}
		r := &s.Readings[0]
		for c := range r.Carriers { // the receiver's clock does not wander
			r.Carriers[c].Frequency = survey.Hz(9.42e6 + 15e3*float64(c))
		}
		s.Setup = in.Surveys[0].First
		if k == 0 {
			continue
		}
		s.Setup = survey.Setup{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(15 * float64(k-1))}
		response := func(null, depth float64) float64 { // sin² of the angle from the null, filled up
			share, sin := stats.FromDecibel(-depth), math.Sin((s.Setup.Bearing.Deg-null)*math.Pi/180)
			return share + (1-share)*sin*sin
		}
		r.Floor.Density += survey.DBFSPerHz(stats.Decibel(response(123, 13)))
		for c, null := range []struct{ bearing, depth float64 }{{100, 8}, {30, 15}, {70, 1}} {
			r.Carriers[c].Power *= response(null.bearing, null.depth)
		}
	}
	return bearingsIn(in, input.Options{})
}

func TestBearingsGolden(t *testing.T) {
	b := spun()
	for name, write := range map[string]func(w *bytes.Buffer) error{
		"bearings.txt":    func(w *bytes.Buffer) error { return WriteTable(w, b, reporttest.Zone, Width) },
		"bearings-80.txt": func(w *bytes.Buffer) error { return WriteTable(w, b, reporttest.Zone, 80) },
		"bearings.json":   func(w *bytes.Buffer) error { return result.WriteJSON(w, b) },
		"bearings.csv":    func(w *bytes.Buffer) error { return WriteCSV(w, b) },
	} {
		var got bytes.Buffer
		if err := write(&got); err != nil {
			t.Fatal(err)
		}
		golden(t, name, got.Bytes())
		checkWidth(t, name, got.String())
	}
	var none bytes.Buffer
	if err := WriteTable(&none, bearingsIn(reporttest.NewWorld(1).Input(), input.Options{}), reporttest.Zone, Width); err != nil || !strings.Contains(none.String(), "no antenna was heard in several bearings") {
		t.Errorf("%s%v", none.String(), err)
	}
}

// TestBearingsJSONIsWhole wants every field of the contract, null where it does not apply.
func TestBearingsJSONIsWhole(t *testing.T) {
	var b bytes.Buffer
	if err := result.WriteJSON(&b, spun()); err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Schema   string
		Patterns []map[string]any
	}
	if err := json.Unmarshal(b.Bytes(), &doc); err != nil || doc.Schema != "nightfloor/bearings/1" || len(doc.Patterns) != 4 {
		t.Fatalf("%s, %d patterns, %v", doc.Schema, len(doc.Patterns), err)
	}
	for _, p := range doc.Patterns {
		for _, field := range []string{"antenna", "placement", "segment", "low_hz", "high_hz", "of", "frequency_hz", "spacing_hz", "envelope_hz",
			"null_deg", "null_low_deg", "null_high_deg", "peak_deg", "depth_db", "depth_low_db", "depth_high_db", "reference", "points"} {
			if _, ok := p[field]; !ok {
				t.Errorf("%v pattern without %s", p["of"], field)
			}
		}
		for _, field := range []string{"bearing_deg", "level_db", "low_db", "high_db", "visits"} {
			if _, ok := p["points"].([]any)[0].(map[string]any)[field]; !ok {
				t.Errorf("point without %s", field)
			}
		}
	}
	if last := doc.Patterns[3]; last["null_deg"] != nil || last["of"] != "carrier" || last["frequency_hz"] != 9450000.0 {
		t.Errorf("a station without a null: %v", last)
	}
}

// TestBearingsInTheSummary: a line an antenna and a segment, none where nothing was turned.
func TestBearingsInTheSummary(t *testing.T) {
	var with, without bytes.Buffer
	if err := errors.Join(WriteSummary(&with, result.Report{Bearings: spun()}, reporttest.Zone, Width), WriteSummary(&without, result.Report{}, reporttest.Zone, Width)); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(with.String(), "loop@attic on 31 m: null of the floor at 123° / 303°, 13.0 dB under the peak") || strings.Contains(without.String(), "By bearing") {
		t.Errorf("with a turned antenna:\n%s\nwithout:\n%s", with.String(), without.String())
	}
}
