package reports

import (
	"bytes"
	"encoding/json"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/quality"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/text"
	"nightfloor/survey"
)

func repeaked(id int64, antenna string, at time.Time) survey.Event {
	return survey.Event{Survey: id, At: at, Text: antenna + " repeaked", Repeaked: antenna}
}

// halfway is a still world whose antenna B, 5 dB better than A, is repeaked after half
// of the rounds and hears 3 dB better from then on. It gives the time, too.
func halfway() (input.Input, time.Time) {
	in := reporttest.Still().Input()
	in.Surveys[0].Receiver = dongle
	var at time.Time
	for _, s := range in.Sweeps {
		if s.Round <= 12 {
			at = s.Start.Add(time.Second) // its reading takes half of one
			continue
		}
		for c := range s.Readings[0].Carriers {
			if s.Setup.Antenna == "antenna B" {
				s.Readings[0].Carriers[c].Power *= stats.FromDecibel(3)
			}
		}
	}
	in.Events = []survey.Event{repeaked(1, "antenna B", at)}
	return in, at
}

// Two states of an antenna are ranked apart: 5 and 8 dB, not 6.5 dB together. The time
// in the name is that of the event: rounds of 3 visits of 3 sweeps each 10 s take 90 s,
// 12 of them from 18:00 on end at 18:18, and the last sweep of them begins at 18:17:50.
func TestStatesAreRankedApart(t *testing.T) {
	in, at := halfway()
	if want := time.Date(2026, 11, 3, 18, 17, 51, 0, time.UTC); !at.Equal(want) {
		t.Fatalf("repeaked at %v, want %v", at, want)
	}
	w := reporttest.Still()
	later := w.Setup(1)
	later.Antenna, later.State = "antenna B (repeaked 3 Nov 18.17 UTC)", survey.State{Antenna: "antenna B", Clock: "18.17"}
	rank := ranked(t, in, input.Options{})
	s := rank.Segments[0]
	if len(s.Setups) != 4 || rank.Reference != w.Setup(0) {
		t.Fatalf("%d setups against %v", len(s.Setups), rank.Reference)
	}
	for setup, want := range map[survey.Setup]float64{w.Setup(1): 5, later: 8, w.Setup(2): -2} {
		reporttest.Near(t, setup.Antenna, reporttest.Find(t, s, setup).SNRAdvantage, want, 0.1)
	}
	if a, b := reporttest.Find(t, s, w.Setup(1)).Rounds, reporttest.Find(t, s, later).Rounds; a != 12 || b != 12 {
		t.Errorf("%d and %d rounds, want 12 each", a, b)
	}
	// By its name the state serves as reference, in every form in which it is written.
	for _, text := range []string{later.Antenna, later.String()} {
		ref, note, err := input.Reference(reporttest.Selected(in, input.Options{}).Input, text)
		if err != nil || note != "" || ref != later {
			t.Errorf("%q: %v, %q, %v", text, ref, note, err)
		}
	}
}

// The default reference stays its first state, and the input what it was.
func TestReferenceStaysTheFirstState(t *testing.T) {
	in, at := halfway()
	in.Events = append(in.Events, repeaked(1, "antenna A", at))
	report, notes, err := reportOf(in, input.Options{})
	if err != nil || len(notes) != 0 {
		t.Fatal(notes, err)
	}
	if report.Rank.Reference != reporttest.Still().Setup(0) {
		t.Errorf("reference %v", report.Rank.Reference)
	}
	for _, s := range in.Sweeps {
		if strings.Contains(s.Setup.Antenna, "repeaked") {
			t.Fatalf("the input's sweep bears %v", s.Setup)
		}
	}
}

