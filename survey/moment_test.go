package survey

import (
	"testing"
	"time"
	_ "time/tzdata" // Europe/Berlin, wherever the test runs
)

// Clocks in Berlin show UTC + 1 h in November, + 2 h in July. On 25 October 2026 they
// go from 3:00 back to 2:00 at 1:00 UTC, on 29 March from 2:00 on to 3:00.
func TestParseMoment(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		text, want string // "" where it is refused
		twice      bool
	}{
		{"2026-11-03T21:04:10Z", "2026-11-03T21:04:10Z", false},
		{"2026-11-03T21:04:10.25+01:00", "2026-11-03T20:04:10.25Z", false},
		{"2026-11-03 21:04:10+01:00", "2026-11-03T20:04:10Z", false},
		{"2026-11-03 21:04", "2026-11-03T20:04:00Z", false},
		{" 2026-07-03T21:04:10 ", "2026-07-03T19:04:10Z", false},
		{"03.11.2026 21:04:10", "2026-11-03T20:04:10Z", false},
		{"3.7.2026 21:04", "2026-07-03T19:04:00Z", false},
		{"2026-10-25 01:59", "2026-10-24T23:59:00Z", false},
		{"2026-10-25 02:30", "2026-10-25T00:30:00Z", true},
		{"2026-10-25T02:30:00+01:00", "2026-10-25T01:30:00Z", false},
		{"2026-10-25 03:00", "2026-10-25T02:00:00Z", false},
		{"2026-03-29 02:30", "", false},
		{"2026-02-29 12:00", "", false},
		{"11/03/2026 21:04", "", false},
		{"21:04", "", false},
		{"", "", false},
	} {
		at, again, err := ParseMoment(test.text, berlin)
		if err != nil {
			if test.want != "" {
				t.Errorf("%q: %v", test.text, err)
			}
			continue
		}
		if got := at.Format(time.RFC3339Nano); got != test.want || again.IsZero() == test.twice || test.twice && again.Sub(at) != time.Hour {
			t.Errorf("%q: %s, again %v; want %s, twice %v", test.text, got, again, test.want, test.twice)
		}
	}
}
