package text

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"nightfloor/reports/result"
	"nightfloor/reports/verdict"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// WriteSummary prints what a report has to say on a screen so many characters wide, times in the given zone: a verdict
// and a ranking for each segment, what changes with the time of day, where the floor has
// a null, the noise sources, and the doubts.
func WriteSummary(w io.Writer, r result.Report, zone *time.Location, width int) error {
	b := Sheet{Width: width}
	simulated := r.Simulated || r.Rank.Simulated || r.Bearings.Simulated || r.Noise.Simulated
	document(&b, simulated, r.Doubts, func() { summary(&b, r, zone) })
	_, err := io.WriteString(w, b.String())
	return err
}

func summary(b *Sheet, r result.Report, zone *time.Location) {
	summaryHead(b, r, zone)
	glance(b, r.Rank)
	whatToDo(b, verdict.Advise(&r), zone)
	for _, entries := range runs(r.Rank.Segments, (*result.RankSegment).SameSegment) {
		summarySegment(b, entries, r.Rank.Reference)
	}
	if len(r.Rank.Segments) == 0 {
		b.WriteString("\nNothing was measured that could be ranked.\n")
	}
	writeRankLegend(b, r.Rank)
	summaryBearings(b, r.Bearings)
	summaryNoise(b, r.Noise, zone)
}

// glance prints the ranking at a glance.
func glance(b *Sheet, r result.Rank) {
	all := verdict.At(r)
	if len(all.Rows) == 0 {
		return
	}
	b.WriteString("\n")
	b.Wrap("Which setup hears best, and by how many dB of SNR it leads the next one (95 % interval)", "", "")
	const least, most, longest = 16, 44, 20
	names := len("segment")
	for i := range all.Rows {
		all.Rows[i].Segment = survey.Shorten(all.Rows[i].Segment, longest)
		names = max(names, utf8.RuneCountInString(all.Rows[i].Segment))
	}
	room := min(max((b.Width-names-2*len(gap))/len(all.Periods)-len(gap), least), most)
	heading := []string{"segment"}
	for _, p := range all.Periods {
		heading = append(heading, PeriodName(p))
	}
	t := NewTable(1, heading...).Prose()
	for _, row := range all.Rows {
		cells := make([][]string, len(row.Cells))
		for i, c := range row.Cells {
			cells[i] = cellLines(c.Words, room)
			if c.Lead != "" {
				cells[i] = append(cells[i], c.Lead)
			}
		}
		t.Lines(row.Segment, cells...)
	}
	b.Table(t)
}

// cellLines breaks words into lines: between names where these fit, else within them.
func cellLines(words string, room int) (lines []string) {
	for _, part := range strings.SplitAfter(words, ", ") {
		last := len(lines) - 1
		if last >= 0 && utf8.RuneCountInString(strings.TrimRight(lines[last]+part, " ")) <= room {
			lines[last] += part
			continue
		}
		lines = append(lines, strings.Split(strings.TrimSuffix(wrap(part, "", "", room), "\n"), "\n")...)
		lines[len(lines)-1] += part[len(strings.TrimRight(part, " ")):]
	}
	return lines
}

// PeriodName gives what a column calls a period: all stands for all hours.
func PeriodName(period string) string {
	if period == result.PeriodAll {
		return "all hours"
	}
	return wording.Printable(period)
}

// whatToDo lists advice.
func whatToDo(b *Sheet, all []verdict.Advice, zone *time.Location) {
	if len(all) == 0 {
		return
	}
	b.WriteString("\nWhat to do, as far as these figures tell\n")
	for _, a := range all {
		b.Wrap(a.In(zone), "  · ", "    ")
	}
}

// summaryHead says what was measured, where and when.
func summaryHead(b *Sheet, r result.Report, zone *time.Location) {
	site := r.Site.Name
	if strings.Contains(strings.ToLower(r.Title), strings.ToLower(site)) {
		site = ""
	}
	head := wording.Printables([]string{r.Title, site, r.Site.Locator})
	head = slices.DeleteFunc(head, func(s string) bool { return s == "" })
	if len(head) > 0 {
		b.Wrap(strings.Join(head, ", "), "", "")
	}
	for _, s := range r.Quality.Surveys {
		surveyQuality(b, s, zone)
	}
	if slices.ContainsFunc(r.Rank.Segments, func(s result.RankSegment) bool { return s.Verdict != nil }) {
		b.Wrap(fmt.Sprintf("Advantages are differences of SNR in dB against %s.", r.Rank.Reference.Short(wording.SentenceRoom)), "", "")
	}
}

// summarySegment prints one segment: its whole time, then what each state of the noise sources gives.
func summarySegment(b *Sheet, entries []result.RankSegment, ref survey.Setup) {
	s := &entries[0]
	b.WriteString("\n")
	b.Wrap(wording.Segment(s.Segment, s.Low, s.High), "", "")
	ranking(b, s, ref)
	for i := range entries {
		if e := &entries[i]; e.State != nil {
			b.Wrap(verdict.In(e), "  ", "  ")
			b.Wrap(verdict.Sentence(e)+" "+verdict.Against(e, ref, Places(e.Setups)), "    ", "    ")
		}
	}
	against(b, s)
}
