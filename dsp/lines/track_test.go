package lines

import "testing"

// A line is followed within 5 Hz of where it is expected; one found only once, whose drift
// is not known, as far as it may have drifted at 12 Hz/s.
func TestTracks(t *testing.T) {
	for _, test := range []struct {
		found, seconds, away float64
		same                 bool
	}{
		{2, 0.5, 4.7, true}, {2, 0.5, 5.3, false},
		{1, 0.7, 8.0, true}, {1, 0.7, 8.8, false}, // 8.4 Hz at 12 Hz/s
		{1, 3, 9.5, true}, {1, 3, 10.5, false}, // twice 5 Hz at most
	} {
		track := lineTrack{now: test.seconds, lines: []trackedLine{{found: int(test.found)}}}
		if got := track.nearest(test.away, 1) != nil; got != test.same {
			t.Errorf("found %v times, %v s ago, %v Hz away: the same line %v, want %v", test.found, test.seconds, test.away, got, test.same)
		}
	}
	var l trackedLine
	l.follow(0, 0)
	l.follow(20, 0.5) // 40 Hz/s
	if l.drift != 12 {
		t.Errorf("drift %v Hz/s, want 12", l.drift)
	}
	if got := l.expected(4.5); got != 32 {
		t.Errorf("expected at %v Hz, want 32: the drift is trusted for a second", got)
	}
}
