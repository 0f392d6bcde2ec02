package page

import (
	"fmt"
	"slices"
	"strings"

	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// An answer is what was found in one segment, in sentences.
type answer struct {
	Segment   string
	Sentences []string
}

// unbroken keeps intervals, and figures with their unit, on one line.
var unbroken = strings.NewReplacer(" … ", "\u00a0…\u00a0", " dB", "\u00a0dB")

// answersOf puts the ranking into words, a segment an answer: the verdict in the words of
// the summary, and what the page adds to it.
func answersOf(r *result.Report) []answer {
	var out []answer
	for i := range r.Rank.Segments {
		s := &r.Rank.Segments[i]
		if s.Period != result.PeriodAll {
			continue
		}
		sentences := append([]string{text.Verdict(s), leader(s, r.Rank.Reference), limited(s.Setups)},
			periodSentences(s, r.Rank.Segments)...)
		sentences = slices.DeleteFunc(sentences, func(s string) bool { return s == "" })
		for i, s := range sentences {
			sentences[i] = unbroken.Replace(s)
		}
		out = append(out, answer{wording.Printable(s.Segment), sentences})
	}
	return out
}

// leader says what of the first setup's advantage over the reference is signal and what is
// floor, and how large it is where the verdict does not; "" where the reference may be as good.
func leader(s *result.RankSegment, reference survey.Setup) string {
	best, told := s.Best()
	if !told || len(s.Setups) < 2 || slices.Contains(best, reference) {
		return ""
	}
	first, places := &s.Setups[0], text.Places(s.Setups)
	if first.Low == nil || *first.Low <= 0 {
		return ""
	}
	out := ""
	if len(best) > 1 {
		out = fmt.Sprintf("%s came first: %s. ", first.Setup.Short(wording.SentenceRoom), text.Advantage(first, places))
	}
	if first.SignalChange == nil || first.FloorChange == nil {
		return strings.TrimSpace(out)
	}
	return out + fmt.Sprintf("Against the reference its signals are %s and its floor is %s.",
		compared(first.SignalChange, places, "stronger", "weaker"), compared(first.FloorChange, places, "higher", "lower"))
}

// compared writes a change as "5.2 dB lower".
func compared(change *survey.DB, places int, more, less string) string {
	zero := wording.Number(0, places)
	switch size := wording.Number(max(float64(*change), -float64(*change)), places); {
	case size == zero:
		return "the same"
	case *change < 0:
		return size + " dB " + less
	default:
		return size + " dB " + more
	}
}

// limited warns of setups that heard the receiver instead of the antenna.
func limited(setups []result.RankSetup) string {
	var who []string
	for _, s := range setups {
		if slices.Contains(s.Flags, survey.FlagReceiverLimited) {
			who = append(who, s.Setup.Short(wording.SentenceRoom))
		}
	}
	if len(who) == 0 {
		return ""
	}
	return fmt.Sprintf("Through %s some floors were in part the receiver's own: its SNR says as much of the receiver as of the antenna.", wording.List(who))
}

// when opens a sentence about a part of the day.
var when = map[string]string{result.PeriodDay: "By day", result.PeriodDusk: "At dusk", result.PeriodNight: "At night", result.PeriodDawn: "At dawn"}

// periodSentences gives the verdict of each part of the day where it is not that of all
// hours, or where its rounds are too few for one.
func periodSentences(all *result.RankSegment, segments []result.RankSegment) (out []string) {
	best, told := all.Best()
	if len(all.Setups) < 2 {
		return nil
	}
	for i := range segments {
		s := &segments[i]
		if !s.SameSegment(all) || s.Period == all.Period {
			continue
		}
		if s.MostRounds() == all.MostRounds() {
			out = append(out, fmt.Sprintf("All rounds fell in the %s: of other hours nothing is known.", s.Period))
			continue
		}
		if here, toldHere := s.Best(); told && (!toldHere || !sameSetups(here, best)) {
			out = append(out, fmt.Sprintf("%s, %s. %s", when[s.Period], survey.Count(s.MostRounds(), "round"), text.Verdict(s)))
		}
	}
	return out
}

// sameSetups tells whether two lists hold the same setups, in any order.
func sameSetups(a, b []survey.Setup) bool {
	return len(a) == len(b) && !slices.ContainsFunc(a, func(s survey.Setup) bool { return !slices.Contains(b, s) })
}
