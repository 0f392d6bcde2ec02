package verdict

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// Sentence says which setup hears best and how far it is ahead of the next, or why that cannot
// be told.
func Sentence(s *result.RankSegment) string {
	v := s.Verdict
	switch {
	case v == nil && candidates(s) == 1:
		return "Only " + name(s.Setups[0].Setup) + " was measured: nothing to compare it with."
	case v == nil:
		return "Nothing was measured that could be compared."
	case v.Kind == result.VerdictNoStations:
		return "No comparison: " + notHeard[s.Of] + "."
	case says(s, doubt.NoReference):
		return "No comparison: the reference was not measured in this segment."
	case ranked(s) < 2:
		return "No comparison: fewer than two setups share a round and a carrier."
	}
	first := name(s.Setups[0].Setup)
	switch v.Kind {
	case result.VerdictFewRounds:
		if says(s, doubt.SlowDrift) {
			return fmt.Sprintf("Floors drift too slowly for %s to tell: %s came first.", survey.Count(s.MostRounds(), "round"), first)
		}
		if says(s, doubt.NoInterval) {
			return fmt.Sprintf("Too few rounds to tell, an interval needs %d: %s came first.", stats.MinRounds, first)
		}
		return fmt.Sprintf("Too few rounds to tell: %s came first.", first)
	case result.VerdictFewCarriers:
		return fmt.Sprintf("Too few stations to tell: by %s %s came first%s.", survey.Count(s.Setups[0].Carriers, "carrier"), first, ahead(s))
	case result.VerdictBest:
		return fmt.Sprintf("%s hears best%s.", first, ahead(s))
	}
	if n := len(v.Setups); n == ranked(s) {
		which := fmt.Sprintf("any of the %d", n)
		if n == 2 {
			which = "either"
		}
		return fmt.Sprintf("No difference seen, %s may be the best: %s came first%s.", which, first, ahead(s))
	}
	which := names(v.Setups)
	if len(v.Setups) > mostNamed {
		which = fmt.Sprintf("%d of %d setups", len(v.Setups), ranked(s))
	}
	return fmt.Sprintf("Not told apart: %s. One of them hears best; %s came first%s.", which, first, ahead(s))
}

// mostNamed is how many setups that are not told apart a sentence names.
const mostNamed = 4

// says tells whether a ranking has a doubt of a kind.
func says(s *result.RankSegment, k doubt.Kind) bool {
	return slices.ContainsFunc(s.Doubts, func(d doubt.Doubt) bool { return d.Kind == k })
}

