package wording

import (
	"math"
	"time"
)

// Pulses says how many impulses were counted.
func Pulses(pulses int, listened time.Duration) string {
	if listened == 0 {
		return "impulses"
	}
	return Count(pulses, "impulse") + " in " + listenedText(listened) + " of listening"
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
