package survey

import (
	"slices"
	"strings"
	"testing"
)

// Radio Regulations Article 5 by region, in kHz: the bands that differ, and the
// 60 m broadcasting band in its two stretches.
func TestBandsByRegion(t *testing.T) {
	for _, test := range []struct {
		name   string
		region Region
		want   []Segment
	}{
		{"31 m", 1, []Segment{{"31 m", 9.4e6, 9.9e6}}}, {"31 m", 2, []Segment{{"31 m", 9.4e6, 9.9e6}}},
		{"49 m", 3, []Segment{{"49 m", 5.9e6, 6.2e6}}}, {"25 m", 1, []Segment{{"25 m", 11.6e6, 12.1e6}}},
		{"22 m", 1, []Segment{{"22 m", 13.57e6, 13.87e6}}}, {"19 m", 1, []Segment{{"19 m", 15.1e6, 15.8e6}}},
		{"41 m", 1, []Segment{{"41 m", 7.2e6, 7.45e6}}}, {"41 m", 2, []Segment{{"41 m", 7.3e6, 7.4e6}}}, {"41 m", 3, []Segment{{"41 m", 7.2e6, 7.45e6}}},
		{"40 m amateur", 1, []Segment{{"40 m amateur", 7e6, 7.2e6}}}, {"40 m amateur", 2, []Segment{{"40 m amateur", 7e6, 7.3e6}}},
		{"60 m", 1, []Segment{{"60 m lower", 4.75e6, 4.995e6}, {"60 m upper", 5.005e6, 5.06e6}}},
		{"60 m upper", 1, []Segment{{"60 m upper", 5.005e6, 5.06e6}}},
		{"75 m", 1, []Segment{{"75 m", 3.95e6, 4e6}}},
		{"75 m", 2, nil}, // the Americas have amateurs there
		{"31m", 1, []Segment{{"31 m", 9.4e6, 9.9e6}}}, {"31 M", 2, []Segment{{"31 m", 9.4e6, 9.9e6}}}, {"60m", 1, []Segment{{"60 m lower", 4.75e6, 4.995e6}, {"60 m upper", 5.005e6, 5.06e6}}},
		{"31", 1, nil}, {"", 1, nil},
	} {
		got, err := BandsNamed(test.name, test.region)
		if len(got) != len(test.want) || (err == nil) != (test.want != nil) {
			t.Errorf("%q in region %d: %v (%v), want %v", test.name, test.region, got, err, test.want)
			continue
		}
		for i := range got {
			if got[i] != test.want[i] {
				t.Errorf("%q in region %d: %+v, want %+v", test.name, test.region, got[i], test.want[i])
			}
		}
		if err != nil && !strings.Contains(err.Error(), "31 m, 30 m amateur") {
			t.Errorf("the error does not name the bands: %v", err)
		}
	}
}

// In one region no two bands share spectrum, and all rise: a segment cut from
// the passband belongs to one band only.
func TestBandsDoNotOverlap(t *testing.T) {
	for r := Region(1); r <= 3; r++ {
		bands := Bands(r)
		if len(bands) < 20 {
			t.Errorf("region %d has %d bands", r, len(bands))
		}
		for i, b := range bands {
			if b.High <= b.Low || i > 0 && b.Low < bands[i-1].High {
				t.Errorf("region %d: %+v after %+v", r, b, bands[max(0, i-1)])
			}
			if got := SegmentOf(b.Low, b.High); got != b {
				t.Errorf("region %d: the edges of %+v make %+v", r, b, got)
			}
		}
	}
}

func TestBandsWithin(t *testing.T) {
	// 1.6 MHz about 9.65 MHz hold 31 m whole and 30 m amateur whole.
	got := BandsWithin(8.85e6, 10.45e6, 1)
	if len(got) != 2 || got[0] != (Segment{"31 m", 9.4e6, 9.9e6}) || got[1] != (Segment{"30 m amateur", 10.1e6, 10.15e6}) {
		t.Errorf("about 9.65 MHz: %+v", got)
	}
	got = BandsWithin(9.5e6, 9.6e6, 1)
	if len(got) != 1 || got[0] != (Segment{"31 m", 9.5e6, 9.6e6}) {
		t.Errorf("within 31 m: %+v", got)
	}
	got = BandsWithin(433e6, 434e6, 1)
	if len(got) != 1 || got[0] != (Segment{"433000-434000 kHz", 433e6, 434e6}) {
		t.Errorf("where no band is: %+v", got)
	}
}

func TestBroadcastAndAmateur(t *testing.T) {
	for _, test := range []struct {
		low, high          Hz
		broadcast, amateur bool
	}{
		{9.4e6, 9.9e6, true, false}, {9.5e6, 9.6e6, true, false}, {7.2e6, 7.3e6, true, false}, // in regions 1 and 3
		{9.35e6, 9.9e6, true, false}, {9.3e6, 9.49e6, false, false}, {7e6, 7.1e6, false, true}, {14e6, 14.35e6, false, true}, {4.99e6, 5.01e6, false, false},
		{7e6, 7.3e6, false, true}, {3.5e6, 4e6, false, true}, {3.95e6, 4e6, true, false}, {10.09e6, 10.16e6, false, true}, {10e6, 10.15e6, false, false},
	} {
		s := SegmentOf(test.low, test.high)
		if s.Broadcast() != test.broadcast || s.Amateur() != test.amateur {
			t.Errorf("%v–%v: broadcast %v, amateur %v, want %v, %v", test.low, test.high, s.Broadcast(), s.Amateur(), test.broadcast, test.amateur)
		}
	}
}

// Radio Regulations Article 5: 40 m is 7.0–7.2 MHz in regions 1 and 3, to 7.3 MHz in 2;
// no amateur band is a broadcasting one.
func TestAmateurBands(t *testing.T) {
	forty := func(r Region) (found []Segment) {
		for _, s := range AmateurBands(r) {
			if s.Broadcast() && r == 1 {
				t.Errorf("%+v is a broadcasting band", s)
			}
			if s.Name == "40 m amateur" {
				found = append(found, s)
			}
		}
		return found
	}
	narrow, wide := Segment{"40 m amateur", 7e6, 7.2e6}, Segment{"40 m amateur", 7e6, 7.3e6}
	for r, want := range [][]Segment{{narrow, wide}, {narrow}, {wide}, {narrow}} {
		if got := forty(Region(r)); !slices.Equal(got, want) {
			t.Errorf("region %d: %+v, want %+v", r, got, want)
		}
	}
}
