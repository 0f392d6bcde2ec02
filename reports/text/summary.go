package text

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"nightfloor/reports/result"
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
	for _, periods := range runs(r.Rank.Segments, (*result.RankSegment).SameSegment) {
		summarySegment(b, periods, r.Rank.Reference)
	}
	if len(r.Rank.Segments) == 0 {
		b.WriteString("\nNothing was measured that could be ranked.\n")
	} else {
		b.WriteString("\n")
		b.Paragraphs(rankLegend)
	}
	summaryBearings(b, r.Bearings)
	summaryNoise(b, r.Noise, zone)
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
	if len(r.Rank.Segments) > 0 {
		b.Wrap(fmt.Sprintf("Advantages are differences of SNR in dB against %s.", r.Rank.Reference.Short(wording.SentenceRoom)), "", "")
	}
}

// summarySegment prints one segment, its whole time first, then its periods.
func summarySegment(b *Sheet, periods []result.RankSegment, ref survey.Setup) {
	s := periods[0]
	b.WriteString("\n")
	b.Wrap(wording.Printable(s.Segment)+", "+wording.Edges(s.Low, s.High), "", "")
	b.Wrap(Verdict(&s), "  ", "  ")
	rankingTable(b, s, ref)
	for _, p := range periods[1:] {
		if p.MostRounds() == s.MostRounds() {
			fmt.Fprintf(b, "  all rounds fell in the %s\n", p.Period)
			continue
		}
		rounds := fmt.Sprintf("  %-6s %9s: ", p.Period, survey.Count(p.MostRounds(), "round"))
		b.Wrap(Verdict(&p), rounds, strings.Repeat(" ", len(rounds)))
	}
	writeFlags(b, s)
	writeDoubts(b, "  ", s.Doubts)
}
