package reports

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"nightfloor/reports/result"
	"nightfloor/survey"
)

// none stands where a figure does not apply.
const none = "–"

// Places gives the decimals of all differences in one ranking, so that a column has
// one precision: tenths of a dB, since less means nothing to an antenna; hundredths
// where each interval (but the reference's own, which is nothing wide) is narrower
// than a tenth.
func Places(setups []result.RankSetup) int {
	narrow := false
	for _, s := range setups {
		if s.Low == nil || s.High == nil || *s.Low == *s.High {
			continue
		}
		if *s.High-*s.Low >= 0.1 {
			return 1
		}
		narrow = true
	}
	if narrow {
		return 2
	}
	return 1
}

// Number writes a level or another figure with a true minus sign; 0.0 bears no sign.
func Number(x float64, places int) string {
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
		return none
	}
	text := Number(float64(*x), places)
	if *x > 0 && strings.Trim(text, "0.") != "" {
		return "+" + text
	}
	return text
}

// Interval writes "+5.1 … +7.3", a dash where there is none.
func Interval(low, high *survey.DB, places int) string {
	if low == nil || high == nil {
		return none
	}
	return Signed(low, places) + " … " + Signed(high, places)
}

// Share writes a share in per cent. Of 2,000 draws no more than whole per
// cent is known, and none is not never.
func Share(x *float64) string {
	switch {
	case x == nil:
		return none
	case *x > 0 && *x < 0.01:
		return "< 1 %"
	case *x < 1 && *x > 0.99:
		return "> 99 %"
	}
	return fmt.Sprintf("%.0f %%", 100**x)
}

// setupText writes a setup for people, no longer than room characters. What tells
// bearings and states of an antenna apart is not cut.
func setupText(s survey.Setup, room int) string {
	place, end := "", ""
	if s.Placement != "" {
		place = "@" + Printable(s.Placement)
	}
	if s.Bearing.Known {
		end = " " + s.Bearing.String()
	}
	text := Printable(s.Antenna) + place
	if antenna, clock, ok := cutState(s.Antenna); ok && utf8.RuneCountInString(text+end) > room {
		text, end = Printable(antenna)+place, " ("+Printable(clock)+")"+end
	}
	return shorten(text, room-utf8.RuneCountInString(end)) + end
}

// shorten cuts a text in the middle of which nothing is lost that tells names
// apart: beginning and end stay.
func shorten(text string, room int) string {
	runes := []rune(text)
	if len(runes) <= room {
		return text
	}
	head := (room - 1) * 2 / 3
	return string(runes[:head]) + "…" + string(runes[len(runes)-(room-1-head):])
}

// edgesText writes 9.4–9.9 MHz.
func edgesText(low, high survey.Hz) string {
	a, b := low.String(), high.String()
	if number, unit, ok := strings.Cut(a, " "); ok && strings.HasSuffix(b, " "+unit) {
		return number + "–" + b
	}
	return a + "–" + b
}

// grouped writes 28,800.
func grouped(n int) string {
	text := strconv.Itoa(n)
	for i := len(text) - 3; i > 0; i -= 3 {
		text = text[:i] + "," + text[i:]
	}
	return text
}

// spanText writes from when to when, local time with its zone.
func spanText(from, to time.Time, zone *time.Location) string {
	from, to = from.In(zone), to.In(zone)
	begin, end := "2 Jan 2006 15:04", "2 Jan 2006 15:04 MST"
	switch {
	case from.Format(time.DateOnly) == to.Format(time.DateOnly):
		end = "15:04 MST"
	case from.Year() == to.Year():
		end = "2 Jan 15:04 MST"
	}
	if a, b := from.Format("MST"), to.Format("MST"); a != b { // a change of the clock in between
		begin += " MST"
	}
	return from.Format(begin) + " – " + to.Format(end)
}

// durationText writes 45 s, 20 min or 3 h 26 min.
func durationText(d time.Duration) string {
	minutes := int(d.Round(time.Minute).Minutes())
	switch {
	case d < 2*time.Minute:
		return fmt.Sprintf("%.0f s", d.Seconds())
	case minutes < 60:
		return fmt.Sprintf("%d min", minutes)
	case minutes%60 == 0:
		return fmt.Sprintf("%d h", minutes/60)
	}
	return fmt.Sprintf("%d h %d min", minutes/60, minutes%60)
}