// A state begins with the first sweep that begins at the event or after it. Readings
// in hand at the event belong to none, a sweep without others is left out; a second
// choice changes nothing, and what calibrations know is still found.
func TestSweepsInHandWhenRepeaked(t *testing.T) {
	at := func(minute int) time.Time { return gainStart.Add(time.Duration(minute) * time.Minute) }
	long := atGain(loop, 4, label(30), -120) // a second reading ends at 4 min 3 s
	second := long.Readings[0]
	second.ID, second.Start = 100, at(4).Add(2*time.Second)
	long.Readings = append(long.Readings, second)
	in := ofWhip(atGain(whip, 0, label(30), -120), atGain(loop, 1, label(30), -120), atGain(loop, 2, label(30), -120), atGain(loop, 3, label(30), -120),
		long, atGain(loop, 5, label(30), -120), atGain(whip, 6, label(30), -120))
	in.Surveys[0].Receiver = dongle
	in.Calibrations = []survey.Calibration{noiseRun(time.Hour, -121)}
	in.Events = []survey.Event{
		repeaked(1, "loop", at(4).Add(2500*time.Millisecond)), // in the second reading of long
		repeaked(1, "loop", at(2).Add(500*time.Millisecond)),  // in the only one of the sweep
		repeaked(1, "loop", at(3)),                            // as the sweep begins
		repeaked(2, "whip", at(0)),                            // in another survey
		{Survey: 1, At: at(0), Text: "kettle on"},
	}
	want := []string{"whip 0", "loop 1", "loop (repeaked 3 Nov 19.03 UTC) 3", "loop (repeaked 3 Nov 19.03 UTC) 4", "loop (repeaked 3 Nov 19.04 UTC) 5", "whip 6"}
	once := reporttest.Selected(in, input.Options{}).Input
	for name, chosen := range map[string]input.Input{"once": once, "twice": reporttest.Selected(once, input.Options{}).Input} {
		var got []string
		for _, s := range chosen.Sweeps {
			got = append(got, s.Setup.Antenna+" "+strconv.Itoa(s.Round-1))
			if len(s.Readings) != 1 || !s.Readings[0].Quality.Has(survey.FlagReceiverLimited) || chosen.CalibrationOf(s, 0) == nil {
				t.Errorf("%s, %v: %d readings, calibrated %v", name, s.Setup, len(s.Readings), chosen.CalibrationOf(s, 0) != nil)
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
}

// A later survey through an antenna that an earlier one repeaked is a doubt; by
// itself it is none.
func TestRepeakedInAnEarlierSurvey(t *testing.T) {
	in := ofWhip(atGain(whip, 0, exact(30), -120), atGain(loop, 1, exact(30), -120), atGain(whip, 200, exact(30), -120), atGain(loop, 201, exact(30), -120))
	in.Surveys = append(in.Surveys, survey.Survey{ID: 2, First: whip, Start: gainStart.Add(200 * time.Minute)})
	for _, s := range in.Sweeps[2:] {
		s.Survey = 2
	}
	in.Events = []survey.Event{repeaked(1, "loop", gainStart.Add(2*time.Minute))}
	spoken := func(r *result.Report) bool {
		return slices.ContainsFunc(r.Doubts, func(d doubt.Doubt) bool {
			return slices.Equal(d.Figures, []any{int64(2), "loop", int64(1)}) && d.Kind == doubt.Pooled
		})
	}
	for id, want := range map[int64]bool{0: true, 2: false} {
		report, _, err := reportOf(in, input.Options{Survey: id})
		if err != nil || spoken(report) != want {
			t.Errorf("survey %d: %v, %q; want the doubt: %v", id, err, report.Doubts, want)
		}
	}
}

// The quality lists a survey's events in order: JSON has all of them, a table the
// first dozen, and those that make an antenna another.
func TestEventsInTheQuality(t *testing.T) {
	in := ofWhip(atGain(whip, 0, exact(30), -120))
	for i := range 40 {
		in.Events = append(in.Events, survey.Event{Survey: 1, At: gainStart.Add(time.Duration(40-i) * time.Minute), Text: "kettle\x1b on"})
	}
	in.Events = append(in.Events, repeaked(1, "loop", gainStart.Add(time.Hour)), survey.Event{Survey: 2, At: gainStart, Text: "elsewhere"})
	q := quality.Of(reporttest.Selected(in, input.Options{}))
	var b bytes.Buffer
	if err := result.WriteJSON(&b, q); err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Surveys []struct {
			Events []struct {
				At       time.Time
				Text     string
				Repeaked *string
			}
		}
	}
	if err := json.Unmarshal(b.Bytes(), &doc); err != nil {
		t.Fatal(err)
	}
	events := doc.Surveys[0].Events
	if len(events) != 41 || !events[0].At.Equal(gainStart.Add(time.Minute)) || events[0].Repeaked != nil || events[40].Repeaked == nil || *events[40].Repeaked != "loop" {
		t.Errorf("%d events: %+v", len(events), events)
	}
	b.Reset()
	if err := text.WriteTable(&b, q, reporttest.Zone, text.Width); err != nil {
		t.Fatal(err)
	}
	const mostEvents = 12 // as many as a person is shown
	shown := b.String()
	for _, want := range []string{"  noted: 3 Nov 2026 20:01:00 CET, kettle\\x1b on\n", "  noted: 3 Nov 2026 21:00:00 CET, loop is another antenna from then on: loop repeaked\n", "  noted: 29 more; report quality --format json lists all\n"} {
		if !strings.Contains(shown, want) {
			t.Errorf("no %q in\n%s", want, shown)
		}
	}
	if n := strings.Count(shown, "noted: "); n != mostEvents+1 || strings.Contains(shown, "elsewhere") {
		t.Errorf("%d lines of events, want %d\n%s", n, mostEvents+1, shown)
	}
	b.Reset()
	if err := result.WriteJSON(&b, quality.Of(reporttest.Selected(ofWhip(atGain(whip, 0, exact(30), -120)), input.Options{}))); err != nil || !strings.Contains(b.String(), `"events": []`) {
		t.Errorf("%v, without events: %s", err, b.String())
	}
}
