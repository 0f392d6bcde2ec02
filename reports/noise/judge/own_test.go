package judge

import (
	"testing"
	"time"

	"nightfloor/reports/stats"
	"nightfloor/survey"
)

var segment = survey.Segment{Name: "49 m", Low: 5.9e6, High: 6.5e6}

// A comb is as strong through a terminator where it is no more than 3 dB weaker, and 4 standard errors
// over the noise.
func TestAsStrongThroughATerminator(t *testing.T) {
	wire, whip := survey.Setup{Antenna: "wire"}, survey.Setup{Antenna: "whip"}
	for _, test := range []struct {
		dB, sigmas float64
		own        bool
	}{{-2, 100, true}, {-4, 100, false}, {-1, 6, true}, {-1, 3, false}} {
		l := roundsOf(2, 6*time.Minute, segment)
		l.SetupSegments = append(l.SetupSegments, l.SetupSegments[0])
		l.SetupSegments[0].Setup, l.SetupSegments[1].Setup = whip, wire
		l.Readings[1].SetupSegment = 1
		power := 1e-7 * stats.FromDecibel(test.dB)
		s := alwaysOn(l, func(n int) survey.Finding {
			if n == 0 {
				return survey.Finding{Kind: survey.FindingComb, Spacing: 65013, Power: 1e-7, Sigma: 1e-9}
			}
			return survey.Finding{Kind: survey.FindingComb, Spacing: 65013, Power: power, Sigma: power / test.sigmas}
		})
		k := &known{Log: l, controls: map[survey.Setup]bool{wire: true}}
		if got := k.throughTerminator(&Verdict{}, s); got != test.own {
			t.Errorf("%.0f dB, %.0f standard errors: as strong %t", test.dB, test.sigmas, got)
		}
	}
}

// Three lines of a calibration on a comb's multiples, within 30 ppm of them, make it the receiver's,
// unless there are so many lines that chance puts three there more than once in 1,000 times: each
// does so with 2·30e-6·6 MHz/65 kHz = 0.0055, of 29 three or more with 6e-4, of 40 with 1.5e-3.
func TestLinesOnMultiples(t *testing.T) {
	for _, test := range []struct {
		on, beside int
		off        float64 // of those on multiples, as a share
		own        bool
	}{{3, 0, 0, true}, {2, 0, 0, false}, {5, 0, 20e-6, true}, {5, 0, 50e-6, false}, {3, 26, 0, true}, {3, 37, 0, false}} {
		l := roundsOf(2, 6*time.Minute, segment)
		s := alwaysOn(l, func(int) survey.Finding { return survey.Finding{Kind: survey.FindingComb, Spacing: 65013} })
		s.Comb.Spacing = 65013
		k := &known{Log: l}
		for n := range test.on {
			k.own = append(k.own, calibratedLine{frequency: survey.Hz(float64(92+n%2) * 65013 * (1 + test.off))})
		}
		for range test.beside {
			k.own = append(k.own, calibratedLine{frequency: 92.5 * 65013})
		}
		if got := k.onCalibratedLines(&Verdict{}, s); got != test.own {
			t.Errorf("%d on multiples, off by %.0e, and %d beside: the receiver's %t", test.on, test.off, test.beside, got)
		}
	}
}

// A line that keeps its offset at three tunings, in a quarter of the readings of each, is the
// receiver's, and told to 10 Hz; within 500 Hz of the raster it may be a station.
func TestOffsetsKept(t *testing.T) {
	for _, test := range []struct {
		tunings, of int // in one of how many readings of each
		offset      survey.Hz
		want        survey.Hz // 0: none
	}{{3, 1, 33_312, 33_310}, {2, 1, 33_312, 0}, {3, 3, 33_312, 33_310}, {3, 6, 33_312, 0}, {3, 1, 30_700, 30_700}, {3, 1, 30_300, 0}} {
		var segments []survey.Segment
		for n := range test.tunings {
			centre := survey.Hz(6e6 + 1e6*float64(n))
			segments = append(segments, survey.Segment{Name: string(rune('a' + n)), Low: centre - 5e4, High: centre + 5e4})
		}
		l := roundsOf(6, 6*time.Minute, segments...)
		for i := range l.Readings {
			r := &l.Readings[i]
			r.Resolution = 110
			if r.Round%test.of == 0 {
				r.Carriers = []survey.Carrier{{Frequency: r.Centre + test.offset, Detected: true}}
			}
		}
		got := moving(l)
		if (len(got) == 1) != (test.want > 0) || len(got) > 0 && *got[0].Offset != test.want {
			t.Errorf("%+v: %d lines", test, len(got))
		}
	}
}
