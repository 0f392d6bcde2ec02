package wording

import (
	"math"
	"strings"

	"nightfloor/survey"
)

// Edges writes 9.4–9.9 MHz.
func Edges(low, high survey.Hz) string { return survey.Edges(low, high, "–") }

// Segment writes a segment with its edges, once where its name is made of them.
func Segment(name string, low, high survey.Hz) string {
	if strings.HasSuffix(name, " kHz") && name == survey.SegmentOf(low, high).Name {
		return name
	}
	return Printable(name) + ", " + Edges(low, high)
}

// List writes a, b and c.
func List(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// BothWays writes a bearing and its opposite in whole degrees: 033° / 213°.
func BothWays(deg float64) string {
	deg = math.Mod(math.Round(deg), 180)
	return survey.BearingOf(deg).String() + " / " + survey.BearingOf(deg+180).String()
}

// SetupRoom keeps tables within 100 characters; wider ones have more room.
const SetupRoom = 28

// SentenceRoom is how many characters a setup may take in a sentence.
const SentenceRoom = 60
