package capture_test

import (
	"testing"

	"nightfloor/capture"
	"nightfloor/dsp/codes"
	"nightfloor/dsp/dsptest"
	"nightfloor/survey"
)

// impulsesOf measures a second of impulses, 20 a second at random, of which the converter is overloaded from…to, and
// gives those found, nil where there are none.
func impulsesOf(t *testing.T, from, to float64) (*survey.Finding, survey.Quality, int) {
	t.Helper()
	const rate = 512000
	s := dsptest.New(5, rate, 9.65e6).Noise(3e-10).Pulses(dsptest.Pulses{Rate: 20, Length: 30e-6, Density: 3e-8, Poisson: true})
	x := s.Samples(rate)
	for i, v := range dsptest.New(6, rate, 9.65e6).Noise(2.0 / rate).Samples(rate) {
		if at := float64(i) / rate; at >= from && at < to {
			x[i] += v
		}
	}
	outside := 0
	for _, at := range s.Truth().Pulses {
		if at < from || at >= to {
			outside++
		}
	}
	iq := dsptest.U8(nil, x)
	readings, err := capture.Measure(t.Context(), capture.Source{Centre: 9.65e6, Rate: rate, Samples: rate,
		Open: func() (capture.Samples, error) { return &samples{iq: iq, codes: codes.NewCounter(8)}, nil }}, []survey.Segment{survey.SegmentOf(9.5e6, 9.8e6)}, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range readings[0].Findings {
		if f.Kind == survey.FindingImpulses {
			return &f, readings[0].Quality, outside
		}
	}
	return nil, readings[0].Quality, outside
}

// Where a receiver is overloaded for a part of a reading its impulses are judged in the rest, at their rate there:
// those of the overload itself do not count. Of a reading that is overloaded for most of it nothing is told.
func TestImpulsesBesideOverload(t *testing.T) {
	for _, test := range []struct {
		from, to float64
		told     bool
	}{{2, 2, true}, {0.3, 0.5, true}, {0.7, 1, true}, {0.1, 0.8, false}} {
		f, q, n := impulsesOf(t, test.from, test.to)
		clean := 1 - (min(1, test.to) - min(1, test.from))
		if (f != nil) != test.told || q.Has(survey.FlagOverload) != (clean < 1) {
			t.Errorf("overload from %v to %v s: %+v, flags %v", test.from, test.to, f, q.Flags)
			continue
		}
		// Each of n impulses is found, but for two at the edges.
		if f != nil && (float64(f.Rate)*clean < float64(n)*0.95-2 || float64(f.Rate)*clean > float64(n)*1.1+1) {
			t.Errorf("overload from %v to %v s: %.1f a second, %d in %.1f s", test.from, test.to, float64(f.Rate), n, clean)
		}
	}
}
