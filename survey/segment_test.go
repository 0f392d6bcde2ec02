package survey

import (
	"math"
	"strings"
	"testing"
)

func TestSegments(t *testing.T) {
	for text, want := range map[string]Segment{
		// Bare numbers are kHz; edges of a named band bear its name.
		"9400-9900":         {"31 m", 9.4e6, 9.9e6},
		"9.4MHz-9.9MHz":     {"31 m", 9.4e6, 9.9e6},
		"9.4-9.9 MHz":       {"31 m", 9.4e6, 9.9e6},
		"9400000Hz-9900kHz": {"31 m", 9.4e6, 9.9e6},
		"9400-9.9MHz":       {}, // the unit serves both: 9400 MHz is above
		// The name of any region's band: 41 m has two pairs of edges, 40 m amateur too.
		"7200-7450": {"41 m", 7.2e6, 7.45e6}, "7300-7400": {"41 m", 7.3e6, 7.4e6},
		"7000-7200": {"40 m amateur", 7e6, 7.2e6}, "7000-7300": {"40 m amateur", 7e6, 7.3e6},
		"4750-4995": {"60 m lower", 4.75e6, 4.995e6}, "5005-5060": {"60 m upper", 5.005e6, 5.06e6},
		"5.3515MHz-5.3665MHz": {"60 m amateur", 5.3515e6, 5.3665e6},
		"9400-9900.5":         {"9400-9900.5 kHz", 9.4e6, 9.9005e6},
		"9450-9550":           {"9450-9550 kHz", 9.45e6, 9.55e6},
		"9450.125-9550":       {"9450.125-9550 kHz", 9.450125e6, 9.55e6},
		"9400":                {}, "9900-9400": {}, "9400-9400": {}, "0-9400": {}, "-9400": {}, "a-b": {}, "": {}, "1-1e306": {}, "nan-inf": {},
	} {
		got, err := ParseSegment(text)
		if got != want || (err == nil) != (want != Segment{}) {
			t.Errorf("%q: %+v (%v), want %+v", text, got, err, want)
		}
		if err != nil && !strings.Contains(err.Error(), "segment ") {
			t.Errorf("%q: the error does not say what: %v", text, err)
		}
	}
}

// A third of 2 MS/s is not a whole number of hertz; the name stays readable.
func TestNamesOfDividedEdges(t *testing.T) {
	const centre, rate = 1090e6, 2e6
	if got := SegmentOf(centre-rate/3, centre+rate/3).Name; got != "1089333.3-1090666.7 kHz" {
		t.Errorf("%q", got)
	}
	if got := Edges(centre-rate/3, centre+rate/3, "–"); got != "1089.3333–1090.6667 MHz" {
		t.Errorf("%q", got)
	}
	if got := Edges(9.4e6, 9.900005e6, "–"); got != "9.4–9.900005 MHz" {
		t.Errorf("%q", got)
	}
	// 9.3999…: arithmetic on MHz may miss an edge by 1e-9 Hz, and must not lose the name.
	got := SegmentOf(9.4e6-1e-9, 9.9e6+1e-9)
	if want := (Segment{"31 m", 9.4e6, 9.9e6}); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
}

func TestWithin(t *testing.T) {
	s := Segment{"31 m", 9.4e6, 9.9e6}
	for _, test := range []struct {
		low, high Hz
		want      Segment
		share     float64
	}{
		{9e6, 10e6, s, 1}, {9.4e6, 9.9e6, s, 1},
		{9.5e6, 9.6e6, Segment{"31 m", 9.5e6, 9.6e6}, 0.2}, // 100 of 500 kHz
		{9.8e6, 11e6, Segment{"31 m", 9.8e6, 9.9e6}, 0.2},
		{9.9e6, 11e6, Segment{}, 0}, {1e6, 2e6, Segment{}, 0},
	} {
		part, share := s.Within(test.low, test.high)
		if part != test.want || math.Abs(share-test.share) > 1e-12 {
			t.Errorf("within %v–%v: %+v, %v, want %+v, %v", test.low, test.high, part, share, test.want, test.share)
		}
	}
}

func FuzzParseSegment(f *testing.F) {
	for _, text := range []string{"9400-9900", "9.4MHz-9.9MHz", "5.3515-5.3665mhz", "1e-3-5", "-", "1-1e306", "0.00001-1e300ghz"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ParseSegment(text)
		if err != nil {
			if s != (Segment{}) {
				t.Errorf("%q: %+v besides %v", text, s, err)
			}
			return
		}
		if !(s.Low > 0 && s.High > s.Low) || math.IsInf(float64(s.High), 0) || s.Name == "" {
			t.Errorf("%q is read as %+v", text, s)
		}
		if strings.HasSuffix(s.Name, " kHz") && s.Low >= 1e3 && s.High < 1e12 && s.High-s.Low > 1e3 {
			// The name of a segment wide enough for a receiver names it again, to 0.1 kHz.
			again, err := ParseSegment(strings.TrimSuffix(s.Name, " kHz"))
			if err != nil || math.Abs(float64(again.Low-s.Low)) > 51 || math.Abs(float64(again.High-s.High)) > 51 {
				t.Errorf("%q: its name %q is read as %+v (%v)", text, s.Name, again, err)
			}
		}
	})
}
