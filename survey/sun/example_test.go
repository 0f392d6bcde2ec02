package sun_test

import (
	"errors"
	"fmt"
	"time"

	"nightfloor/survey/sun"
)

// A locator names a cell; what is given is its middle. Each pair of characters makes the cell
// smaller.
func ExampleParseLocator() {
	for _, text := range []string{"JO", "JO32", "jo32kh", "32JO"} {
		lat, lon, err := sun.ParseLocator(text)
		if errors.Is(err, sun.ErrLocator) {
			fmt.Println(text, "is no locator")
			continue
		}
		fmt.Printf("%s: %.4f° north, %.4f° east\n", text, lat, lon)
	}
	// Output:
	// JO: 55.0000° north, 10.0000° east
	// JO32: 52.5000° north, 7.0000° east
	// jo32kh: 52.3125° north, 6.8750° east
	// 32JO is no locator
}

// The sun over 50° north on the prime meridian, at the June solstice: 90° − 50° + 23.4° at
// noon, and 50° + 23.4° − 90° under the northern horizon at midnight.
func ExampleElevation() {
	for _, hour := range []int{0, 6, 12, 18} {
		at := time.Date(2026, 6, 21, hour, 0, 0, 0, time.UTC)
		fmt.Printf("%s: %5.1f°\n", at.Format("15:04"), sun.Elevation(at, 50, 0))
	}
	// Output:
	// 00:00: -16.6°
	// 06:00:  17.5°
	// 12:00:  63.4°
	// 18:00:  18.0°
}

// At one elevation it is dawn while the sun rises, dusk while it sets.
func ExampleRising() {
	lat, lon, err := sun.ParseLocator("JO32kh")
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, hour := range []int{6, 16} {
		at := time.Date(2026, 11, 3, hour, 15, 0, 0, time.UTC)
		fmt.Printf("%s: %.0f°, rising %v\n", at.Format("15:04"), sun.Elevation(at, lat, lon), sun.Rising(at, lon))
	}
	// Output:
	// 06:15: -3°, rising true
	// 16:15: -3°, rising false
}
