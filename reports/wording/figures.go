package wording

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// None stands where a figure does not apply.
const None = "–"

// Number writes a level or another figure with a true minus sign; 0.0 bears no sign. What is
// infinite or no number is a dash.
func Number(x float64, places int) string {
	if !stats.Finite(x) {
		return None
	}
	text := strconv.FormatFloat(math.Abs(x), 'f', places, 64)
	if x < 0 && strings.Trim(text, "0.") != "" {
		return "−" + text
	}
	return text
}

// Signed writes a difference with its sign, a plus too; 0.0 bears none. A difference
// that is not known is a dash.
func Signed(x *survey.DB, places int) string {
	if x == nil {
		return None
	}
	text := Number(float64(*x), places)
	if *x > 0 && text != None && strings.Trim(text, "0.") != "" {
		return "+" + text
	}
	return text
}

// Figure writes a figure, a dash where it is not known.
func Figure[F ~float64](x *F, places int) string {
	if x == nil {
		return None
	}
	return Number(float64(*x), places)
}

// Interval writes "+5.1 … +7.3", a dash where there is none.
func Interval(low, high *survey.DB, places int) string {
	if low == nil || high == nil {
		return None
	}
	return Signed(low, places) + " … " + Signed(high, places)
}

// Share writes a share in whole per cent, which is what 2,000 draws tell; < 1 % and > 99 %
// where it is close to 0 or 1 and not equal.
func Share(x *float64) string {
	switch {
	case x == nil:
		return None
	case *x > 0 && *x < 0.01:
		return "< 1 %"
	case *x < 1 && *x > 0.99:
		return "> 99 %"
	}
	return fmt.Sprintf("%.0f %%", 100**x)
}

// Chance gives a chance found by drawing, which is never 0 or 1.
func Chance(x *float64) string {
	switch {
	case x != nil && *x < 0.01:
		return "< 1 %"
	case x != nil && *x > 0.99:
		return "> 99 %"
	}
	return Share(x)
}

// Pulses says how many impulses were counted.
func Pulses(pulses int, listened time.Duration) string {
	if listened == 0 {
		return "impulses"
	}
	return survey.Count(pulses, "impulse") + " in " + listenedText(listened) + " of listening"
}

// listenedText writes a duration, under 10 s in tenths of a second.
func listenedText(d time.Duration) string {
	if d < 10*time.Second {
		return Number(math.Max(0.1, d.Seconds()), 1) + " s"
	}
	return Duration(d)
}

// Rate writes a rate a second, or a minute where it is low.
func Rate(rate float64) string {
	switch {
	case rate >= 10:
		return Number(rate, 0) + " a second"
	case rate >= 0.1:
		return Number(rate, 1) + " a second"
	}
	return Number(60*rate, 1) + " a minute"
}
