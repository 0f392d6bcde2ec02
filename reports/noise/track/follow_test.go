package track

import (
	"testing"
	"time"

	"nightfloor/reports/readlog"
)

// A spacing found again is the same track's within 2e-4, an error of both, and 2e-3 an hour, what
// warming does at its fastest, 6e-4 at most: after 10 minutes within 5.3e-4.
func TestHowFarATrackFollows(t *testing.T) {
	l := &readlog.Log{Longest: time.Hour, Usual: 6 * time.Minute}
	for _, test := range []struct {
		after time.Duration
		off   float64
		one   bool
	}{{time.Minute, 2.2e-4, true}, {time.Minute, 2.5e-4, false}, {10 * time.Minute, 5.2e-4, true}, {10 * time.Minute, 5.5e-4, false}, {50 * time.Minute, 5.9e-4, true}, {50 * time.Minute, 6.2e-4, false}} {
		at := time.Date(2026, 11, 3, 15, 0, 0, 0, time.UTC)
		tracks := follow(l, Track{{Epoch: Epoch{1, at}, Spacing: 65013}, {Epoch: Epoch{1, at.Add(test.after)}, Spacing: 65013 * (1 + test.off)}})
		if one := len(tracks) == 1; one != test.one {
			t.Errorf("%.1e off after %v: one track %t, want %t", test.off, test.after, one, test.one)
		}
	}
}
