package matrix

import (
	"math"
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

func TestRasterUnderAClockError(t *testing.T) {
	m := &Matrix{Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}}
	// 40 ppm of 9.5 MHz is 380 Hz: all stations shifted, one line is local.
	for _, frequency := range []float64{9420e3, 9500e3, 9610e3, 9755e3, 9632e3} {
		m.Lines = append(m.Lines, frequency*(1+40e-6))
	}
	offset, on := m.rasterOffset([]int{0, 1, 2, 3, 4})
	if on != 4 || math.Abs(offset-380) > 30 {
		t.Errorf("offset %.0f Hz with %d lines, want about 380 with 4", offset, on)
	}
}
