package text

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

	"nightfloor/reports/result"
	"nightfloor/reports/verdict"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

func rankTable(b *Sheet, r result.Rank) {
	if len(r.Segments) == 0 {
		b.WriteString("nothing was measured that could be ranked\n")
		return
	}
	fmt.Fprintf(b, "SNR against %s, dB\n", r.Reference.Short(wording.SentenceRoom))
	for _, s := range verdict.Entries(r) {
		b.WriteString("\n")
		b.Wrap(wording.Segment(s.Segment, s.Low, s.High)+", "+verdict.In(&s), "", "")
		ranking(b, &s, r.Reference)
		against(b, &s)
	}
	writeRankLegend(b, r)
}

func writeRankLegend(b *Sheet, r result.Rank) {
	if legend := rankLegend(r); legend != "" {
		b.WriteString("\n")
		b.Paragraphs(legend)
	}
}

// ranking prints the verdict on one segment and the table below it.
func ranking(b *Sheet, s *result.RankSegment, ref survey.Setup) {
	b.Wrap(verdict.Sentence(s), "  ", "  ")
	if by := verdict.ComparedBy(s); by != "" {
		b.Wrap(by, "  ", "  ")
	}
	rankingTable(b, s, ref)
	nightsLine(b, s)
	halvesTables(b, s, ref)
}

// halvesTables prints what changes of the wiring at half time did.
func halvesTables(b *Sheet, s *result.RankSegment, ref survey.Setup) {
	tables, caution := verdict.Halves(s, ref)
	for _, h := range tables {
		b.Wrap(h.Lead, "  ", "    ")
		if t := NewTable(1, append([]string{"  setup"}, h.Columns...)...); len(h.Rows) > 0 {
			for _, row := range h.Rows {
				cells := []any{"  " + row.Setup.Short(b.setupRoom()-changesRoom)}
				for _, cell := range row.Cells {
					cells = append(cells, cell)
				}
				t.Row(cells...)
			}
			b.Table(t)
		}
		for _, note := range h.Notes {
			b.Wrap(note, "  ", "    ")
		}
	}
	if caution != "" {
		b.Wrap(caution, "  ", "    ")
	}
}

// against prints what is held against a ranking.
func against(b *Sheet, s *result.RankSegment) {
	writeFlags(b, *s)
	writeDoubts(b, "  ", verdict.Doubts(s))
}

// rankLegend says what the columns mean, as far as there are such.
func rankLegend(r result.Rank) string {
	some := func(is func(s *result.RankSegment) bool) bool {
		return slices.ContainsFunc(r.Segments, func(s result.RankSegment) bool { return is(&s) })
	}
	setups := func(is func(x *result.RankSetup) bool) bool {
		return some(func(s *result.RankSegment) bool {
			return s.Verdict != nil && slices.ContainsFunc(s.Setups, func(x result.RankSetup) bool { return is(&x) })
		})
	}
	var legend string
	if some(func(s *result.RankSegment) bool { return verdict.Marked(s) }) {
		legend += "* may be the best: with 95 % the true best is among those marked.\n"
	}
	if setups(func(x *result.RankSetup) bool { return x.Setup != r.Reference && x.Low != nil }) {
		legend += "Intervals are 95 %, each by itself, of conditions like those of these rounds: another night may differ by more.\n"
	}
	if setups(func(x *result.RankSetup) bool { return x.Nights != nil }) {
		legend += "Those with the night as the unit are of other nights like these.\n"
	}
	if setups(func(x *result.RankSetup) bool { return x.BestShare != nil }) {
		legend += "first: the chance to be first, as far as these rounds tell.\n"
	}
	for _, line := range verdict.Legend(r) {
		legend += line + "\n"
	}
	if some(func(s *result.RankSegment) bool { return s.Verdict != nil && ChangesKnown(s.Setups, r.Reference) }) {
		legend += "Δ: change from the reference. Advantage = Δ signal − Δ floor.\n"
	}
	return legend
}

// ChangesKnown tells whether a change of signal or floor is known of any setup but the reference.
func ChangesKnown(setups []result.RankSetup, ref survey.Setup) bool {
	return slices.ContainsFunc(setups, func(x result.RankSetup) bool {
		return x.Setup != ref && (x.SignalChange != nil || x.FloorChange != nil)
	})
}

// changesRoom is what the longest headings take from the setups' column, so that Width holds all columns.
const changesRoom = 6

// rankingTable prints the ranking of one segment, without the columns in which only the reference has a figure; no
// table where a setup stands alone, or nothing but rounds is known.
func rankingTable(b *Sheet, s *result.RankSegment, ref survey.Setup) {
	if s.Verdict == nil {
		return
	}
	t := NewTable(2, "", "setup", "advantage", "95 % interval", "Δ signal", "Δ floor", "first", "rounds", "carriers").Spare("carriers", "rounds", "first")
	places := Places(s.Setups)
	intervals := alignedIntervals(s.Setups, places)
	var others [][]string
	for i, x := range s.Setups {
		mark := "  "
		if x.MayBeBest && verdict.Marked(s) {
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
		if x.Setup == ref && x.SNRAdvantage != nil {
			advantage, interval = wording.Number(0, places), "reference"
		}
		floor := wording.Signed(x.FloorChange, places)
		if x.Setup == ref && x.FloorChange == nil {
			floor = "reference"
		}
		t.Row(mark+rank, x.Setup.Short(b.setupRoom()-changesRoom), advantage, interval, wording.Signed(x.SignalChange, places), floor, wording.Chance(x.BestShare), x.Rounds, carriersText(s, &x))
		if x.Setup != ref {
			others = append(others, t.rows[i])
		}
	}
	t.Drop(func(k int) bool {
		return k > 1 && !slices.ContainsFunc(others, func(row []string) bool { return row[k] != wording.None })
	})
	if len(t.heading) > 3 {
		b.Table(t)
	}
}

// carriersText writes by how many carriers a setup was compared; a dash where it was by what is on
// the air.
func carriersText(s *result.RankSegment, x *result.RankSetup) string {
	if s.Of == result.OfTransmissions {
		return wording.None
	}
	return fmt.Sprint(x.Carriers)
}

// nightsLine gives the intervals that take the night as the unit, where there are any.
func nightsLine(b *Sheet, s *result.RankSegment) {
	var all []string
	count := 0
	for _, x := range s.Setups {
		if x.Nights == nil || x.Nights.Low == nil || x.Nights.High == nil || *x.Nights.Low == *x.Nights.High { // the reference's own is 0 to 0
			continue
		}
		count = max(count, x.Nights.Count)
		all = append(all, x.Setup.Short(wording.SentenceRoom)+" "+wording.Interval(x.Nights.Low, x.Nights.High, 1))
	}
	if len(all) > 0 {
		b.Wrap(fmt.Sprintf("over %d nights, with the night as the unit: %s", count, strings.Join(all, "; ")), "  ", "    ")
	}
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
		if len(setups[flag]) == len(s.Setups) && len(s.Setups) > 1 {
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
