package judge

import (
	"slices"
	"testing"
	"time"
	_ "time/tzdata" // Europe/Berlin, wherever the test runs

	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
	"nightfloor/survey"
)

// On the equator at longitude 0 on the day of the equinox the sun's middle stands on the
// horizon at 6 h and 18 h of true time, 3.3 minutes later and earlier at −0.833° (0.25° a
// minute), and true noon is 7.4 minutes after 12:00 on 20 March: up 6:04, down 18:11.
func TestSunriseAndSunset(t *testing.T) {
	sun := input.SunAt{Lat: 0, Lon: 0}
	day := time.Date(2026, 3, 20, 0, 0, 0, 0, time.UTC)
	for _, test := range []struct {
		want time.Duration
		rise bool
	}{{6*time.Hour + 4*time.Minute, true}, {18*time.Hour + 11*time.Minute, false}} {
		all := crossingsOf(sun, input.Span{First: day, Last: day.AddDate(0, 0, 2)}, test.rise)
		if len(all) != 2 {
			t.Fatalf("in two days %v, rise: %t", all, test.rise)
		}
		for n, at := range all {
			if off := at.Sub(day.AddDate(0, 0, n).Add(test.want)); off.Abs() > 2*time.Minute {
				t.Errorf("%v, %v off", at, off)
			}
		}
	}
	if all := crossingsOf(input.SunAt{Lat: 75, Lon: 0}, input.Span{First: day.AddDate(0, 3, 0), Last: day.AddDate(0, 3, 1)}, true); len(all) > 0 {
		t.Errorf("sunrises in the midnight sun: %v", all)
	}
}

// A reading of 1970 does not make the sun be looked at through all years to 2026: the sun rose near it
// (7:03 UTC), and by the others it did not.
func TestFarReading(t *testing.T) {
	din := reporttest.NewDin(1)
	din.Rounds = 2
	in := din.Input()
	far := time.Date(1970, 1, 1, 7, 0, 0, 0, time.UTC)
	in.Sweeps[0].Start = far
	for i := range in.Sweeps[0].Readings {
		in.Sweeps[0].Readings[i].Start = far
	}
	slices.SortFunc(in.Sweeps, func(a, b *survey.Sweep) int { return a.Start.Compare(b.Start) })
	l := readlog.New(in)
	if parts := stretches(l, 1); len(parts) != 2 || parts[0].Last.After(far.Add(time.Minute)) || parts[1].First.Before(din.Start.Add(-sunStep)) {
		t.Errorf("stretches %v, want one at %v and one from %v", parts, far, din.Start)
	}
	if rises, sets := crossings(l, true), crossings(l, false); len(rises) != 1 || len(sets) > 0 {
		t.Errorf("%d sunrises, %d sunsets, want 1 and none", len(rises), len(sets))
	}
}

// Times of day are told where they agree, across midnight too.
func TestClockHabit(t *testing.T) {
	at := func(day, hour, minute int) readlog.Edge {
		when := time.Date(2026, 11, day, hour, minute, 0, 0, reporttest.Zone)
		return readlog.Edge{Survey: 1, Seen: when, Unseen: when.Add(-5 * time.Minute)}
	}
	for _, test := range []struct {
		edges []readlog.Edge
		want  string
	}{
		{[]readlog.Edge{at(3, 19, 2), at(4, 19, 0), at(5, 19, 1)}, "comes on at 19:02, 19:00, 19:01 local time"},
		{[]readlog.Edge{at(3, 19, 2), at(4, 6, 0), at(4, 19, 0), at(5, 6, 1)}, "comes on at 19:02, 19:00 and 06:00, 06:01 local time"},
		{[]readlog.Edge{at(3, 23, 58), at(5, 0, 3)}, "comes on at 23:58, 00:03 local time"},
		{[]readlog.Edge{at(3, 19, 2), at(4, 16, 0), at(5, 12, 1)}, ""},
		{[]readlog.Edge{at(3, 19, 2)}, ""},
		{[]readlog.Edge{at(3, 19, 2), at(4, 19, 14)}, "comes on at 19:02, 19:14 local time"},
		{[]readlog.Edge{at(3, 19, 2), at(4, 19, 20)}, ""},
	} {
		if got := clockHabit(test.edges, "comes on", reporttest.Zone); got != test.want {
			t.Errorf("%q, want %q", got, test.want)
		}
	}
}

// A source that comes on within half an hour of sunset comes on with it.
func TestComesOnAtSunset(t *testing.T) {
	l := roundsOf(30, 6*time.Minute, segment)
	s := alwaysOn(l, func(int) survey.Finding { return survey.Finding{Kind: survey.FindingComb, Spacing: 65013} })
	sunset := l.Rounds[10].First
	for late, want := range map[time.Duration]string{20 * time.Minute: "comes on 20 minutes after sunset, once", 40 * time.Minute: ""} {
		edge := readlog.Edge{Survey: 1, Seen: sunset.Add(late + 2*time.Minute), Unseen: sunset.Add(late - 2*time.Minute)}
		if got, _ := (&known{Log: l}).sunHabit(s, []readlog.Edge{edge}, "comes on", "sunset", [][]crossing{{{1, sunset}}}); got != want {
			t.Errorf("%v late: %q, want %q", late, got, want)
		}
	}
}

// In the night of 25 October 2026 clocks in Berlin go back from 3:00 CEST to 2:00 CET: the same
// time on the clock is 25 hours apart, and 22:00 to 2:30 lasts five and a half hours.
func TestClockChange(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	at := func(day, hour int) readlog.Edge {
		when := time.Date(2026, 10, day, hour, 0, 0, 0, berlin)
		return readlog.Edge{Survey: 1, Seen: when, Unseen: when.Add(-5 * time.Minute)}
	}
	if got, want := clockHabit([]readlog.Edge{at(24, 19), at(25, 19)}, "comes on", berlin), "comes on at 19:00, 19:00 local time"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got := clockHabit([]readlog.Edge{at(24, 20), at(25, 19)}, "comes on", berlin); got != "" {
		t.Errorf("24 hours apart: %q", got)
	}
}
