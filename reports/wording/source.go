package wording

import (
	"fmt"
	"math"
	"time"

	"nightfloor/reports/result"
	"nightfloor/survey"
)

// Pulses says how many impulses were counted.
func Pulses(pulses int, listened time.Duration) string {
	if listened == 0 {
		return "impulses"
	}
	return Count(pulses, "impulse") + " in " + listenedText(listened) + " of listening"
}

// listenedText writes a time of which a second may be much.
func listenedText(d time.Duration) string {
	if d < 10*time.Second {
		return Number(math.Max(0.1, d.Seconds()), 1) + " s"
	}
	return Duration(d)
}

// Article puts a or an before a family.
func Article(likely string) string {
	switch likely {
	case result.LikelyOwn, result.LikelyArcing, result.LikelyNetwork:
		return likely
	case result.LikelyFence:
		return "an " + likely
	}
	return "a " + likely
}

// Source says what was found: 65.0 kHz comb, mains-modulated.
func Source(s *result.NoiseSource) string {
	switch s.Kind {
	case survey.FindingComb:
		text := Number(float64(*s.Spacing)/1e3, 1) + " kHz comb"
		if s.Envelope != nil {
			text += ", mains-modulated"
		}
		return text
	case survey.FindingMains:
		return fmt.Sprintf("noise that beats at %s Hz, twice the mains frequency", Number(2*float64(*s.Mains), 0))
	case survey.FindingImpulses:
		if s.Rate == nil {
			return Pulses(s.Pulses, s.Listened)
		}
		return "impulses, " + Rate(float64(*s.Rate))
	case survey.FindingHump:
		return "hump of the floor at " + Edges(*s.Low, *s.High)
	case survey.FindingNotch:
		return "raised floor with notches at amateur bands"
	}
	return s.Kind
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
