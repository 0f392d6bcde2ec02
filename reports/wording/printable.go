package wording

import (
	"fmt"
	"strings"
	"unicode"

	"nightfloor/survey"
)

// Printable makes a name safe to print: control characters, which a terminal would
// obey, and characters that turn the writing direction or take no room are
// written as \x1b or \u202e; so are bytes that are no UTF-8.
func Printable(text string) string {
	if strings.IndexFunc(text, unsafe) < 0 {
		return text
	}
	var b strings.Builder
	for i, r := range text {
		switch {
		case r == unicode.ReplacementChar && text[i] != "\uFFFD"[0]:
			fmt.Fprintf(&b, `\x%02x`, text[i])
		case !unsafe(r):
			b.WriteRune(r)
		case r < 0x80:
			fmt.Fprintf(&b, `\x%02x`, r)
		default:
			fmt.Fprintf(&b, `\u%04x`, r)
		}
	}
	return b.String()
}

// Receiver makes a receiver's description safe to print, and its sample rate easy to read.
func Receiver(described string) string { return Printable(survey.ReceiverText(described)) }

// Printables makes every text of a list safe to show.
func Printables(list []string) []string {
	var out []string
	for _, s := range list {
		out = append(out, Printable(s))
	}
	return out
}

func unsafe(r rune) bool {
	return r == unicode.ReplacementChar || !unicode.IsPrint(r)
}
