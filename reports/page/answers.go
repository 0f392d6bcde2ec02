package page

import (
	"fmt"
	"slices"
	"strings"

	"nightfloor/reports"
)

// An answer is what was found in one segment, in sentences.
type answer struct {
	Segment   string
	Sentences []string
}

// answersOf puts the ranking into words, a segment an answer. A tie is called a
// tie, and no difference is a finding like any other.
func answersOf(r *reports.Report, n *names) []answer {
	var out []answer
	for _, s := range r.Rank.Segments {
		if s.Period != mainPeriod(r.Rank.Segments, s.Segment) {
			continue
		}
		a := answer{Segment: reports.Printable(s.Segment), Sentences: sentences(s, r.Rank, n)}
		a.Sentences = append(a.Sentences, periodSentences(s, r.Rank.Segments, n)...)
		out = append(out, a)
	}
	return out
}

// mainPeriod gives the period that speaks for a segment: all, or the first
// there is.
func mainPeriod(segments []reports.RankSegment, name string) string {
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
func sentences(s reports.RankSegment, rank reports.Rank, n *names) []string {
	best, others := split(s.Setups)
	if best == nil {
		return []string{fmt.Sprintf("On %s nothing can be ranked.", reports.Printable(s.Segment))}
	}
	if len(others) == 0 {
		return []string{fmt.Sprintf("On %s only %s was measured: there is nothing to compare it with.", reports.Printable(s.Segment), n.Spoken(best.Setup))}
	}
	var out []string
	if best.Setup == rank.Reference {
		out = append(out, referenceFirst(s, *best, others, n))
	} else {
		out = append(out, leader(s, *best, rank, n), parts(*best, rank, n))
	}
	out = append(out, ties(*best, others, rank, n), limited(s.Setups, n))
	return slices.DeleteFunc(out, func(s string) bool { return s == "" })
}

// split gives the setup of rank 1 and the others that have a figure.
func split(setups []reports.RankSetup) (best *reports.RankSetup, others []reports.RankSetup) {
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
func leader(s reports.RankSegment, best reports.RankSetup, rank reports.Rank, n *names) string {
	who, than, on := n.Spoken(best.Setup), n.Spoken(rank.Reference), reports.Printable(s.Segment)
	places := decimals(best.Low, best.High)
	by := number(float64(*best.SNRAdvantage), places)
	switch {
	case best.Low == nil || best.High == nil:
		return fmt.Sprintf("On %s %s heard %s dB better than %s, but over %s: a hint and no result.", on, who, by, than, unbounded(best.Rounds))
	case *best.Low <= 0:
		return fmt.Sprintf("On %s no difference seen between %s and %s: %s dB, and the 95 %% interval, %s dB, holds 0.",
			on, who, than, signed(float64(*best.SNRAdvantage), places), interval(best.Low, best.High, places))
	default:
		return fmt.Sprintf("On %s %s hears %s dB better than %s; 95 %% interval %s dB.",
			on, who, by, than, interval(best.Low, best.High, places))
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
func parts(best reports.RankSetup, rank reports.Rank, n *names) string {
	if best.SignalChange == nil || best.FloorChange == nil || best.Low == nil || *best.Low <= 0 {
		return ""
	}
	places := decimals(best.Low, best.High)
	return fmt.Sprintf("Against %s its signals are %s and its floor is %s.", n.Spoken(rank.Reference),
		compared(float64(*best.SignalChange), places, "stronger", "weaker"),
		compared(float64(*best.FloorChange), places, "higher", "lower"))
}

// compared writes a change as "5.2 dB lower".
func compared(change float64, places int, more, less string) string {
	text := number(change, places)
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
func referenceFirst(s reports.RankSegment, best reports.RankSetup, others []reports.RankSetup, n *names) string {
	next := others[0]
	places := decimals(next.Low, next.High)
	text := fmt.Sprintf("On %s no setup was seen to hear better than %s, the reference. Next comes %s with %s dB",
		reports.Printable(s.Segment), n.Spoken(best.Setup), n.Spoken(next.Setup), signed(float64(*next.SNRAdvantage), places))
	if next.Low == nil || next.High == nil {
		return text + " over " + unbounded(next.Rounds) + "."
	}
	return text + fmt.Sprintf("; 95 %% interval %s dB.", interval(next.Low, next.High, places))
}

// ties names the setups that the data cannot separate from the best. Where the
// leading sentence has said so of the reference, it is not said twice.
func ties(best reports.RankSetup, others []reports.RankSetup, rank reports.Rank, n *names) string {
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
func limited(setups []reports.RankSetup, n *names) string {
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

// periodSentences tells where another setup leads in part of the day, and none
// of those that may be best over all of it may be best there.
func periodSentences(all reports.RankSegment, segments []reports.RankSegment, n *names) []string {
	may := map[string]bool{}
	for _, s := range all.Setups {
		may[s.Setup.String()] = s.MayBeBest
	}
	var out []string
	for _, s := range segments {
		best, _ := split(s.Setups)
		if s.Segment != all.Segment || s.Period == all.Period || best == nil || may[best.Setup.String()] {
			continue
		}
		if slices.ContainsFunc(s.Setups, func(t reports.RankSetup) bool { return t.MayBeBest && may[t.Setup.String()] }) {
			continue
		}
		places := decimals(best.Low, best.High)
		text := fmt.Sprintf("%s it is otherwise: %s comes first with %s dB", when[s.Period], n.Spoken(best.Setup),
			signed(float64(*best.SNRAdvantage), places))
		if best.Low != nil && best.High != nil {
			text += fmt.Sprintf("; 95 %% interval %s dB", interval(best.Low, best.High, places))
		}
		out = append(out, text+".")
	}
	return out
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
