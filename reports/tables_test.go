package reports

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/floor"
	"nightfloor/reports/input"
	"nightfloor/reports/quality"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/waterfall"
	"nightfloor/survey"
)

func TestFloorOf(t *testing.T) {
	setup := survey.Setup{Antenna: "whip", Placement: "attic"}
	start := time.Date(2026, 11, 3, 19, 30, 0, 0, time.UTC)
	in := input.Input{}
	for i := range 11 { // −100 … −90 dBFS/Hz within the hour, then one in the next
		at := start.Add(time.Duration(i) * 2 * time.Minute)
		in.Sweeps = append(in.Sweeps, &survey.Sweep{Survey: 1, Setup: setup, Start: at, Readings: []survey.Reading{{Start: at,
			Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}, Floor: &survey.Floor{Density: survey.DBFSPerHz(i - 100)}}}})
	}
	late := *in.Sweeps[0]
	late.Readings = []survey.Reading{late.Readings[0]}
	late.Readings[0].Start, late.Start = start.Add(time.Hour), start.Add(time.Hour)
	in.Sweeps = append(in.Sweeps, &late)
	over := *in.Sweeps[0]
	over.Readings = []survey.Reading{over.Readings[0]}
	over.Readings[0].Quality.Flags = []string{survey.FlagOverload}
	in.Sweeps = append(in.Sweeps, &over)

	rows := floor.Of(reporttest.Selected(in, input.Options{})).Rows
	if len(rows) != 2 {
		t.Fatalf("%d rows, want 2", len(rows))
	}
	if r := rows[0]; r.Readings != 11 || *r.DBFSHz != (result.Quantiles{P10: -99, P50: -95, P90: -91}) || r.Fa != nil ||
		!r.From.Equal(start.Truncate(time.Hour)) || r.To.Sub(r.From) != time.Hour {
		t.Errorf("first hour: %+v %+v", r, *r.DBFSHz)
	}
	if r := rows[1]; r.Readings != 1 || r.DBFSHz.P50 != -100 {
		t.Errorf("second hour: %+v", r)
	}
}

// A segment of which there is no row is not passed over.
func TestFloorSaysWhatIsAbsent(t *testing.T) {
	w := reporttest.NewWorld(1)
	w.Gain, w.Floor = []float64{0, 0, 0}, []float64{-98, -98, -98}
	in := w.Input()
	for _, s := range in.Sweeps {
		r := &s.Readings[0]
		switch {
		case s.Setup == w.Setup(1):
			r.Quality.Flags = []string{survey.FlagOverload}
		case s.Setup == w.Setup(2) && s.Round == 1:
			r.Quality.Flags = []string{survey.FlagOverload}
		case s.Setup == w.Setup(2):
			r.Floor = nil
		}
	}
	table := floor.Of(reporttest.Selected(in, input.Options{}))
	want := []string{w.Setup(1).String() + " on 31 m: no floor, since every reading is overloaded; lower the gain in the plan, or put a filter or an attenuator before the receiver",
		w.Setup(2).String() + " on 31 m: no floor could be told in any reading"}
	var got []string
	for _, d := range table.Doubts {
		got = append(got, d.String())
	}
	slices.Sort(got)
	for _, line := range want {
		if !slices.Contains(got, line) {
			t.Errorf("%q is not in %q", line, got)
		}
	}
	if table = floor.Of(reporttest.Selected(reporttest.NewWorld(1).Input(), input.Options{})); len(table.Doubts) != 0 {
		t.Errorf("nothing is absent: %q", table.Doubts)
	}
}

// Readings of direct sampling without a filter are ranked, and ranking and floors say that what they hear may stand
// elsewhere.
func TestImagesAreSaid(t *testing.T) {
	in := reporttest.Still().Input()
	said := func() (rank, floors bool) {
		rows := floor.Of(reporttest.Selected(in, input.Options{})).Doubts
		return reporttest.HasDoubt(ranked(t, in, input.Options{}).Segments[0], survey.Count(len(in.Sweeps), "reading")+" may hold images (nyquist-image)"),
			slices.ContainsFunc(rows, func(d doubt.Doubt) bool {
				return strings.Contains(d.String(), " of floors by the hour may hold images")
			})
	}
	if rank, floors := said(); rank || floors {
		t.Errorf("without a flag: %v, %v", rank, floors)
	}
	for _, s := range in.Sweeps {
		s.Readings[0].Quality.Flags = []string{survey.FlagNyquistImage}
	}
	if rank, floors := said(); !rank || !floors {
		t.Errorf("flagged: %v, %v", rank, floors)
	}
}

