package text

import (
	"fmt"
	"math"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// inSentence names a setup as the terminal's sentences do.
func inSentence(s survey.Setup) string { return wording.Setup(s, 40) }

// Verdict says in a sentence which setup hears best, or that the data cannot tell; setups
// are named by the given function.
func Verdict(s *result.RankSegment, name func(survey.Setup) string) string {
	if len(s.Setups) == 1 {
		return "Only " + name(s.Setups[0].Setup) + " was measured: nothing to compare it with."
	}
	ranked := 0 // they come first
	for ranked < len(s.Setups) && s.Setups[ranked].Rank > 0 {
		ranked++
	}
	if ranked < 2 {
		return "No comparison: fewer than two setups share a round and a carrier."
	}
	best, told := s.Best()
	var names []string
	for _, x := range best {
		names = append(names, name(x))
	}
	switch {
	case !told:
		return fmt.Sprintf("Too few rounds to tell: %s came first.", names[0])
	case len(best) == ranked:
		return fmt.Sprintf("No difference seen: any of the %d may be the best.", ranked)
	case len(best) > 1:
		return fmt.Sprintf("Not told apart: %s. One of them hears best.", wording.List(names))
	}
	return fmt.Sprintf("%s hears best%s.", names[0], lead(s))
}

// lead says by how much the first beats the second where the reference is one
// of the two, else how far the first is ahead of the reference.
func lead(s *result.RankSegment) string {
	best, second, places := s.Setups[0], s.Setups[1], Places(s.Setups)
	if reference := best.Low == nil || *best.Low == 0 && *best.High == 0; !reference {
		return ": " + Advantage(&best, places)
	}
	if second.Low == nil {
		return ""
	}
	return fmt.Sprintf(": the next is %s dB behind (%s … %s)", magnitude(second.SNRAdvantage, places),
		magnitude(second.High, places), magnitude(second.Low, places))
}

// Advantage says how far a setup that has an interval is ahead of the reference.
func Advantage(x *result.RankSetup, places int) string {
	return fmt.Sprintf("%s dB more SNR than the reference (%s)", wording.Signed(x.SNRAdvantage, places), wording.Interval(x.Low, x.High, places))
}

func magnitude(x *survey.DB, places int) string { return wording.Number(math.Abs(float64(*x)), places) }
