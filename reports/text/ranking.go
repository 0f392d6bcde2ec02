package text

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

func rankTable(b *Sheet, r result.Rank) {
	if len(r.Segments) == 0 {
		b.WriteString("nothing was measured that could be ranked\n")
		return
	}
	fmt.Fprintf(b, "SNR against %s, dB\n", r.Reference.Short(wording.SentenceRoom))
	for _, s := range r.Segments {
		b.WriteString("\n")
		b.Wrap(fmt.Sprintf("%s, %s, %s", wording.Printable(s.Segment), wording.Edges(s.Low, s.High), periodText(s.Period)), "", "")
		if len(s.Setups) == 1 {
			b.Wrap(Verdict(&s), "  ", "  ")
		}
		rankingTable(b, s, r.Reference)
		writeFlags(b, s)
		writeDoubts(b, "  ", s.Doubts)
	}
	b.WriteString("\n")
	b.Paragraphs(rankLegend)
}

const rankLegend = `* may be the best: its 95 % interval of the difference to the first holds 0.
Intervals are 95 %, each by itself: no correction for many comparisons.
Advantage = signal − floor. best: share of resamples in which it came first.
`

func periodText(period string) string {
	if period == result.PeriodAll {
		return "whole time"
	}
	return period
}

// rankingTable prints the ranking of one segment.
func rankingTable(b *Sheet, s result.RankSegment, ref survey.Setup) {
	t := NewTable(2, "", "setup", "advantage", "95 % interval", "signal", "floor", "best", "rounds", "carriers").Spare("carriers", "rounds", "best")
	places := Places(s.Setups)
	intervals := alignedIntervals(s.Setups, places)
	for i, x := range s.Setups {
		mark := "  "
		if x.MayBeBest && len(s.Setups) > 1 { // one alone has nothing to be better than
			mark = "* "
		}
		rank := wording.None
		if x.Rank > 0 {
			rank = fmt.Sprint(x.Rank)
		}
		advantage, interval := wording.Signed(x.SNRAdvantage, places), intervals[i]
		if x.SNRAdvantage != nil && x.Low == nil {
			advantage = "≈ " + advantage
		}
		signal, floor := wording.Signed(x.SignalChange, places), wording.Signed(x.FloorChange, places)
		if x.Setup == ref && x.SNRAdvantage != nil {
			advantage, interval = wording.Number(0, places), "reference"
		}
		t.Row(mark+rank, x.Setup.Short(b.setupRoom()), advantage, interval, signal, floor,
			wording.Share(x.BestShare), x.Rounds, x.Carriers)
	}
	b.Table(t)
}

// alignedIntervals writes the intervals of one table, both ends right-aligned.
func alignedIntervals(setups []result.RankSetup, places int) []string {
	var low, high int
	for _, x := range setups {
		low = max(low, utf8.RuneCountInString(wording.Signed(x.Low, places)))
		high = max(high, utf8.RuneCountInString(wording.Signed(x.High, places)))
	}
	out := make([]string, len(setups))
	for i, x := range setups {
		out[i] = wording.None
		if x.Low != nil && x.High != nil {
			out[i] = fmt.Sprintf("%*s … %*s", low, wording.Signed(x.Low, places), high, wording.Signed(x.High, places))
		}
	}
	return out
}

// writeFlags names the setups of each flag that was raised.
func writeFlags(b *Sheet, s result.RankSegment) {
	setups := map[string][]string{}
	for _, x := range s.Setups {
		for _, flag := range x.Flags {
			setups[flag] = append(setups[flag], x.Setup.Short(wording.SentenceRoom))
		}
	}
	for _, flag := range slices.Sorted(maps.Keys(setups)) {
		who := strings.Join(setups[flag], ", ")
		if len(setups[flag]) == len(s.Setups) {
			who = "all setups"
		}
		b.Wrap("flagged "+wording.Printable(flag)+": "+who, "  ! ", "    ")
	}
}

// Places gives the decimals of all differences in one ranking, so that a column has
// one precision: tenths of a dB, or hundredths where every interval but the reference's
// own, 0 to 0, is narrower than a tenth.
func Places(setups []result.RankSetup) int {
	narrow := false
	for _, s := range setups {
		if s.Low == nil || s.High == nil || *s.Low == *s.High {
			continue
		}
		if *s.High-*s.Low >= 0.1 {
			return 1
		}
		narrow = true
	}
	if narrow {
		return 2
	}
	return 1
}

// Verdict says in a sentence which setup hears best, or that the data cannot tell.
func Verdict(s *result.RankSegment) string {
	name := func(s survey.Setup) string { return s.Short(wording.SentenceRoom) }
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
