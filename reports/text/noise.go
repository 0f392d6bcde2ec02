package text

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

const (
	// shownDays is for how many days a person is shown the hours of a source, shownOwn how
	// many lines of the receiver's own; JSON has them all.
	shownDays = 14
	shownOwn  = 6
	// shownSegments is how many segments stand beside each other in a table.
	shownSegments = 5
)

func noiseTable(b *Sheet, r result.NoiseSources, zone *time.Location) {
	if len(r.Sources) == 0 {
		b.WriteString("no noise source was found\n")
	}
	for i := range r.Sources {
		if i > 0 {
			b.WriteString("\n")
		}
		sourceBlock(b, &r.Sources[i], zone)
	}
	if len(r.Sources) > 0 {
		b.WriteString("\n")
		b.Paragraphs(noiseLegend)
	}
	riseBlock(b, r.Rises, zone)
	ownBlock(b, r.OwnLines)
}

const noiseLegend = `Hours run from the first detection to the last: it was switched within a round of them, unless the survey began or ended there.
+ speaks for what it is taken for, − against it. What a source is taken for is a guess: only switching a device off and on, and hearing the source follow, shows that it is it.
Strength: ± half of its 95 % interval, ≈ where that is not known or wider than 6 dB; < no more than that. The floor it is held against is the median one while the source is on, all else included; lines and swing are those over the passband of the tuning, so that segments which share a tuning share them.
`

// sourceBlock prints all that is known of a source.
func sourceBlock(b *Sheet, s *result.NoiseSource, zone *time.Location) {
	b.Wrap(fmt.Sprintf("%d: %s: %s", s.ID, s, s.LooksLike()), "", "   ")
	facts := SourceFacts(s, "on", "drift")
	if s.Spacing != nil {
		facts = "spacing " + s.Spacing.String() + ", " + facts
	}
	b.Wrap(facts, "   ", "   ")
	hoursBlock(b, s.Hours, zone)
	evidenceBlock(b, "   ", s.Evidence, s.Against)
	strengthBlock(b, OverWhat[s.Kind], s.Strength)
}

// SourceFacts lists what figures say of a source: in how many rounds it was heard, or on, and its
// drift, by the words that are given for these, depth and confidence.
func SourceFacts(s *result.NoiseSource, heard, drift string) string {
	facts := []string{fmt.Sprintf("%s in %s of the rounds that could hear it", heard, wording.Share(&s.ShareOfRounds))}
	if s.Drift != nil {
		facts = append(facts, fmt.Sprintf("%s %s Hz an hour", drift, wording.Signed((*survey.DB)(s.Drift), 1)))
	}
	if s.Depth != nil {
		facts = append(facts, "depth of the modulation "+wording.Number(*s.Depth, 2))
	}
	// A confidence has the digits that tell it from 1. It is that something is there, not of what it is.
	return strings.Join(append(facts, "found with confidence "+strings.TrimRight(wording.Number(s.Confidence, 6), "0")), ", ")
}

// evidenceBlock lists what speaks for a verdict and what against it.
func evidenceBlock(b *Sheet, indent string, evidence, against []string) {
	for _, e := range evidence {
		b.Wrap(wording.Printable(e), indent+"+ ", indent+"  ")
	}
	for _, a := range against {
		b.Wrap(wording.Printable(a), indent+"− ", indent+"  ")
	}
}

// sourceLine says in a line what a source looks like and when it was on, times in the given
// zone.
func sourceLine(s *result.NoiseSource, zone *time.Location) string {
	return fmt.Sprintf("%s: %s, %s", s.LooksLike(), s, hoursText(s.Hours, zone))
}

// hoursBlock prints hours by the day on which they begin.
func hoursBlock(b *Sheet, hours []result.NoiseHours, zone *time.Location) {
	days := byDay(hours, zone)
	for i, day := range days {
		if i == shownDays {
			b.Wrap(fmt.Sprintf("and on %s more; --format json lists all", survey.Count(len(days)-i, "day")), "   ", "   ")
			return
		}
		first := "   " + day[0].From.In(zone).Format("_2 Jan 2006") + "  "
		b.Wrap(spansText(day, zone)+day[len(day)-1].To.In(zone).Format(" MST"), first, strings.Repeat(" ", len(first)))
	}
}

// byDay parts hours by the local day on which they begin.
func byDay(hours []result.NoiseHours, zone *time.Location) [][]result.NoiseHours {
	return runs(hours, func(a, b *result.NoiseHours) bool {
		return a.From.In(zone).Format(time.DateOnly) == b.From.In(zone).Format(time.DateOnly)
	})
}