func TestQualityOf(t *testing.T) {
	w := reporttest.NewWorld(1)
	in := w.Input()
	in.Sweeps[3].Readings[0].Quality.Flags = []string{survey.FlagOverload, survey.FlagShort}
	in.Gaps = []survey.Gap{{Survey: 1, From: w.Start, To: w.Start.Add(time.Minute), Why: "receiver unplugged"}, {Survey: 2}}
	in.Surveys = append(in.Surveys, survey.Survey{ID: 2, Start: w.Start.Add(time.Hour)})
	q := quality.Of(reporttest.Selected(in, input.Options{})).Surveys
	if len(q) != 2 {
		t.Fatalf("%d surveys, want 2", len(q))
	}
	one := q[0]
	if one.Rounds != 24 || one.Sweeps != 144 || one.Readings != 144 || len(one.Gaps) != 1 || !one.Simulated || one.Ending != nil {
		t.Errorf("survey 1: %+v", one)
	}
	if one.Flagged[survey.FlagOverload] != 1 || one.Flagged[survey.FlagShort] != 1 || one.Flagged[survey.FlagReceiverLimited] != 0 {
		t.Errorf("flags %v", one.Flagged)
	}
	if last := w.Start.Add(143*w.Interval + 500*time.Millisecond); !one.First.Equal(w.Start) || !one.Last.Equal(last) {
		t.Errorf("from %v to %v, want %v to %v", one.First, one.Last, w.Start, last)
	}
	if two := q[1]; two.First != nil || two.Readings != 0 || two.Flagged[survey.FlagOverload] != 0 {
		t.Errorf("survey 2, which holds nothing: %+v", two)
	}
}

func TestWaterfall(t *testing.T) {
	segment := survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}
	start := time.Date(2026, 11, 3, 19, 0, 0, 0, time.UTC)
	spectrum := &survey.Spectrum{First: 9.45e6, Step: 1000, ENBW: 1.5, Density: make([]float32, 450)}
	b := waterfall.NewBuilder(segment, survey.Setup{Antenna: "whip"})
	for i := range 5000 {
		for c := range spectrum.Density {
			spectrum.Density[c] = -100
			if i >= 2500 {
				spectrum.Density[c] = -90
			}
		}
		b.Add(start.Add(time.Duration(i)*time.Second), time.Second, spectrum, 0)
	}
	p := b.Picture()
	rows := len(p.Times)
	if p.Columns != 400 || rows > 600 || rows < 300 || len(p.DBFSHz) != rows*400 {
		t.Fatalf("%d rows of %d columns, %d values", rows, p.Columns, len(p.DBFSHz))
	}
	for r, at := range p.Times {
		if r > 0 && !at.After(p.Times[r-1]) {
			t.Fatalf("row %d is not later than the one before", r)
		}
		want := -100.0
		if at.Sub(start) > 2500*time.Second {
			want = -90
		}
		if math.Abs(at.Sub(start).Seconds()-2500) < 20 { // the row of the change
			continue
		}
		// 1.25 kHz a column: 9.45 MHz, where the spectrum begins, is column 40.
		if first := p.DBFSHz[r*400+39]; !math.IsNaN(float64(first)) {
			t.Fatalf("row %d: %v where nothing was measured", r, first)
		}
		for c := 40; c < 400; c++ {
			if got := float64(p.DBFSHz[r*400+c]); math.Abs(got-want) > 1e-3 {
				t.Fatalf("row %d column %d: %v, want %v", r, c, got, want)
			}
		}
	}
	if empty := waterfall.NewBuilder(segment, survey.Setup{}).Picture(); len(empty.Times) != 0 || empty.Columns != 0 {
		t.Errorf("no spectra: %+v", empty)
	}
}
