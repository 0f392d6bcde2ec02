package survey

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func TestLocatorVectors(t *testing.T) {
	for _, test := range []struct {
		locator  string
		lat, lon float64 // where FormatLocator starts
		midLat   float64 // middle of the cell
		midLon   float64
		tol      float64 // degrees
	}{
		// 1.25″ by 0.625″ cells: the published decoding is rounded to 1e-6.
		{"AA55aa00AA00", -85, -170, -84.999991, -169.999983, 1e-6},
		// JN58td: J 9 × 20, 5 × 2, t 19 × 5′: 180+10+1.5833 = 191.5833 + 2.5′ − 180 =
		// 11.625; N 13 × 10, 8, d 3 × 2.5′: 130+8+0.125 + 1.25′ − 90 = 48.14583.
		{"JN58td", 48.14666, 11.60833, 48.145833, 11.625, 1e-5},
		{"JJ00", 0, 0, 0.5, 1, 1e-9},
		{"RR99xx", 90, 180 - 1e-9, 90 - 1.25/60, 180 - 2.5/60, 1e-9},
		{"AA", -90, -180, -85, -170, 1e-9},
	} {
		if got := FormatLocator(test.lat, test.lon, len(test.locator)); got != test.locator {
			t.Errorf("locator of %v %v: %s, want %s", test.lat, test.lon, got, test.locator)
		}
		lat, lon, err := ParseLocator(strings.ToLower(test.locator))
		if err != nil || math.Abs(lat-test.midLat) > test.tol || math.Abs(lon-test.midLon) > test.tol {
			t.Errorf("%s: %.6f %.6f, %v, want %v %v", test.locator, lat, lon, err, test.midLat, test.midLon)
		}
	}
}

func TestLocatorOfItsOwnMiddle(t *testing.T) {
	for lat := -89.9; lat < 90; lat += 7.3 {
		for lon := -179.9; lon < 180; lon += 11.7 {
			for n := 2; n <= 12; n += 2 {
				text := FormatLocator(lat, lon, n)
				mLat, mLon, err := ParseLocator(text)
				if err != nil || FormatLocator(mLat, mLon, n) != text {
					t.Fatalf("%v %v: %s has its middle in %s (%v)", lat, lon, text, FormatLocator(mLat, mLon, n), err)
				}
			}
		}
	}
}

func TestLocatorRefusals(t *testing.T) {
	for _, text := range []string{"", "J", "JN5", "JNTD58", "SA00", "JN58yy", "JN58td00AA000", "日本"} {
		if _, _, err := ParseLocator(text); !errors.Is(err, ErrLocator) {
			t.Errorf("%q: %v, want a refusal", text, err)
		}
	}
}
