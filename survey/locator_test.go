package survey

import (
	"errors"
	"fmt"
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

// FormatLocator writes the locator of a place in degrees, north and east
// positive, with the given number of characters (2, 4, … 12), its third pair in
// small letters as is the custom. The poles and longitude 180 belong to the cell
// beside them.
func FormatLocator(lat, lon float64, characters int) string {
	if characters < 2 || characters > 2*locatorPairs || characters%2 != 0 {
		panic(fmt.Sprintf("survey: a locator of %d characters", characters))
	}
	// In shares of the whole, then of the cell.
	east := math.Mod(math.Mod(lon+180, 360)+360, 360) / 360
	north := (lat + 90) / 180
	var text strings.Builder
	for i := 0; i < characters/2; i++ {
		base, first := pairBase(i)
		if i == 2 {
			first = 'a'
		}
		e, n := 0, 0
		e, east = part(east, base)
		n, north = part(north, base)
		text.WriteByte(first + byte(e))
		text.WriteByte(first + byte(n))
	}
	return text.String()
}

// part gives in which of base equal parts of a cell the share stands, and the
// share of that part. A share outside 0 … 1 belongs to the part beside it.
func part(share float64, base int) (index int, rest float64) {
	// The nudge of 1e-9 of a part brings edges, which rounding may put just below
	// themselves, back to the part that they open.
	share = share*float64(base) + 1e-9
	index = max(0, min(base-1, int(math.Floor(share))))
	return index, max(0, min(1, share-float64(index)))
}
