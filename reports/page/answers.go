package page

import (
	"fmt"
	"slices"
	"strings"

	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/reports/wording"
)

// An answer is what was found in one segment, in sentences.
type answer struct {
	Segment   string
	Sentences []string
}

// answersOf puts the ranking into words, a segment an answer. A tie is called a
// tie, and no difference is a finding like any other.
func answersOf(r *result.Report, n *names) []answer {
	var out []answer
	for _, s := range r.Rank.Segments {
		if s.Period != mainPeriod(r.Rank.Segments, s.Segment) {
			continue
		}
		a := answer{Segment: wording.Printable(s.Segment), Sentences: sentences(s, r.Rank, n)}
		a.Sentences = append(a.Sentences, periodSentences(s, r.Rank.Segments, n)...)
		out = append(out, a)
	}
	return out
}

// mainPeriod gives the period that speaks for a segment: all, or the first
// there is.
func mainPeriod(segments []result.RankSegment, name string) string {
	first := ""
	for _, s := range segments {
		if s.Segment != name {
			continue
		}
		if s.Period == "all" {
			return "all"
		}
		if first == "" {
			first = s.Period
		}
	}
	return first
}

// sentences tells who hears best in one segment, what cannot be told from it,
// and which part signals and floor have in it.
func sentences(s result.RankSegment, rank result.Rank, n *names) []string {
	best, others := split(s.Setups)
	if best == nil {
		return []string{fmt.Sprintf("On %s nothing can be ranked.", wording.Printable(s.Segment))}
	}
	if len(others) == 0 {
		return []string{fmt.Sprintf("On %s only %s was measured: there is nothing to compare it with.", wording.Printable(s.Segment), n.Spoken(best.Setup))}
	}
	var out []string
	if best.Setup == rank.Reference {
		out = append(out, referenceFirst(s, *best, others, n))
	} else {
		out = append(out, leader(s, *best, rank, n), parts(s, *best, rank, n))
	}
	out = append(out, ties(*best, others, rank, n), limited(s.Setups, n))
	return slices.DeleteFunc(out, func(s string) bool { return s == "" })
}

// split gives the setup of rank 1 and the others that have a figure.
func split(setups []result.RankSetup) (best *result.RankSetup, others []result.RankSetup) {
	for i, s := range setups {
		switch {
		case s.SNRAdvantage == nil:
		case s.Rank == 1 && best == nil:
			best = &setups[i]
		default:
			others = append(others, s)
		}
	}
	return best, others
}

// leader says how far the best setup stands above the reference.
func leader(s result.RankSegment, best result.RankSetup, rank result.Rank, n *names) string {
	who, than, on := n.Spoken(best.Setup), n.Spoken(rank.Reference), wording.Printable(s.Segment)
	places := text.Places(s.Setups)
	by := wording.Number(float64(*best.SNRAdvantage), places)
	switch {
	case best.Low == nil || best.High == nil:
		return fmt.Sprintf("On %s %s heard %s dB better than %s, but over %s: a hint and no result.", on, who, by, than, unbounded(best.Rounds))
	case *best.Low <= 0:
		return fmt.Sprintf("On %s no difference seen between %s and %s: %s dB, and the 95 %% interval, %s dB, holds 0.",
			on, who, than, wording.Signed(best.SNRAdvantage, places), fromTo(best.Low, best.High, places))
	default:
		return fmt.Sprintf("On %s %s hears %s dB better than %s; 95 %% interval %s dB.",
			on, who, by, than, fromTo(best.Low, best.High, places))
	}
}

// unbounded says of how many rounds there is no interval, and why where that is
// known: under 6 rounds none is given (contract of the ranking).
func unbounded(rounds int) string {
	if rounds < 6 {
		return count(rounds, "round") + ", too few for an interval"
	}
	return count(rounds, "round") + " without an interval"
}

// parts says what of the advantage is signal and what is floor.
func parts(s result.RankSegment, best result.RankSetup, rank result.Rank, n *names) string {
	if best.SignalChange == nil || best.FloorChange == nil || best.Low == nil || *best.Low <= 0 {
		return ""
	}
	places := text.Places(s.Setups)
	return fmt.Sprintf("Against %s its signals are %s and its floor is %s.", n.Spoken(rank.Reference),
		compared(float64(*best.SignalChange), places, "stronger", "weaker"),
		compared(float64(*best.FloorChange), places, "higher", "lower"))
}

// compared writes a change as "5.2 dB lower".
func compared(change float64, places int, more, less string) string {
	text := wording.Number(change, places)
	switch {
	case strings.Trim(text, "−0.") == "":
		return "the same"
	case change < 0:
		return strings.TrimPrefix(text, "−") + " dB " + less
	default:
		return text + " dB " + more
	}
}

// referenceFirst says that nothing beats the reference, and who comes next.
func referenceFirst(s result.RankSegment, best result.RankSetup, others []result.RankSetup, n *names) string {
	next := others[0]
	places := text.Places(s.Setups)
	text := fmt.Sprintf("On %s no setup was seen to hear better than %s, the reference. Next comes %s with %s dB",
		wording.Printable(s.Segment), n.Spoken(best.Setup), n.Spoken(next.Setup), wording.Signed(next.SNRAdvantage, places))
	if next.Low == nil || next.High == nil {
		return text + " over " + unbounded(next.Rounds) + "."
	}
	return text + fmt.Sprintf("; 95 %% interval %s dB.", fromTo(next.Low, next.High, places))
}

