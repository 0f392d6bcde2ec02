package survey

import "strconv"

// Count writes 1 round, 2 rounds, 28,800 rounds.
func Count(n int, noun string) string {
	switch {
	case n == 1:
		return "1 " + noun
	case noun == "spectrum":
		return Grouped(n) + " spectra"
	}
	return Grouped(n) + " " + noun + "s"
}

// RoundOf writes round 5 of 2,400, and round 5 where there is no last one (0).
func RoundOf(round, rounds int) string {
	text := "round " + Grouped(round)
	if rounds > 0 {
		text += " of " + Grouped(rounds)
	}
	return text
}

// Grouped writes 28,800.
func Grouped(n int) string {
	text := strconv.Itoa(n)
	for i := len(text) - 3; i > 0; i -= 3 {
		text = text[:i] + "," + text[i:]
	}
	return text
}