// Doubts gives what is held against a ranking and Sentence does not say. Where a setup stands alone, nothing is
// compared: there only what was left out of its readings counts, and what is known of it by itself.
func Doubts(s *result.RankSegment) (left []doubt.Doubt) {
	said := map[doubt.Kind]bool{}
	switch v := s.Verdict; {
	case v == nil:
		alone := []doubt.Kind{doubt.TunedElsewhere, doubt.Overloaded, doubt.WithoutFloor, doubt.GainChanged, doubt.Imaged,
			doubt.AmplifierUnknown, doubt.AmplifierNoise, doubt.Ingress, doubt.IngressBound, doubt.ControlApart, doubt.ControlAtOtherGain, doubt.ControlNoise, doubt.ControlOwnNoise, doubt.ControlStations, doubt.ControlAsStrong, doubt.ControlLimit, doubt.ControlLimitBound,
			doubt.Coupled, doubt.NotCoupled, doubt.CouplingNotTold, doubt.CouplingAlone, doubt.CouplingUnknown}
		for _, d := range s.Doubts {
			said[d.Kind] = !slices.Contains(alone, d.Kind)
		}
	case v.Kind == result.VerdictNoStations:
		said[doubt.NoCarrier], said[doubt.NothingOnAir], said[doubt.NoneListed] = true, true, true
	case says(s, doubt.NoReference):
		said[doubt.NoReference] = true
	case v.Kind == result.VerdictFewRounds && ranked(s) > 1:
		said[doubt.NoInterval] = true
	}
	for _, d := range s.Doubts {
		if !said[d.Kind] {
			left = append(left, d)
		}
	}
	return left
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

// candidates counts the setups that are not apart, which come first.
func candidates(s *result.RankSegment) (n int) {
	for n < len(s.Setups) && !s.Setups[n].Apart {
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
// "" where that is not known. The interval is of these two alone, while who may be the best is told of all together:
// a tie may have a lead over its interval, and then it says why.
func ahead(s *result.RankSegment) string {
	v := s.Verdict
	lead, interval := lead(v)
	if lead == "" {
		return ""
	}
	if level(v) {
		return fmt.Sprintf(", level with %s (%s)", name(s.Setups[1].Setup), interval)
	}
	text := fmt.Sprintf(", %s dB ahead of %s (%s)", lead, name(s.Setups[1].Setup), interval)
	if v.Kind == result.VerdictTie && *v.Low > 0 {
		text += fmt.Sprintf(", which may be chance among %d setups", ranked(s))
	}
	return text
}

// level tells whether a lead that is known is none: zero as it is written, or under it, since the two by themselves
// may say otherwise than both against the reference.
func level(v *result.Verdict) bool {
	lead, _ := lead(v)
	return *v.Lead < 0 || strings.Trim(lead, "0.") == ""
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
// "" where it is, or nothing was compared.
func ComparedBy(s *result.RankSegment) string {
	switch {
	case ranked(s) < 2:
	case s.Of == result.OfListed:
		return "Compared by what the plan lists: " + heardOf(s.Listed) + "."
	case s.Of == result.OfTransmissions:
		slots := 0
		for _, x := range s.Setups {
			slots = max(slots, x.Carriers)
		}
		return fmt.Sprintf("Compared by what is on the air, in %s of 2.4 kHz: one antenna may hear other transmissions than the next, hence wide intervals.", survey.Count(slots, "slot"))
	}
	return ""
}

// heardOf says which listed frequencies were heard often enough: "9.42 MHz heard in 20 of 24 rounds, 9.996 MHz not";
// of many how many were.
func heardOf(listed []result.ListedLine) string {
	const mostTold = 8
	var heard, not []string
	for _, l := range listed {
		if l.Counts {
			heard = append(heard, fmt.Sprintf("%v heard in %d of %s", l.Frequency, l.Heard, survey.Count(l.Rounds, "round")))
		} else {
			not = append(not, fmt.Sprint(l.Frequency))
		}
	}
	switch {
	case len(listed) > mostTold:
		return fmt.Sprintf("%d of %d frequencies heard often enough", len(heard), len(listed))
	case len(not) > 0:
		heard = append(heard, wording.List(not)+" not")
	}
	return strings.Join(heard, ", ")
}

// Legend says what is to be known of leads among three setups and more, and of advantages without an interval, where there are such.
func Legend(r result.Rank) (lines []string) {
	lead := slices.ContainsFunc(r.Segments, func(s result.RankSegment) bool {
		return s.Verdict != nil && s.Verdict.Low != nil && ranked(&s) > 2
	})
	rough := slices.ContainsFunc(r.Segments, func(s result.RankSegment) bool {
		return s.Verdict != nil && slices.ContainsFunc(s.Setups, func(x result.RankSetup) bool {
			return x.Setup != r.Reference && x.SNRAdvantage != nil && x.Low == nil
		})
	})
	apart := slices.ContainsFunc(r.Segments, func(s result.RankSegment) bool { return s.Verdict != nil && candidates(&s) < len(s.Setups) })
	if lead {
		lines = append(lines, "A lead and its interval are of the first two by themselves; ties are judged all at once, so that a lead may exclude 0 and still be a tie.")
	}
	if slices.ContainsFunc(r.Segments, bare) {
		lines = append(lines, "A lead whose interval begins at 0.0 and that is no tie begins over 0, by less than is written: told apart, and no more than that.")
	}
	if apart {
		lines = append(lines, "– in place of a rank: a control, or an antenna with others removed. Neither is another antenna, and neither can be the best.")
	}
	if rough {
		lines = append(lines, "≈ before an advantage: its interval is not known.")
	}
	return lines
}

// bare tells whether the first setup hears best by an interval that begins at 0 as it is written.
func bare(s result.RankSegment) bool {
	v := s.Verdict
	if v == nil || v.Kind != result.VerdictBest {
		return false
	}
	_, interval := lead(v)
	from, _, _ := strings.Cut(interval, " ")
	return from != "" && strings.Trim(from, "+0.") == ""
}

// Marked tells whether setups that may be the best are worth a mark: without any interval all may be.
func Marked(s *result.RankSegment) bool {
	return s.Verdict != nil && s.Verdict.Kind != result.VerdictFewRounds && s.Verdict.Kind != result.VerdictNoStations
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