// ties names the setups that the data cannot separate from the best. Where the
// leading sentence has said so of the reference, it is not said twice.
func ties(best result.RankSetup, others []result.RankSetup, rank result.Rank, n *names) string {
	said := best.Low != nil && *best.Low <= 0 && best.Setup != rank.Reference
	var tied []string
	for _, s := range others {
		if s.MayBeBest && !(said && s.Setup == rank.Reference) {
			tied = append(tied, n.Spoken(s.Setup))
		}
	}
	switch {
	case len(tied) > 0 && best.Low == nil && best.Setup != rank.Reference:
		return "" // without an interval nothing is separated from anything
	case len(tied) > 0:
		return fmt.Sprintf("A tie: the data cannot separate %s from %s.", n.Spoken(best.Setup), list(tied, "or"))
	case best.Low != nil && *best.Low > 0 && len(others) > 1:
		return "No other setup ties with it."
	}
	return ""
}

// limited warns of setups that heard the receiver instead of the antenna.
func limited(setups []result.RankSetup, n *names) string {
	var who []string
	for _, s := range setups {
		if slices.Contains(s.Flags, "receiver-limited") {
			who = append(who, n.Spoken(s.Setup))
		}
	}
	if len(who) == 0 {
		return ""
	}
	return fmt.Sprintf("Through %s some floors were in part the receiver's own: its SNR says as much of the receiver as of the antenna.", list(who, "and"))
}

// when opens a sentence about a part of the day.
var when = map[string]string{"all": "Over all hours", "day": "By day", "dusk": "At dusk", "night": "At night", "dawn": "At dawn"}

// periodSentences tells what each part of the day says that all hours do not:
// another verdict, or too few rounds for any.
func periodSentences(all result.RankSegment, segments []result.RankSegment, n *names) []string {
	var out []string
	for _, s := range segments {
		best, others := split(s.Setups)
		if s.Segment != all.Segment || s.Period == all.Period || best == nil || len(others) == 0 {
			continue
		}
		if mostRounds(s) == mostRounds(all) {
			out = append(out, fmt.Sprintf("All rounds were made %s: of other hours nothing is known.", strings.ToLower(when[s.Period])))
			continue
		}
		if text := periodSentence(s, all, *best, n); text != "" {
			out = append(out, when[s.Period]+" "+text+".")
		}
	}
	return out
}

// periodSentence gives the rest of a sentence that begins with the period, ""
// where its verdict is that of all hours.
func periodSentence(s, all result.RankSegment, best result.RankSetup, n *names) string {
	may, mayOfAll := mayBeBest(s), mayBeBest(all)
	switch {
	case !judged(all):
		return ""
	case !judged(s):
		return fmt.Sprintf("there were only %s, too few to tell the setups apart", count(mostRounds(s), "round"))
	case slices.Equal(may, mayOfAll):
		return ""
	case len(may) == len(ranks(s)):
		return "no difference is seen between the setups"
	case len(may) > 1:
		return fmt.Sprintf("%s cannot be told apart; one of them hears best", list(spokenAll(may, n), "and"))
	}
	verb := "hears best"
	if !slices.Contains(mayOfAll, best.Setup.String()) {
		verb = "hears best instead"
	} else if len(mayOfAll) > 1 {
		verb = "alone hears best"
	}
	told := n.Spoken(best.Setup) + " " + verb
	if best.Low != nil && best.High != nil && (*best.Low != 0 || *best.High != 0) {
		places := text.Places(s.Setups)
		told += fmt.Sprintf(", with %s dB; 95 %% interval %s dB", wording.Signed(best.SNRAdvantage, places), fromTo(best.Low, best.High, places))
	}
	return told
}

// ranks gives the setups that have a figure.
func ranks(s result.RankSegment) []result.RankSetup {
	return slices.DeleteFunc(slices.Clone(s.Setups), func(t result.RankSetup) bool { return t.SNRAdvantage == nil })
}

// mayBeBest gives the written forms of the setups that may be the best, in
// alphabetical order.
func mayBeBest(s result.RankSegment) []string {
	var out []string
	for _, t := range ranks(s) {
		if t.MayBeBest {
			out = append(out, t.Setup.String())
		}
	}
	slices.Sort(out)
	return out
}

// spokenAll gives setups by their written form as sentences call them.
func spokenAll(written []string, n *names) []string {
	var out []string
	for _, s := range n.setups {
		if slices.Contains(written, s.String()) {
			out = append(out, n.Spoken(s))
		}
	}
	return out
}

// judged tells whether any setup but the reference, whose interval is 0 to 0,
// has an interval.
func judged(s result.RankSegment) bool {
	return slices.ContainsFunc(s.Setups, func(t result.RankSetup) bool {
		return t.Low != nil && t.High != nil && *t.Low != *t.High
	})
}

// mostRounds gives in how many rounds the most frequent setup took part.
func mostRounds(s result.RankSegment) (n int) {
	for _, t := range s.Setups {
		n = max(n, t.Rounds)
	}
	return n
}

// list writes "a, b or c".
func list(items []string, last string) string {
	if len(items) < 2 {
		return strings.Join(items, "")
	}
	return strings.Join(items[:len(items)-1], ", ") + " " + last + " " + items[len(items)-1]
}

// count writes "1 round", "5 rounds".
func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
