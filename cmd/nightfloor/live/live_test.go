package live

import (
	"bytes"
	"context"
	"log/slog"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"nightfloor/capture"
	"nightfloor/capture/capturetest"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// A handClock is set by hand.
type handClock struct{ at time.Time }

func (c *handClock) Now() time.Time { return c.at }

func (c *handClock) Sleep(context.Context, time.Duration) error { return nil }

// receiver is one that is simulated, or not.
type receiver struct {
	capture.Receiver
	simulated bool
}

func (r receiver) Info() capture.Info { return capture.Info{Simulated: r.simulated} }

var loop = survey.Setup{Antenna: "loop", Placement: "loft", Bearing: survey.BearingOf(110)}

// newLine gives the line of a survey of 24 rounds that begins at 21:00 CET, what its journal got,
// and its clock.
func newLine(t *testing.T, edit func(r *capture.Recorder)) (*Line, *bytes.Buffer, *handClock) {
	t.Helper()
	zone := time.Local
	time.Local = time.FixedZone("CET", 3600)
	t.Cleanup(func() { time.Local = zone })
	clock := &handClock{time.Date(2026, 11, 3, 21, 0, 0, 0, time.Local)}
	var journal bytes.Buffer
	r := &capture.Recorder{Plan: plan.Plan{Rounds: 24}, Clock: clock, Receiver: receiver{capturetest.New(capturetest.Sky{}), false},
		Log: slog.New(slog.NewTextHandler(&journal, nil))}
	if edit != nil {
		edit(r)
	}
	return New(console.New(nil, nil, &journal), r), &journal, clock
}

// sweep is one through the loop, overloaded on 49 m and without a floor on 25 m.
func sweep() *survey.Sweep {
	return &survey.Sweep{Setup: loop, Readings: []survey.Reading{
		{Segment: survey.Segment{Name: "49 m"}, Floor: &survey.Floor{Density: -96.04}, Quality: survey.Quality{Flags: []string{survey.FlagOverload}}},
		{Segment: survey.Segment{Name: "31 m"}, Floor: &survey.Floor{Density: -98.2}},
		{Segment: survey.Segment{Name: "25 m"}, Quality: survey.Quality{Flags: []string{survey.FlagCrowded}}},
	}}
}

// hears has a line in round 3 hear a sweep.
func (l *Line) hears(clock *handClock) {
	for round := 1; round <= 3; round++ {
		l.Visiting(survey.Visit{Round: round, Asked: loop, Reached: loop, Start: clock.at}, true)
		clock.at = clock.at.Add(10 * time.Minute)
	}
	l.Stored(sweep())
}

// Numbers are grouped as everywhere.
func TestLineOfManyRounds(t *testing.T) {
	l, _, clock := newLine(t, func(r *capture.Recorder) { r.Plan.Rounds = 2400 })
	l.Visiting(survey.Visit{Round: 1205, Asked: loop, Reached: loop, Start: clock.at}, true)
	if want := "round 1,205 of 2,400  loop@loft:110"; l.Text() != want {
		t.Errorf("%q, want %q", l.Text(), want)
	}
}

// The line holds as much as the width has room for, the most needful first.
func TestLineAtWidths(t *testing.T) {
	l, _, clock := newLine(t, func(r *capture.Recorder) { r.Until = time.Date(2026, 11, 4, 7, 0, 0, 0, time.FixedZone("CET", 3600)) })
	l.hears(clock)
	// Rounds of 10 min, the third from 21:20 on: 22 of them end at 01:00.
	for width, want := range map[int]string{
		0:   "round 3 of 24  loop@loft:110  49 m −96.0  31 m −98.2  dBFS/Hz  overload on 49 m  crowded on 25 m  ends ≈ 01:00 CET",
		120: "round 3 of 24  loop@loft:110  49 m −96.0  31 m −98.2  dBFS/Hz  overload on 49 m  crowded on 25 m  ends ≈ 01:00 CET",
		110: "round 3 of 24  loop@loft:110  49 m −96.0  31 m −98.2  overload on 49 m  crowded on 25 m  ends ≈ 01:00 CET",
		77:  "round 3 of 24  loop@loft:110  49 m −96.0  overload on 49 m  ends ≈ 01:00 CET",
		60:  "round 3 of 24  loop@loft:110  49 m −96.0  ends ≈ 01:00 CET",
		40:  "round 3 of 24  loop@loft:110  49 m −96.0",
		50:  "round 3 of 24  loop@loft:110  ends ≈ 01:00 CET",
		37:  "round 3 of 24  loop@loft:110", // the unit alone says nothing
		24:  "round 3 of 24  loop@…110",
		20:  "round 3 of 24",
		10:  "loop…110",
	} {
		got := l.text(clock.at, width)
		if got != want || width > 0 && utf8.RuneCountInString(got) > width {
			t.Errorf("width %d:\n got %q\nwant %q", width, got, want)
		}
	}
}

// However narrow, no figure of the simulated house stands there without that word.
func TestSimulatedFiguresSaySo(t *testing.T) {
	l, _, clock := newLine(t, func(r *capture.Recorder) { r.Receiver = receiver{r.Receiver, true} })
	l.hears(clock)
	for width := 1; width < 120; width++ {
		if got := l.text(clock.at, width); strings.Contains(got, "−9") && !strings.Contains(got, "simulated") {
			t.Errorf("width %d: %q", width, got)
		}
	}
}

// What the line says, whole, in each turn that a survey can take.
func TestLineSays(t *testing.T) {
	until := time.Date(2026, 11, 4, 7, 0, 0, 0, time.FixedZone("CET", 3600))
	asked := survey.Visit{Round: 1, Asked: loop}
	other := loop
	other.Bearing = survey.BearingOf(70)
	for _, test := range []struct {
		name string
		edit func(r *capture.Recorder)
		tell func(l *Line, clock *handClock)
		want string
	}{
		{"the beginning", nil, func(*Line, *handClock) {}, "no round begun"},
		{"a change", nil, func(l *Line, _ *handClock) { l.Visiting(asked, false) }, "round 1 of 24  changing to loop@loft:110"},
		{"one that failed", nil, func(l *Line, _ *handClock) { l.Visiting(asked, true) }, "round 1 of 24  loop@loft:110 not in place"},
		{"another setup in place", nil, func(l *Line, _ *handClock) {
			l.Stored(sweep()) // of the round before, through the one asked for
			v := asked
			v.Reached = other
			l.Visiting(v, true)
		}, "round 1 of 24  loop@loft:70"},
		{"time, no rounds", func(r *capture.Recorder) { r.Plan.Rounds, r.Until = 0, until }, func(l *Line, _ *handClock) { l.Visiting(asked, false) },
			"round 1  changing to loop@loft:110  ends 07:00 CET"},
		{"neither", func(r *capture.Recorder) { r.Plan.Rounds = 0 }, func(l *Line, _ *handClock) { l.Visiting(asked, false) },
			"round 1  changing to loop@loft:110  until interrupted"},
		{"days", func(r *capture.Recorder) { r.Until = until.AddDate(0, 0, 2) }, func(l *Line, _ *handClock) { l.Visiting(asked, false) },
			"round 1 of 24  changing to loop@loft:110  ends Fri 07:00 CET"},
		{"rounds that end after the time", func(r *capture.Recorder) { r.Until = time.Date(2026, 11, 3, 22, 0, 0, 0, time.FixedZone("CET", 3600)) },
			func(l *Line, clock *handClock) {
				l.hears(clock)
				l.Visiting(survey.Visit{Round: 4, Asked: loop}, false)
			},
			"round 4 of 24  changing to loop@loft:110  ends 22:00 CET"},
		{"the simulated house", func(r *capture.Recorder) { r.Receiver = receiver{simulated: true} }, func(l *Line, _ *handClock) { l.Visiting(asked, false) },
			"simulated: round 1 of 24  changing to loop@loft:110"},
		{"silence", nil, func(l *Line, clock *handClock) {
			l.hears(clock)
			clock.at = clock.at.Add(43 * time.Minute)
		}, "round 3 of 24  loop@loft:110  nothing stored for 43 min  ends ≈ 01:00 CET"},
		{"a pause that the plan has", func(r *capture.Recorder) { r.Plan.Every = 30 * time.Minute; r.Plan.Rounds = 0 }, func(l *Line, clock *handClock) {
			l.Stored(sweep())
			l.Visiting(asked, false)
			clock.at = clock.at.Add(43 * time.Minute)
		}, "round 1  changing to loop@loft:110  until interrupted"},
		{"a name that a terminal would obey", nil, func(l *Line, _ *handClock) {
			l.Visiting(survey.Visit{Round: 1, Asked: survey.Setup{Antenna: "\x1b[2J", Placement: "loft"}}, false)
		}, `round 1 of 24  changing to "\x1b[2J"@loft`},
	} {
		l, _, clock := newLine(t, test.edit)
		test.tell(l, clock)
		if got := l.Text(); got != test.want {
			t.Errorf("%s:\n got %q\nwant %q", test.name, got, test.want)
		}
	}
}

// A journal gets the line once an hour of the recorder's clock, whatever the survey waits for, and
// wherever the clock is set to.
func TestLineInAJournal(t *testing.T) {
	l, journal, clock := newLine(t, nil)
	l.hears(clock)
	for range 10 * 60 {
		clock.at = clock.at.Add(time.Minute)
		for range 3 {
			l.Alive()
		}
		if clock.at.Minute() == 7 {
			l.Stored(sweep())
		}
	}
	lines := strings.Split(strings.TrimSpace(journal.String()), "\n")
	if len(lines) != 10 {
		t.Errorf("%d lines in 10 h:\n%s", len(lines), journal)
	}
	for i, line := range lines {
		// Begun at 21:00, heard since 21:30; from 22:07 on it is stored at 7 minutes past the hour.
		if want := `level=INFO msg="round 3 of 24  loop@loft:110  nothing stored for `; !strings.Contains(line, want) {
			t.Errorf("line %d: %s; want %s", i, line, want)
		}
	}
	journal.Reset()
	l.Stored(sweep())
	clock.at = clock.at.Add(-8 * time.Hour) // set back
	l.Alive()
	l.Alive()
	clock.at = clock.at.Add(59 * time.Minute)
	l.Alive()
	if got := journal.String(); strings.Count(got, "\n") != 1 || !strings.Contains(got, "49 m −96.0  31 m −98.2") {
		t.Errorf("after the clock was set back: %s", got)
	}
}
