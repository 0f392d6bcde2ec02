package survey

import (
	"errors"
	"fmt"
	"strings"
)

// ErrLocator is what a text that is no Maidenhead locator wraps.
var ErrLocator = errors.New("not a Maidenhead locator")

// A locator is a row of pairs, longitude first: letters A–R for fields of 20° by
// 10°, digits for squares of 2° by 1°, letters A–X for subsquares of 5′ by 2.5′,
// then digits and letters in turn, each pair cutting the cell before it.

// locatorPairs is the longest locator that is read or written: 6 pairs are a
// cell of 1.25″, finer than anyone knows where an antenna stands.
const locatorPairs = 6

// pairBase gives into how many parts pair i cuts its cell, and the first of the
// characters that count them.
func pairBase(i int) (base int, first byte) {
	switch {
	case i == 0:
		return 18, 'A'
	case i%2 == 1:
		return 10, '0'
	}
	return 24, 'A'
}

// ParseLocator gives the middle of a locator's cell in degrees, north and east
// positive. Letters may be of either case; 2, 4, … 12 characters are read.
// The error wraps ErrLocator.
func ParseLocator(text string) (lat, lon float64, err error) {
	locator := strings.ToUpper(text)
	if len(locator) < 2 || len(locator) > 2*locatorPairs || len(locator)%2 != 0 {
		return 0, 0, fmt.Errorf("locator %q: %w: it has %d characters; write 4 or 6, such as JN58 or JN58td",
			text, ErrLocator, len(text))
	}
	lat, lon = -90, -180
	height, width := 180.0, 360.0
	for i := 0; i < len(locator)/2; i++ {
		base, first := pairBase(i)
		east, north := int(locator[2*i])-int(first), int(locator[2*i+1])-int(first)
		if east < 0 || east >= base || north < 0 || north >= base {
			return 0, 0, fmt.Errorf("locator %q: %w: characters %d and %d go from %c to %c; write such as JN58td",
				text, ErrLocator, 2*i+1, 2*i+2, first, first+byte(base-1))
		}
		width, height = width/float64(base), height/float64(base)
		lon += float64(east) * width
		lat += float64(north) * height
	}
	return lat + height/2, lon + width/2, nil
}
