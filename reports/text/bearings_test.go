package text

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"nightfloor/reports/doubt"
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

// Of an antenna with two bearings one thing is said, once for all segments and all that was heard.
func TestSilentAntenna(t *testing.T) {
	b := spun()
	why := doubt.New(doubt.FewBearings, doubt.Count{N: 2, Noun: "bearing"}, 4)
	for i := range b.Patterns {
		p := &b.Patterns[i]
		p.Null, p.NullLow, p.NullHigh, p.Peak, p.Depth, p.DepthLow, p.DepthHigh, p.Fall, p.NoNull, p.Points = nil, nil, nil, nil, nil, nil, nil, nil, &why, p.Points[:2]
	}
	other := slices.Clone(b.Patterns)
	for i := range other {
		other[i].Segment = "25 m"
	}
	b.Patterns = append(b.Patterns, other...)
	var table, summary bytes.Buffer
	if err := errors.Join(WriteTable(&table, b, reporttest.Zone, Width), WriteSummary(&summary, result.Report{Bearings: b}, reporttest.Zone, Width)); err != nil {
		t.Fatal(err)
	}
	const want = "loop@attic on 31 m and 25 m: null not measured: 2 bearings (opposite ones count once), and a null\nneeds 4\n" +
		"  31 m, the floor's levels\n      000°   −1.5   015°   −0.1\n  25 m, the floor's levels\n      000°   −1.5   015°   −0.1\n"
	if !strings.Contains(table.String(), want) || strings.Count(table.String(), "null not measured") != 1 || strings.Contains(table.String(), "MHz") {
		t.Errorf("want\n%s\nin\n%s", want, table.String())
	}
	if strings.Count(summary.String(), "loop@attic") != 1 {
		t.Errorf("want one line of the loop in\n%s", summary.String())
	}
}

// Many patterns are told by how many they are, and a null that was not looked for by itself.
func TestRemarks(t *testing.T) {
	shallow, few := doubt.New(doubt.PerhapsShallow, 3.0), doubt.New(doubt.FewRoundsForNull, doubt.Count{N: 5, Noun: "round"}, 6)
	frequency, spacing, id := survey.Hz(9.42e6), survey.Hz(65e3), 2
	carrier := result.Pattern{Of: result.OfCarrier, Frequency: &frequency, NoNull: &shallow}
	source := result.Pattern{Of: result.OfNoiseSource, Spacing: &spacing, Source: &id, NoNull: &few}
	all := []result.Pattern{{Of: result.OfFloor, NoNull: &shallow}, carrier, carrier, carrier, source}
	got := Remarks(all)
	if len(got) != 2 || got[0].String() != "floor and 3 carriers: no null claimed: it may be less than 3 dB deep" || got[1].String() != "source 2 (65.0 kHz): null not measured: 5 rounds, and a null needs 6" {
		t.Errorf("%q", got)
	}
}

// What a turn is worth is said of the floor and of noise sources, and where the floor rises.
func TestTurnWords(t *testing.T) {
	null, id := 128.2, 2
	db := func(x float64) *survey.DB { return result.DB(x) }
	p := result.Pattern{Of: result.OfNoiseSource, Source: &id, Null: &null, Fall: &result.Fall{DB: db(16.6), Low: db(16.2), High: db(17.1)}}
	for _, test := range []struct {
		floor *result.Fall
		want  string
	}{
		{nil, "turned to 128° / 308°: source 2 falls by 16.6 dB (16.2 … 17.1)"},
		{&result.Fall{DB: db(2), Low: db(1.5), High: db(2.5)}, "turned to 128° / 308°: source 2 falls by 16.6 dB (16.2 … 17.1), the floor by 2.0 dB (1.5 … 2.5)"},
		{&result.Fall{DB: db(-1), Low: db(-1.5), High: db(-0.5)}, "turned to 128° / 308°: source 2 falls by 16.6 dB (16.2 … 17.1), the floor rises by 1.0 dB (0.5 … 1.5)"},
	} {
		p.FloorFall = test.floor
		if got := TurnWords(&p); got != test.want {
			t.Errorf("%s\nwant %s", got, test.want)
		}
	}
	p.Of, p.Source, p.FloorFall, p.Fall = result.OfFloor, nil, nil, &result.Fall{Low: db(14)}
	if got := TurnWords(&p); got != "turned to 128° / 308°: the floor falls by more than 14.0 dB" {
		t.Error(got)
	}
	p.Of = result.OfCarrier
	if got := TurnWords(&p); got != "" {
		t.Error(got)
	}
}
