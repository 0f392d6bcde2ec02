package wording

import (
	"strings"
	"unicode/utf8"

	"nightfloor/survey"
)

// Setup writes a setup for people, no longer than room characters. What tells
// bearings and states of an antenna apart is not cut.
func Setup(s survey.Setup, room int) string {
	place, end := "", ""
	if s.Placement != "" {
		place = "@" + Printable(s.Placement)
	}
	if s.Bearing.Known {
		end = " " + s.Bearing.String()
	}
	text := Printable(s.Antenna) + place
	if s.State != (survey.State{}) && utf8.RuneCountInString(text+end) > room {
		text, end = Printable(s.State.Antenna)+place, " ("+s.State.Clock+")"+end
	}
	return Shorten(text, room-utf8.RuneCountInString(end)) + end
}

// Shorten cuts a text in its middle: names are told apart by beginning and end.
func Shorten(text string, room int) string {
	runes := []rune(text)
	if len(runes) <= room {
		return text
	}
	head := (room - 1) * 2 / 3
	return string(runes[:head]) + "…" + string(runes[len(runes)-(room-1-head):])
}

// Edges writes 9.4–9.9 MHz.
func Edges(low, high survey.Hz) string { return survey.Edges(low, high, "–") }

// List writes a, b and c.
func List(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// SetupRoom keeps tables within 100 characters; wider ones have more room.
const SetupRoom = 28
