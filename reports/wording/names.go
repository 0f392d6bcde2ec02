package wording

import (
	"strings"

	"nightfloor/survey"
)

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

// SentenceRoom is how many characters a setup may take in a sentence.
const SentenceRoom = 60