// spansText writes 19:02–23:41, 23:55–03:20; with the day of the end where that is not
// the next one.
func spansText(hours []result.NoiseHours, zone *time.Location) string {
	var parts []string
	for i, h := range hours {
		from, to := h.From.In(zone), h.To.In(zone)
		text := from.Format("15:04")
		if next := hours[min(i+1, len(hours)-1)].From.In(zone); from.Format("MST") != to.Format("MST") || from.Format("MST") != next.Format("MST") {
			text += from.Format(" MST") // the clock changes in it, or after it
		}
		switch {
		case to.Sub(from) < time.Minute:
		case to.Sub(from) < 20*time.Hour:
			text += to.Format("–15:04")
		default:
			text += to.Format(" – 2 Jan 15:04")
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, ", ")
}

// hoursText says in a few words when a source was on: "on 19:02–23:41 CET", on several
// days how often.
func hoursText(hours []result.NoiseHours, zone *time.Location) string {
	const most = 3
	first, last := hours[0].From, LastEnd(hours)
	mst := hours[len(hours)-1].To.In(zone).Format(" MST")
	if last.Sub(first) <= 24*time.Hour {
		if len(hours) <= most {
			return "on " + spansText(hours, zone) + mst
		}
		return fmt.Sprintf("on %d times, the last %s%s", len(hours), spansText(hours[len(hours)-1:], zone), mst)
	}
	if len(hours) == 1 {
		return "on " + wording.Span(first, last, zone)
	}
	return fmt.Sprintf("on %d times on %s, %s", len(hours), survey.Count(len(byDay(hours, zone)), "day"), wording.Span(first, last, zone))
}

// LastEnd gives the latest end of hours: those of two surveys may overlap.
func LastEnd(hours []result.NoiseHours) time.Time {
	return slices.MaxFunc(hours, func(a, b result.NoiseHours) int { return a.To.Compare(b.To) }).To
}

// OverWhat says of what kind's strength is measured against what.
var OverWhat = map[string]string{
	survey.FindingComb:     "a line of the comb over the floor in one bin of the spectrum",
	survey.FindingMains:    "the swing with the mains against the floor's mean",
	survey.FindingImpulses: "the impulses over the floor",
	survey.FindingHump:     "the hump over the floor's smooth curve",
	survey.FindingNotch:    "the notches against the floor beside them",
}

// strengthBlock prints strengths and over what they are, a row a setup, a column a segment.
func strengthBlock(b *Sheet, over string, all []result.NoiseStrength) {
	if len(all) > 0 {
		b.Wrap("strength, dB: "+over, "   ", "     ")
	}
	g := Grid[survey.Setup, string]{Missing: wording.None}
	for _, s := range all {
		g.Put(s.Setup, s.Segment, StrengthText(s))
	}
	g.Write(b, "   setup", shownSegments, func(s survey.Setup) string { return "   " + s.Short(b.setupRoom()) },
		func(segment string) string { return survey.Shorten(wording.Printable(segment), 11) })
}

// roughStrength is the width of its 95 % interval, in dB, from which on a strength is written
// as approximate: in dB most of such an interval lies below the level.
const roughStrength = 6

// StrengthText writes a strength: 8.2 ± 0.6, ≈ 8.2 where it is only about known, or < 1.3 where it
// is no more than that.
func StrengthText(s result.NoiseStrength) string {
	switch {
	case s.Level == nil && s.High == nil:
		return wording.None
	case s.Level == nil:
		return "< " + wording.Figure(s.High, 1)
	case s.High == nil || s.Low == nil || *s.High-*s.Low > roughStrength:
		return "≈ " + wording.Figure(s.Level, 1)
	}
	return wording.Figure(s.Level, 1) + " ± " + wording.Number(math.Ceil(10*float64(*s.High-*s.Low)/2)/10, 1)
}

// ownBlock lists lines that are the receiver's own.
func ownBlock(b *Sheet, lines []result.OwnLine) {
	if len(lines) == 0 {
		return
	}
	fmt.Fprintf(b, "\nThe receiver's own: %s\n", survey.Count(len(lines), "line"))
	for i, l := range lines {
		if i == shownOwn {
			fmt.Fprintf(b, "  and %s more; --format json lists all\n", survey.Grouped(len(lines)-i))
			return
		}
		where := ""
		if l.Frequency != nil {
			where = l.Frequency.String()
		} else {
			where = fmt.Sprintf("%s kHz from the tuning", wording.Signed(result.DB(float64(*l.Offset)/1e3), 1))
		}
		b.Wrap(where+": "+l.Why, "  ", "    ")
	}
}

// summaryNoise says in a line for each source what it looks like and when it was on.
func summaryNoise(b *Sheet, r result.NoiseSources, zone *time.Location) {
	if r.Schema == "" { // not asked for
		return
	}
	defer summaryRises(b, r.Rises, zone)
	if len(r.Sources) == 0 {
		b.WriteString("\nNoise sources: none was found\n")
		return
	}
	b.WriteString("\nNoise sources; more with report noise-sources\n")
	for i := range r.Sources {
		s := &r.Sources[i]
		b.Wrap(fmt.Sprintf("%d: %s", s.ID, sourceLine(s, zone)), "  ", "     ")
	}
}
