package page

import (
	"math"
	"strings"

	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// fromTo writes an interval in a sentence: "5.1 to 7.3".
func fromTo(low, high *survey.DB, places int) string {
	return wording.Number(float64(*low), places) + " to " + wording.Number(float64(*high), places)
}

// stretch writes the edges of a segment: "9.4 to 9.9 MHz".
func stretch(low, high survey.Hz) string {
	l, h := low.String(), high.String()
	lowNumber, lowUnit, _ := strings.Cut(l, " ")
	if _, highUnit, _ := strings.Cut(h, " "); lowUnit == highUnit {
		return lowNumber + " to " + h
	}
	return l + " to " + h
}

// hundredths rounds to 0.01 dB, which is as fine as the page's data need be.
func hundredths(x float64) float64 { return math.Round(100*x) / 100 }

// finite tells whether a figure can be shown.
func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
