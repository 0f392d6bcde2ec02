package page

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/reports/verdict"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// united matches a figure with a space and its unit behind it.
var united = regexp.MustCompile(`(\d) (dB|m|[kM]?Hz)\b`)

// unbroken keeps intervals, and figures with their unit, on one line.
func unbroken(text string) string {
	return strings.ReplaceAll(united.ReplaceAllString(text, "$1\u00a0$2"), " … ", "\u00a0…\u00a0")
}

// An adviceView is something to do; Span is the stretch of time that it speaks of, behind
// Before.
type adviceView struct {
	Before string
	Span   *spanView
	Text   string
}

// adviceOf shows advice.
func adviceOf(r *result.Report) (out []adviceView) {
	for _, a := range verdict.Advise(r) {
		v := adviceView{Before: a.Before, Text: unbroken(a.Text)}
		if a.From != nil || a.To != nil {
			span := spanOf(stretch(a.From, a.To))
			v.Span = &span
		}
		out = append(out, v)
	}
	return out
}

// sentencesOf says what one ranking comes to: the verdict in the words of the summary, how the first
// setup stands against the reference, and what is to be known of the figures below.
func sentencesOf(s *result.RankSegment, reference survey.Setup) []string {
	sentences := []string{verdict.Sentence(s), verdict.ComparedBy(s), verdict.Against(s, reference, text.Places(s.Setups)), limited(s.Setups)}
	sentences = slices.DeleteFunc(sentences, func(s string) bool { return s == "" })
	for i, s := range sentences {
		sentences[i] = unbroken(s)
	}
	return sentences
}

// limited warns of setups that heard the receiver instead of the antenna.
func limited(setups []result.RankSetup) string {
	var who []string
	for _, s := range setups {
		if !s.Apart && slices.Contains(s.Flags, survey.FlagReceiverLimited) { // a control is
			who = append(who, s.Setup.Short(wording.SentenceRoom))
		}
	}
	if len(who) == 0 {
		return ""
	}
	return fmt.Sprintf("Through %s some floors were in part the receiver's own: its SNR says as much of the receiver as of the antenna.", wording.List(who))
}
