package survey

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// script makes recordings a minute apart: each word is a setup's letter and the
// segments it covers.
func script(words ...string) []RecordingInfo {
	start := time.Date(2026, 11, 3, 20, 0, 0, 0, time.UTC)
	var out []RecordingInfo
	for i, w := range words {
		t := RecordingInfo{Setup: Setup{Antenna: w[:1], Placement: "attic"}, Start: start.Add(time.Duration(i) * time.Minute)}
		for _, s := range w[1:] {
			t.Segments = append(t.Segments, string(s))
		}
		out = append(out, t)
	}
	return out
}

func TestTurns(t *testing.T) {
	for _, test := range []struct {
		why   string
		taken []RecordingInfo
		want  []Turn
	}{
		{"nothing", nil, []Turn{}},
		{"a round ends where a setup would come a second time", script("a1", "b1", "a1", "b1"), []Turn{{1, 1, 1}, {1, 2, 2}, {2, 3, 3}, {2, 4, 4}}},
		{"shuffled rounds", script("a1", "b1", "c1", "b1", "a1", "c1"), []Turn{{1, 1, 1}, {1, 2, 2}, {1, 3, 3}, {2, 4, 4}, {2, 5, 5}, {2, 6, 6}}},
		{"neighbours through one setup are one visit", script("a1", "a1", "b1", "b1", "a1"), []Turn{{1, 1, 1}, {1, 1, 2}, {1, 2, 3}, {1, 2, 4}, {2, 3, 5}}},
		{"different segments are one sweep", script("a1", "a2", "a3", "b1", "b2", "b3", "a1", "a2"), []Turn{{1, 1, 1}, {1, 1, 1}, {1, 1, 1}, {1, 2, 2}, {1, 2, 2}, {1, 2, 2}, {2, 3, 3}, {2, 3, 3}}},
		{"a segment again begins a sweep", script("a1", "a2", "a1", "a2", "b12"), []Turn{{1, 1, 1}, {1, 1, 1}, {1, 1, 2}, {1, 1, 2}, {1, 2, 3}}},
		{"one of several segments again too", script("a12", "a23", "a1"), []Turn{{1, 1, 1}, {1, 1, 2}, {1, 1, 2}}},
		{"a round that missed a setup", script("a1", "b1", "b1", "a1"), []Turn{{1, 1, 1}, {1, 2, 2}, {1, 2, 3}, {2, 3, 4}}},
	} {
		if got := Turns(test.taken); !slices.Equal(got, test.want) {
			t.Errorf("%s: %v, want %v", test.why, got, test.want)
		}
	}
	// Another bearing is another setup.
	turned := script("a1", "a1", "a1")
	turned[1].Setup.Bearing = BearingOf(90)
	if got, want := Turns(turned), []Turn{{1, 1, 1}, {1, 2, 2}, {2, 3, 3}}; !slices.Equal(got, want) {
		t.Errorf("turned: %v, want %v", got, want)
	}
}

// The turns do not hang on the order of import, also where several recordings
// start in the same second.
func TestTurnsOfAnyImportOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var taken []RecordingInfo
		start := time.Date(2026, 11, 3, 20, 0, 0, 0, time.UTC)
		for range rapid.IntRange(1, 20).Draw(t, "recordings") {
			taken = append(taken, RecordingInfo{
				Setup:    Setup{Antenna: rapid.SampledFrom([]string{"loop", "whip"}).Draw(t, "antenna"), Placement: "attic", Bearing: BearingOf(float64(rapid.IntRange(0, 2).Draw(t, "bearing")))},
				Start:    start.Add(time.Duration(rapid.IntRange(0, 6).Draw(t, "second")) * time.Second),
				Segments: []string{rapid.SampledFrom([]string{"31 m", "49 m", "25 m"}).Draw(t, "segment")},
			})
		}
		want := Turns(taken)
		order := rapid.Permutation(indices(len(taken))).Draw(t, "order")
		mixed := make([]RecordingInfo, len(taken))
		for i, at := range order {
			mixed[i] = taken[at]
		}
		// Twins, alike in all, may change places: compare what stands where.
		type placed struct {
			setup   Setup
			second  int
			segment string
			turn    Turn
		}
		count := map[placed]int{}
		for i, turn := range Turns(mixed) {
			m := mixed[i]
			count[placed{m.Setup, m.Start.Second(), m.Segments[0], turn}]++
		}
		for i, turn := range want {
			m := taken[i]
			count[placed{m.Setup, m.Start.Second(), m.Segments[0], turn}]--
		}
		for p, n := range count {
			if n != 0 {
				t.Fatalf("%+v: %+d in another order of import", p, n)
			}
		}
	})
}

func indices(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}
