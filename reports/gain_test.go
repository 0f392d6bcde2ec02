package reports

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"nightfloor/reports/floor"
	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/reports/waterfall"
	"nightfloor/survey"
)

// One noise, −120 dBFS/Hz at 20 dB of gain, seen through two setups at three gains:
// a step of gain is no step of the floor, and equal floors are equal.
func TestFloorsStandAtOneGain(t *testing.T) {
	in := ofWhip(
		atGain(loop, 0, exact(35), -105), // the earliest of all is not the reference's
		atGain(whip, 1, exact(20), -120), atGain(whip, 2, exact(30), -110), atGain(loop, 3, exact(25), -115),
		atGain(whip, 61, exact(40), -100))
	table := floor.Of(reporttest.Selected(in, input.Options{}))
	if len(table.Rows) != 3 || len(table.Doubts) != 0 {
		t.Fatalf("%d rows, doubts %q; want 3 and none", len(table.Rows), table.Doubts)
	}
	for _, r := range table.Rows {
		if r.Gain == nil || *r.Gain != 20 {
			t.Errorf("%v from %v: gain %v, want the reference's earliest, 20 dB", r.Setup, r.From, r.Gain)
		}
		if q := *r.DBFSHz; math.Abs(q.P10+120) > 1e-9 || math.Abs(q.P50+120) > 1e-9 || math.Abs(q.P90+120) > 1e-9 {
			t.Errorf("%v from %v: %+v, want −120 throughout", r.Setup, r.From, q)
		}
	}
	var shown bytes.Buffer
	if err := text.WriteCSV(&shown, table); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&shown).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if i := slices.Index(rows[0], "gain_db"); i < 0 || rows[1][i] != "20" {
		t.Errorf("CSV without gain: %q", rows[:2])
	}
	// Another reference, another gain; what compares stays what it is.
	if r := floor.Of(reporttest.Selected(in, input.Options{Reference: "loop"})).Rows[0]; *r.Gain != 35 || math.Abs(r.DBFSHz.P50+105) > 1e-9 {
		t.Errorf("against the loop: gain %v, %+v", *r.Gain, *r.DBFSHz)
	}
}

// Labels of a tuner give no steps: gains that differ are never mixed, and nothing
// that stands apart pretends to compare.
func TestFloorsAtLabelledGains(t *testing.T) {
	in := ofWhip(
		// The first hour: 20 dB, but for one reading at 30 dB.
		atGain(whip, 0, label(30), -90), atGain(whip, 1, label(20), -120), atGain(whip, 2, label(20), -121), atGain(whip, 3, label(20), -122),
		// The second: 30 dB throughout.
		atGain(whip, 60, label(30), -91), atGain(whip, 61, label(30), -92),
		// Another setup without known gain, and one at 20 dB.
		atGain(loop, 5, survey.Gain{}, -80), atGain(loop, 65, label(20), -118))
	table := floor.Of(reporttest.Selected(in, input.Options{}))
	type row struct {
		setup    survey.Setup
		hour     int
		readings int
		p50      float64
		compares bool
	}
	var got []row
	for _, r := range table.Rows {
		got = append(got, row{r.Setup, r.From.Hour(), r.Readings, r.DBFSHz.P50, r.Gain != nil})
		if r.Gain != nil && *r.Gain != 20 {
			t.Errorf("gain %v, want 20 dB, at which most readings of the reference stand", *r.Gain)
		}
	}
	want := []row{{whip, 19, 3, -121, true}, {whip, 20, 2, -91.5, false}, {loop, 19, 1, -80, false}, {loop, 20, 1, -118, true}}
	if !slices.Equal(got, want) {
		t.Errorf("rows %+v\nwant %+v", got, want)
	}
	doubts := fmt.Sprint(table.Doubts)
	if !strings.Contains(doubts, "1 reading left out") || !strings.Contains(doubts, "2 of 4 rows") {
		t.Errorf("doubts %q", table.Doubts)
	}
	var shown bytes.Buffer
	if err := result.WriteJSON(&shown, table); err != nil || !strings.Contains(shown.String(), `"gain_db": null`) || !strings.Contains(shown.String(), `"gain_db": 20`) {
		t.Errorf("%v: %s", err, shown.String())
	}
	r, _, err := reportOf(in, input.Options{})
	if err != nil || !strings.Contains(fmt.Sprint(r.Doubts), "2 of 4 rows") {
		t.Errorf("the report does not hand the doubts on: %q, %v", r.Doubts, err)
	}
}

// Where no gain is known, hours compare with nothing, and the doubts say so once.
func TestFloorsWithoutGain(t *testing.T) {
	table := floor.Of(reporttest.Selected(ofWhip(atGain(whip, 0, survey.Gain{}, -100), atGain(loop, 61, survey.Gain{}, -101)), input.Options{}))
	if len(table.Rows) != 2 || table.Rows[0].Gain != nil || len(table.Doubts) != 1 || !strings.Contains(table.Doubts[0].String(), "no gain of the receiver is known") {
		t.Errorf("%+v", table)
	}
}

// Pictures stand at the gain of the segment's floors; what cannot be brought there is
// left out and counted.
func TestPicturesStandAtOneGain(t *testing.T) {
	in := ofWhip(atGain(whip, 0, exact(20), -120), atGain(whip, 1, exact(30), -110), atGain(whip, 2, survey.Gain{}, -90),
		atGain(loop, 3, exact(25), -115), atGain(loop, 4, exact(25), -115))
	p := waterfall.NewPictures(reporttest.Selected(in, input.Options{}))
	for minute, level := range []float32{-120, -110, -90, -115, -115} {
		p.Add(int64(minute), flat(level))
	}
	p.Add(99, flat(-10)) // of a reading that was not asked for
	pictures, doubts := p.Made()
	if len(pictures) != 2 || len(pictures[0].Times) != 2 || len(pictures[1].Times) != 2 {
		t.Fatalf("%d pictures", len(pictures))
	}
	for _, w := range pictures {
		if w.Gain == nil || *w.Gain != 20 {
			t.Errorf("%v: gain %v, want 20 dB", w.Setup, w.Gain)
		}
		for i, level := range w.DBFSHz {
			if math.Abs(float64(level)+120) > 1e-3 {
				t.Fatalf("%v, value %d: %v, want −120", w.Setup, i, level)
			}
		}
	}
	if len(doubts) != 1 || !strings.Contains(doubts[0].String(), "31 m: 1 spectrum left out of the picture through whip@attic") {
		t.Errorf("doubts %q", doubts)
	}
	// A setup whose gain is not known has a picture that compares with no other.
	in = ofWhip(atGain(whip, 0, label(20), -120), atGain(loop, 1, label(30), -110))
	p = waterfall.NewPictures(reporttest.Selected(in, input.Options{}))
	p.Add(0, flat(-120))
	p.Add(1, flat(-110))
	if pictures, _ = p.Made(); len(pictures) != 2 || pictures[0].Gain == nil || pictures[1].Gain != nil {
		t.Errorf("%+v", pictures)
	}
}
