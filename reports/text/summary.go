package text

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// WriteSummary prints what a report has to say on a screen, times local: a verdict
// and a ranking for each segment, what changes with the time of day, where the floor has
// a null, the noise sources, and the doubts.
func WriteSummary(w io.Writer, r result.Report) error { return writeSummary(w, r, time.Local) }

func writeSummary(w io.Writer, r result.Report, zone *time.Location) error {
	var b strings.Builder
	simulated := r.Simulated || r.Rank.Simulated || r.Bearings.Simulated || r.Noise.Simulated
	if simulated {
		b.WriteString(simulatedNote + "\n\n")
	}
	summaryHead(&b, r, zone)
	for i := 0; i < len(r.Rank.Segments); {
		end := i + 1
		for end < len(r.Rank.Segments) && sameSegment(r.Rank.Segments[i], r.Rank.Segments[end]) {
			end++
		}
		summarySegment(&b, r.Rank.Segments[i:end], r.Rank.Reference)
		i = end
	}
	if len(r.Rank.Segments) == 0 {
		b.WriteString("\nNothing was measured that could be ranked.\n")
	} else {
		b.WriteString("\n" + rankLegend)
	}
	summaryBearings(&b, r.Bearings)
	summaryNoise(&b, r.Noise, zone)
	if len(r.Doubts) > 0 {
		b.WriteString("\n")
		writeDoubts(&b, "", r.Doubts)
	}
	if simulated {
		b.WriteString("\n" + simulatedNote + "\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func sameSegment(a, b result.RankSegment) bool {
	return a.Segment == b.Segment && a.Low == b.Low && a.High == b.High
}

// summaryHead says what was measured, where and when.
func summaryHead(b *strings.Builder, r result.Report, zone *time.Location) {
	var head []string
	if r.Title != "" {
		head = append(head, wording.Printable(r.Title))
	}
	if r.Site.Name != "" && !strings.Contains(strings.ToLower(r.Title), strings.ToLower(r.Site.Name)) {
		head = append(head, wording.Printable(r.Site.Name))
	}
	if r.Site.Locator != "" {
		head = append(head, wording.Printable(r.Site.Locator))
	}
	if len(head) > 0 {
		b.WriteString(strings.Join(head, ", ") + "\n")
	}
	for _, s := range r.Quality.Surveys {
		surveyQuality(b, s, zone)
	}
	if len(r.Rank.Segments) > 0 {
		fmt.Fprintf(b, "Advantages are differences of SNR in dB against %s.\n", wording.Setup(r.Rank.Reference, 60))
	}
}

// summarySegment prints one segment, its whole time first, then its periods.
func summarySegment(b *strings.Builder, periods []result.RankSegment, ref survey.Setup) {
	s := periods[0]
	fmt.Fprintf(b, "\n%s, %s\n", wording.Printable(s.Segment), wording.Edges(s.Low, s.High))
	b.WriteString(wrap(Verdict(s), "  ", "  ", 98))
	Render(b, segmentTable(s, ref))
	for _, p := range periods[1:] {
		if mostRounds(p) == mostRounds(s) {
			fmt.Fprintf(b, "  all rounds fell in the %s\n", p.Period)
			continue
		}
		rounds := fmt.Sprintf("  %-6s %9s: ", p.Period, wording.Count(mostRounds(p), "round"))
		b.WriteString(wrap(Verdict(p), rounds, strings.Repeat(" ", len(rounds)), 98))
	}
	writeFlags(b, s)
	writeDoubts(b, "  ", s.Doubts)
}

// mostRounds gives in how many rounds the most frequent setup took part.
func mostRounds(s result.RankSegment) (n int) {
	for _, x := range s.Setups {
		n = max(n, x.Rounds)
	}
	return n
}

// Verdict says in a sentence which setup hears best, or that the data cannot
// tell.
func Verdict(s result.RankSegment) string {
	ranked := slices.DeleteFunc(slices.Clone(s.Setups), func(x result.RankSetup) bool { return x.Rank == 0 })
	if len(s.Setups) == 1 {
		return "Only " + wording.Setup(s.Setups[0].Setup, 40) + " was measured: nothing to compare it with."
	}
	if len(ranked) < 2 {
		return "No comparison: fewer than two setups share a round and a carrier."
	}
	best, names := ranked[0], []string{}
	for _, x := range ranked {
		if x.MayBeBest {
			names = append(names, wording.Setup(x.Setup, 40))
		}
	}
	switch {
	case !slices.ContainsFunc(ranked, func(x result.RankSetup) bool { return x.Low != nil && *x.Low != *x.High }): // but for the reference
		return fmt.Sprintf("Too few rounds to tell: %s came first.", names[0])
	case len(names) == len(ranked):
		return "No difference seen: any of the " + fmt.Sprint(len(ranked)) + " may be the best."
	case len(names) > 1:
		return fmt.Sprintf("Not told apart: %s. One of them hears best.", wording.List(names))
	}
	return fmt.Sprintf("%s hears best%s.", names[0], lead(best, ranked[1], Places(s.Setups)))
}

// lead says by how much the first beats the second where the reference is one
// of the two, else how far the first is ahead of the reference.
func lead(best, second result.RankSetup, places int) string {
	if zero := best.Low == nil || *best.Low == 0 && *best.High == 0; zero { // the reference itself
		if second.Low == nil {
			return ""
		}
		return fmt.Sprintf(": the next is %s dB behind (%s … %s)", magnitude(second.SNRAdvantage, places),
			magnitude(second.High, places), magnitude(second.Low, places))
	}
	return fmt.Sprintf(": %s dB more SNR than the reference (%s)", wording.Signed(best.SNRAdvantage, places), wording.Interval(best.Low, best.High, places))
}

func magnitude(x *survey.DB, places int) string { return wording.Number(math.Abs(float64(*x)), places) }
