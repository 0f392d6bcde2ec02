package reports

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"nightfloor/survey"
)

// none stands where a figure does not apply.
const none = "–"

// decimals gives how many decimals a figure deserves whose 95 % interval is so
// wide: the last digit shown is at least a thirtieth of it.
func decimals(width float64) int {
	switch {
	case width >= 3:
		return 0
	case width >= 0.3:
		return 1
	}
	return 2
}

// places gives the decimals of a setup's figures; whole dB without an interval.
func (s RankSetup) places() int {
	if s.Low == nil || s.High == nil {
		return 0
	}
	return decimals(float64(*s.High - *s.Low))
}

// signed writes a difference with its sign, a true minus sign, and no minus zero.
func signed(x *survey.DB, places int) string {
	if x == nil {
		return none
	}
	return signedFigure(float64(*x), places)
}

func signedFigure(x float64, places int) string {
	text := strconv.FormatFloat(math.Abs(x), 'f', places, 64)
	switch {
	case strings.Trim(text, "0.") == "":
		return text
	case x < 0:
		return "−" + text
	}
	return "+" + text
}

// intervalText writes "+5.1 … +7.3".
func (s RankSetup) intervalText() string {
	if s.Low == nil || s.High == nil {
		return none
	}
	p := s.places()
	return signed(s.Low, p) + " … " + signed(s.High, p)
}

// shareText writes a share in per cent. Of 2,000 draws no more than whole per
// cent is known, and none is not never.
func shareText(x *float64) string {
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

// setupText writes a setup for people, no longer than room characters.
func setupText(s survey.Setup, room int) string {
	text := Printable(s.Antenna)
	if s.Placement != "" {
		text += "@" + Printable(s.Placement)
	}
	bearing := ""
	if s.Bearing.Known {
		bearing = " " + s.Bearing.String()
	}
	return shorten(text, room-utf8.RuneCountInString(bearing)) + bearing
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
