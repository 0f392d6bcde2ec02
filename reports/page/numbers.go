package page

import (
	"math"

	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// fromTo writes an interval in a sentence: "5.1 to 7.3".
func fromTo(low, high *survey.DB, places int) string {
	return wording.Number(float64(*low), places) + " to " + wording.Number(float64(*high), places)
}

// hundredths rounds to 0.01 dB, which is as fine as the page's data need be.
func hundredths(x float64) float64 { return math.Round(100*x) / 100 }

// finite tells whether a figure can be shown.
func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
