package capture

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"nightfloor/dsp"
	"nightfloor/survey"
)

// Wherever a segment lies, it is measured beside the DC spike, within the
// central two thirds of the sample rate, at a centre whose mirror images fall
// between stations.
func TestTuningsKeepClearOfTheSpike(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := survey.Hz(rapid.SampledFrom([]float64{250e3, 1.024e6, 2.048e6, 2.4e6}).Draw(t, "rate"))
		low := survey.Hz(rapid.Float64Range(100e3, 30e6).Draw(t, "low"))
		widest := float64(rate)/3 - 10e3 // guard of 5 kHz, and up to 5 kHz to the raster
		high := low + survey.Hz(rapid.Float64Range(1e3, widest).Draw(t, "width"))
		got, err := Tunings([]survey.Segment{{Name: "s", Low: low, High: high}}, rate)
		if err != nil || len(got) != 1 {
			t.Fatalf("%v–%v at %v: %v, %v", low, high, rate, got, err)
		}
		centre := got[0].Centre
		if low-centre < 5e3 || high-centre > rate/3 {
			t.Fatalf("%v–%v at %v is tuned to %v", low, high, rate, centre)
		}
		// A station at k·5 kHz has its image at 2·centre − k·5 kHz, 2300 Hz off the raster.
		if off := math.Mod(2*float64(centre), 5e3); math.Abs(off-2300) > 1e-6 {
			t.Fatalf("images fall %v Hz off the raster, want 2300", off)
		}
	})
}

// As few tunings as will do: every segment once, in rising order, each group
// within the passband and clear of the spike; one more would not fit.
func TestNeighboursShareATuning(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := survey.Hz(rapid.SampledFrom([]float64{1.024e6, 2.4e6}).Draw(t, "rate"))
		var segments []survey.Segment
		for i := range rapid.IntRange(1, 8).Draw(t, "segments") {
			low := survey.Hz(rapid.Float64Range(3e6, 8e6).Draw(t, "low"))
			segments = append(segments, survey.Segment{Name: string(rune('a' + i)), Low: low, High: low + survey.Hz(rapid.Float64Range(1e3, 300e3).Draw(t, "width"))})
		}
		got, err := Tunings(segments, rate)
		if err != nil {
			t.Fatal(err)
		}
		seen, last := map[string]bool{}, survey.Hz(0)
		for i, g := range got {
			for _, s := range g.Segments {
				if seen[s.Name] || s.Low < last {
					t.Fatalf("%v", got)
				}
				seen[s.Name], last = true, s.Low
				clear := s.Low-g.Centre >= 5e3 || g.Centre-s.High >= 5e3
				if !clear || s.High-g.Centre > rate/3 || g.Centre-s.Low > rate/3 {
					t.Fatalf("%v at %v", s, g.Centre)
				}
			}
			if i+1 < len(got) {
				if _, ok := centreFor(append(slices.Clone(g.Segments), got[i+1].Segments[0]), rate); ok {
					t.Fatalf("%v could have been measured together with %v", got[i+1].Segments[0], g.Segments)
				}
			}
		}
		if len(seen) != len(segments) {
			t.Fatalf("%d of %d segments", len(seen), len(segments))
		}
	})
	// The two stretches of 60 m lie about the standard frequency, 0.31 MHz in all.
	pair, err := Tunings([]survey.Segment{{Name: "60 m upper", Low: 5.005e6, High: 5.06e6}, {Name: "60 m lower", Low: 4.75e6, High: 4.995e6}}, 2.4e6)
	if err != nil || len(pair) != 1 || pair[0].Segments[0].Name != "60 m lower" {
		t.Errorf("%v, %v", pair, err)
	}
}

func TestTooWideSegmentsAreAllNamed(t *testing.T) {
	wide := []survey.Segment{{Name: "31 m", Low: 9.4e6, High: 9.9e6}, {Name: "75 m", Low: 3.95e6, High: 4e6}, {Name: "19 m", Low: 15.1e6, High: 15.8e6}}
	_, err := Tunings(wide, 1.024e6)
	// 341.3 kHz beside the spike, less 10 kHz; 31 m needs 3 · (500 + 10) kHz.
	if err == nil || !strings.Contains(err.Error(), "31 m: 500 kHz wide") || !strings.Contains(err.Error(), "331.333 kHz") || !strings.Contains(err.Error(), "1.53 MHz or more") ||
		!strings.Contains(err.Error(), "19 m") || strings.Contains(err.Error(), "75 m") {
		t.Errorf("%v", err)
	}
	// What it advises is enough.
	if _, err := Tunings(wide[:1], 1.53e6); err != nil {
		t.Errorf("at the advised rate: %v", err)
	}
}

func TestCover(t *testing.T) {
	// 2.4 MS/s about 9.65 MHz: the usable 8.85–10.45 MHz.
	low, high := UsablePassband(9.65e6, 2.4e6)
	if math.Abs(float64(low-8.85e6)) > 1e-3 || math.Abs(float64(high-10.45e6)) > 1e-3 {
		t.Fatalf("usable passband %v–%v, want 8.85–10.45 MHz", low, high)
	}
	names := func(segments []survey.Segment, err error) string {
		if err != nil {
			t.Error(err)
		}
		var out []string
		for _, s := range segments {
			out = append(out, s.Name)
		}
		return strings.Join(out, ", ")
	}
	given := []survey.Segment{{Name: "31 m", Low: 9.4e6, High: 9.9e6}, {Name: "49 m", Low: 5.9e6, High: 6.2e6},
		{Name: "a tenth", Low: 10.4e6, High: 10.9e6}, {Name: "less", Low: 10.41e6, High: 10.91e6}}
	if got := names(Cover(given, 9.65e6, 2.4e6, 1)); got != "31 m, a tenth" { // 50 of 500 kHz, and 40
		t.Errorf("of those given: %s", got)
	}
	if got := names(Cover(nil, 9.65e6, 2.4e6, 1)); got != "31 m, 30 m amateur" {
		t.Errorf("of the named bands: %s", got)
	}
	if got := names(Cover(nil, 1090e6, 2e6, 1)); got != "1089333.3-1090666.7 kHz" {
		t.Errorf("where no band is: %s", got)
	}
	if got, err := Cover(nil, 9650, 2.4e6, 1); err == nil {
		t.Errorf("%v is covered by what lies about 9.65 kHz", got)
	}
	if got := names(Cover(nil, 700e3, 2.4e6, 1)); got != "0-1500 kHz" {
		t.Errorf("%s of what reaches below 0 Hz", got)
	}
	if got := names(Cover(nil, 0, 2.4e6, 1)); got != "-800-800 kHz" {
		t.Errorf("about 0 Hz: %s", got)
	}
	if got := names(Cover([]survey.Segment{survey.SegmentOf(0, 1500e3)}, 700e3, 2.4e6, 1)); got != "0-1500 kHz" {
		t.Error(got)
	}
	if got, err := Cover(given[1:2], 9.65e6, 2.4e6, 1); err == nil {
		t.Errorf("what is not covered: %v", got)
	}
	if _, err := Cover(given, 9.65e6, 5e3, 1); !errors.Is(err, dsp.ErrTooSlow) { // whatever it covers
		t.Errorf("at 5 kS/s: %v", err)
	}
}
