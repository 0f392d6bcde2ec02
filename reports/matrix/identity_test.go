package matrix

import (
	"slices"
	"testing"

	"nightfloor/survey"
)

func TestIdentityFollowsADrift(t *testing.T) {
	var ids identities
	// 3 Hz a reading, 600 Hz in all; another line 400 Hz away at first is met on
	// the way by nobody: it drifts along. A third stands still 5 kHz off.
	for i := range 200 {
		r := &survey.Reading{Resolution: 110}
		for _, f := range []float64{9500000 + 3*float64(i), 9500400 + 3*float64(i), 9505000} {
			r.Carriers = append(r.Carriers, survey.Carrier{Frequency: survey.Hz(f), Detected: true})
		}
		if got := ids.assign(r); !slices.Equal(got, []int{0, 1, 2}) {
			t.Fatalf("reading %d: %v", i, got)
		}
	}
}

func TestIdentityIsOneLineAReading(t *testing.T) {
	var ids identities
	two := &survey.Reading{Resolution: 110, Carriers: []survey.Carrier{{Frequency: 9500000, Detected: true}, {Frequency: 9500040, Detected: true}}}
	if got := ids.assign(two); !slices.Equal(got, []int{0, 1}) {
		t.Fatalf("two carriers of one reading: %v", got)
	}
	two.Carriers[0], two.Carriers[1] = two.Carriers[1], two.Carriers[0]
	if got := ids.assign(two); !slices.Equal(got, []int{1, 0}) {
		t.Errorf("in another order: %v", got)
	}
}

// However fine the resolution, a line may have drifted by 50 Hz since it was calibrated.
func TestOwnLinesDrift(t *testing.T) {
	own := ownLines{met: map[float64][]meeting{9.6e6: nil}, resolution: 1}
	if got := own.among([]float64{9.6e6 + 45, 9.6e6 - 45, 9.6e6 + 55}); !slices.Equal(got, []bool{true, true, false}) {
		t.Errorf("45 Hz off on either side, and 55: %v", got)
	}
}
