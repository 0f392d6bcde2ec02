package page

import (
	"math"
	"strconv"
	"strings"

	"nightfloor/survey"
)

// decimals gives how many decimals a figure with the 95 % interval low to high
// deserves. A half width of 3.55 dB or more leaves whole decibels, by the usual
// rule for rounding by uncertainty [Particle Data Group, Review of Particle
// Physics, introduction: rounding]; below that a tenth is kept, since hundredths
// of a decibel mean nothing to an antenna, save where the half width is itself a
// matter of hundredths. A figure without interval is given in whole decibels.
func decimals(low, high *survey.DB) int {
	if low == nil || high == nil {
		return 0
	}
	switch half := math.Abs(float64(*high-*low)) / 2; {
	case half >= 3.55:
		return 0
	case half >= 0.0355:
		return 1
	default:
		return 2
	}
}

// number writes x with a true minus sign, and never as minus zero.
func number(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.HasPrefix(s, "-") {
		if strings.Trim(s, "-0.") == "" {
			return s[1:]
		}
		return "−" + s[1:]
	}
	return s
}

// signed writes a change: with its sign, also where it is positive.
func signed(x float64, decimals int) string {
	s := number(x, decimals)
	if x > 0 && strings.Trim(s, "0.") != "" {
		return "+" + s
	}
	return s
}

// change writes a change of d dB, or a dash where there is none.
func change(d *survey.DB, decimals int) string {
	if d == nil {
		return "–"
	}
	return signed(float64(*d), decimals)
}

// interval writes "5.1 to 7.3".
func interval(low, high *survey.DB, decimals int) string {
	if low == nil || high == nil {
		return "–"
	}
	return number(float64(*low), decimals) + " to " + number(float64(*high), decimals)
}

// share writes a share in whole percent; what is neither none nor all is not
// rounded to it.
func share(p *float64) string {
	if p == nil {
		return "–"
	}
	switch percent := *p * 100; {
	case percent > 0 && percent < 1:
		return "< 1 %"
	case percent < 100 && percent > 99:
		return "> 99 %"
	default:
		return strconv.FormatFloat(percent, 'f', 0, 64) + " %"
	}
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
