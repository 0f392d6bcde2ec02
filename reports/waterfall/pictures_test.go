package waterfall

import (
	"math"
	"slices"
	"testing"
	"time"

	"nightfloor/reports/floor"
	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// Two surveys that overlap come one after the other; their rows are put in order of
// time, few or many, and only neighbours in time are put together.
func TestPicturesOfOverlappingSurveys(t *testing.T) {
	start, whip := time.Date(2026, 11, 3, 19, 0, 0, 0, time.UTC), survey.Setup{Antenna: "whip", Placement: "attic"}
	for _, each := range []int{10, 451, 2001} {
		var in input.Input
		for id := range int64(2) {
			begin := start.Add(time.Duration(id) * 30 * time.Second)
			in.Surveys = append(in.Surveys, survey.Survey{ID: id + 1, First: whip, Start: begin})
			for i := range each {
				at := begin.Add(time.Duration(i) * time.Minute)
				in.Sweeps = append(in.Sweeps, &survey.Sweep{Survey: id + 1, Round: i + 1, Setup: whip, Start: at, Readings: []survey.Reading{{ID: id*10000 + int64(i), Start: at,
					Duration: time.Second, Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}, Gain: survey.Gain{DB: 20, Known: true, Exact: true}, Floor: &survey.Floor{Density: -120}}}})
			}
		}
		// The level rises by 40 dB in the whole: it tells the time.
		levelAt := func(at time.Time) float64 { return -120 + 40*at.Sub(start).Minutes()/float64(each) }
		p := NewPictures(reporttest.Selected(in, input.Options{}))
		for _, s := range in.Sweeps { // as the store hands them out, a survey at a time
			level := float32(levelAt(s.Start))
			p.Add(s.Readings[0].ID, &survey.Spectrum{First: 9.4e6, Step: 1000, ENBW: 1.5, Density: slices.Repeat([]float32{level}, 500)})
		}
		pictures, _ := p.Made()
		if len(pictures) != 1 {
			t.Fatalf("%d pictures", len(pictures))
		}
		w := pictures[0]
		if !slices.IsSortedFunc(w.Times, time.Time.Compare) {
			t.Errorf("%d each: rows are not in order of time", each)
		}
		if rows := len(w.Times); rows > waterfallRows || rows < min(2*each, waterfallRows/2) || len(w.DBFSHz) != rows*w.Columns {
			t.Errorf("%d each: %d rows of %d columns, %d values", each, rows, w.Columns, len(w.DBFSHz))
		}
		for r, at := range w.Times {
			// The finest of rows is the 500th part of the whole or so: 0.1 dB; its middle is
			// half a second late.
			if got, want := float64(w.DBFSHz[r*w.Columns]), levelAt(at); math.Abs(got-want) > 0.3 {
				t.Errorf("%d each: row %d at %v: %.2f, want %.2f", each, r, at, got, want)
			}
		}
		rows := floor.Of(reporttest.Selected(in, input.Options{})).Rows
		if !slices.IsSortedFunc(rows, func(a, b result.FloorRow) int { return a.From.Compare(b.From) }) {
			t.Errorf("%d each: hours are not in order of time", each)
		}
	}
}

// Powers out of the table are those of the formula to 0.0001 dB, between its points too.
func TestFastPower(t *testing.T) {
	for level := -250.0; level <= 49; level += 0.01 {
		if off := stats.Decibel(fastPower(level)) - level; math.Abs(off) > 1.2e-4 {
			t.Fatalf("%.2f dB comes back %.5f dB off", level, off)
		}
	}
}
