package verdict

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// Sentence says which setup hears best and how far it is ahead of the next, or why that cannot
// be told.
func Sentence(s *result.RankSegment) string {
	v := s.Verdict
	switch {
	case v == nil && len(s.Setups) == 1:
		return "Only " + name(s.Setups[0].Setup) + " was measured: nothing to compare it with."
	case v == nil:
		return "Nothing was measured that could be compared."
	case v.Kind == result.VerdictNoStations:
		return "No comparison: " + notHeard[s.Of] + "."
	case ranked(s) < 2:
		return "No comparison: fewer than two setups share a round and a carrier."
	}
	first := name(s.Setups[0].Setup)
	switch v.Kind {
	case result.VerdictFewRounds:
		if drifts(s) {
			return fmt.Sprintf("Floors drift too slowly for %s to tell: %s came first.", survey.Count(s.MostRounds(), "round"), first)
		}
		return fmt.Sprintf("Too few rounds to tell: %s came first.", first)
	case result.VerdictFewCarriers:
		return fmt.Sprintf("Too few stations to tell: by %s %s came first%s.", survey.Count(s.Setups[0].Carriers, "carrier"), first, ahead(s))
	case result.VerdictBest:
		return fmt.Sprintf("%s hears best%s.", first, ahead(s))
	}
	if len(v.Setups) == ranked(s) {
		return fmt.Sprintf("No difference seen, any of the %d may be the best: %s came first%s.", len(v.Setups), first, ahead(s))
	}
	which := names(v.Setups)
	if len(v.Setups) > mostNamed {
		which = fmt.Sprintf("%d of %d setups", len(v.Setups), ranked(s))
	}
	return fmt.Sprintf("Not told apart: %s. One of them hears best; %s came first%s.", which, first, ahead(s))
}

// mostNamed is how many setups that are not told apart a sentence names.
const mostNamed = 4

// drifts tells whether floors drift too slowly for so few rounds.
func drifts(s *result.RankSegment) bool {
	return slices.ContainsFunc(s.Doubts, func(d doubt.Doubt) bool { return d.Kind == doubt.SlowDrift })
}

// notHeard says why nothing could be compared, by what setups are compared by.
var notHeard = map[string]string{
	"":                     "no station was heard often enough",
	result.OfCarriers:      "no station was heard often enough",
	result.OfListed:        "none of the frequencies that the plan lists was heard often enough",
	result.OfTransmissions: "too little was on the air",
}

// ranked counts the setups with a rank; they come first.
func ranked(s *result.RankSegment) (n int) {
	for n < len(s.Setups) && s.Setups[n].Rank > 0 {
		n++
	}
	return n
}

func name(s survey.Setup) string { return s.Short(wording.SentenceRoom) }

func names(setups []survey.Setup) string {
	var all []string
	for _, s := range setups {
		all = append(all, name(s))
	}
	return wording.List(all)
}

// ahead says how far the first is ahead of the next: ", 1.2 dB ahead of whip@loft (0.4 … 2.0)";
// "" where that is not known.
func ahead(s *result.RankSegment) string {
	lead, interval := lead(s.Verdict)
	if lead == "" {
		return ""
	}
	if *s.Verdict.Lead < 0 || strings.Trim(lead, "0.") == "" { // the two by themselves may say otherwise than both against the reference
		return fmt.Sprintf(", level with %s (%s)", name(s.Setups[1].Setup), interval)
	}
	return fmt.Sprintf(", %s dB ahead of %s (%s)", lead, name(s.Setups[1].Setup), interval)
}

// lead writes the lead and its interval, in hundredths of a dB where that is narrower than a tenth;
// "" where they are not known.
func lead(v *result.Verdict) (lead, interval string) {
	if v.Lead == nil || v.Low == nil || v.High == nil {
		return "", ""
	}
	places := 1
	if *v.High-*v.Low < 0.1 {
		places = 2
	}
	return wording.Figure(v.Lead, places), wording.Figure(v.Low, places) + " … " + wording.Figure(v.High, places)
}

// Against says how the first setup stands against the reference and, where the levels compare,
// what of that is signal and what is floor; "" where it is the reference, or no interval is known.
func Against(s *result.RankSegment, reference survey.Setup, places int) string {
	if len(s.Setups) == 0 {
		return ""
	}
	first := &s.Setups[0]
	if first.Setup == reference || first.Low == nil || first.High == nil {
		return ""
	}
	text := fmt.Sprintf("%s against the reference: %s dB SNR (%s)", name(first.Setup), wording.Signed(first.SNRAdvantage, places),
		wording.Interval(first.Low, first.High, places))
	if first.SignalChange != nil && first.FloorChange != nil {
		text += fmt.Sprintf("; its signals are %s, its floor is %s", compared(*first.SignalChange, places, "stronger", "weaker"),
			compared(*first.FloorChange, places, "higher", "lower"))
	}
	return text + "."
}

// compared writes a change as "5.2 dB lower".
func compared(change survey.DB, places int, more, less string) string {
	size := wording.Number(math.Abs(float64(change)), places)
	switch {
	case size == wording.Number(0, places):
		return "the same"
	case change < 0:
		return size + " dB " + less
	}
	return size + " dB " + more
}

// ComparedBy says what setups are compared by where that is not carriers which the program found;
// "" where it is.
func ComparedBy(s *result.RankSegment) string {
	switch s.Of {
	case result.OfListed:
		return "Compared by the beacons and time signals that the plan lists."
	case result.OfTransmissions:
		return "Compared by what is on the air, in slots of 2.4 kHz: one antenna may hear other transmissions than the next, hence wide intervals."
	}
	return ""
}

// In says over which rounds an entry of the ranking is: "at night, 12 rounds with source 2 on".
func In(s *result.RankSegment) string {
	text := survey.Count(s.MostRounds(), "round")
	if s.State != nil {
		text += " with " + wording.Printable(*s.State)
	}
	if s.Period != result.PeriodAll || s.State == nil {
		text = when[s.Period] + ", " + text
	}
	return text
}

// when says in words when a period is.
var when = map[string]string{result.PeriodAll: "over all hours", result.PeriodDay: "by day", result.PeriodDusk: "at dusk",
	result.PeriodNight: "at night", result.PeriodDawn: "at dawn"}
