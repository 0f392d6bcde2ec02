package track

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"nightfloor/reports/readlog"
)

// wanderers makes tracks of three detections each at spacings that are in each other's reach
// for the most part, half of them of supplies that come back.
func wanderers(random *rand.Rand, n int) (tracks []Track) {
	start := time.Date(2026, 11, 3, 15, 0, 0, 0, time.UTC)
	for i := range n {
		spacing := 15e3 * math.Exp(random.Float64()*math.Log(500.0/15))
		if i%2 == 0 {
			spacing = 65.013e3 * (1 + 1e-3*float64(i%5) + 2e-4*random.NormFloat64())
		}
		var t Track
		for k := range 3 {
			at := start.Add(time.Duration(i)*20*time.Minute + time.Duration(k)*7*time.Minute)
			t = append(t, Detection{Epoch: Epoch{1, at}, Spacing: spacing * (1 + 1e-5*random.NormFloat64())})
		}
		tracks = append(tracks, t)
	}
	return tracks
}

// joinedPlainly joins the two that are nearest of all, again and again.
func joinedPlainly(tracks []Track) []Track {
	for {
		best, a, b := math.Inf(1), -1, -1
		for i := range tracks {
			for j := range i {
				if d := distance(time.Hour, tracks[i], tracks[j]); d < best {
					best, a, b = d, j, i
				}
			}
		}
		if a < 0 {
			return tracks
		}
		tracks[a] = merged(tracks[a], tracks[b])
		tracks = slices.Delete(tracks, b, b+1)
	}
}

// Tracks that are joined by remembered distances are those that are joined plainly.
func TestTracksJoinedNearestFirst(t *testing.T) {
	for seed := range uint64(20) {
		random := rand.New(rand.NewPCG(seed, 3))
		l := &readlog.Log{Longest: time.Hour}
		tracks := wanderers(random, 120)
		want := joinedPlainly(slices.Clone(tracks))
		if len(want) > 100 {
			t.Fatalf("%d tracks: nothing was joined", len(want))
		}
		equal := func(a, b Track) bool {
			return slices.EqualFunc(a, b, func(x, y Detection) bool { return x.Epoch == y.Epoch && x.Spacing == y.Spacing })
		}
		if got := joinTracks(l, tracks); !slices.EqualFunc(got, want, equal) {
			t.Errorf("seed %d: %d tracks, plainly %d, or others", seed, len(got), len(want))
		}
	}
}

// A comb at a small ratio of another's spacing is an alias where the tolerance allows it, 3e-4 at the
// same epoch, and the ratio is among those that are looked at; else none is.
func TestRatiosOfAliases(t *testing.T) {
	at := time.Date(2026, 11, 3, 15, 0, 0, 0, time.UTC)
	own := Track{{Epoch: Epoch{1, at}, Spacing: 48.617e3}, {Epoch: Epoch{1, at.Add(time.Hour)}, Spacing: 48.62e3}}
	for _, test := range []struct {
		ratio float64
		alias bool
	}{{2, true}, {0.5, true}, {2.0 / 3, true}, {3, true}, {4.0 / 3, true}, {2 * (1 + 2.9e-4), true}, {2 * (1 - 2.9e-4), true}, {2 * (1 + 3.1e-4), false},
		{0.25 * (1 - 2.9e-4), true}, {1, false}, {5, false}, {1.1, false}} {
		other := Track{{Epoch: Epoch{1, at}, Spacing: 48.617e3 * test.ratio}}
		if got := own.hasAlias(other); got != test.alias {
			t.Errorf("at %.5f of it: alias %t, want %t", test.ratio, got, test.alias)
		}
	}
}
