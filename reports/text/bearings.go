package text

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

func bearingsTable(b *strings.Builder, r result.Bearings) {
	if len(r.Patterns) == 0 {
		b.WriteString("no antenna was heard in several bearings that compare\n")
	} else {
		fmt.Fprintf(b, "Levels by bearing against %s, dB\n", wording.Setup(r.Reference, 60))
	}
	for _, patterns := range runs(r.Patterns, (*result.Pattern).SameTurns) {
		turnsTable(b, patterns, r.Reference)
	}
	if len(r.Patterns) > 0 {
		b.WriteString("\n" + bearingsLegend)
		if slices.ContainsFunc(r.Patterns, func(p result.Pattern) bool { return p.Of == result.OfNoiseSource }) {
			b.WriteString(sourcesLegend)
		}
	}
}

const bearingsLegend = `Bearings are those of the loop's plane, from true north. A loop cannot tell a direction
from its opposite: both are given. Depth: peak over null. Intervals are 95 %.
Where a null of the floor is claimed, the source lies in line with the peak, not the null.
Carriers come by sky wave, at an angle and with turning polarisation: their nulls
wander, and a bearing taken from them is not reliable. A null of the floor is steady.
`

const sourcesLegend = `A comb, or what the mains modulate, is measured alone, while it is on. Wiring carries such
noise: the null need not point away from the device itself.
`

// turnsTable prints the patterns of one antenna in one segment, a line each, and below
// them why some have no null, and the floor's levels.
func turnsTable(b *strings.Builder, patterns []result.Pattern, ref survey.Setup) {
	p := &patterns[0]
	fmt.Fprintf(b, "\n%s, %s, %s\n", wording.Setup(p.Turned(), 40), wording.Printable(p.Segment), wording.Edges(p.Low, p.High))
	t := NewTable(1, "  of", "null", "95 % interval", "depth, dB", "95 % interval", "peak", "rounds")
	var order []string
	about := map[string][]string{} // by what is said: of which patterns
	say := func(what, text string) {
		if about[text] == nil {
			order = append(order, text)
		}
		about[text] = append(about[text], what)
	}
	for i := range patterns {
		p := &patterns[i]
		null, peak := "no null", wording.None
		if p.Null != nil {
			null, peak = BothWays(*p.Null), BothWays(*p.Peak)
		} else {
			say(PatternName(p), "no null: "+p.NoNull.String())
		}
		t.AppendRow([]any{"  " + PatternName(p), null, NullInterval(p), DepthText(p), DepthInterval(p), peak, p.Rounds})
		for _, d := range p.Doubts {
			say(PatternName(p), d.String())
		}
	}
	Render(b, t)
	for i := range patterns {
		if patterns[i].Of == result.OfFloor {
			b.WriteString("  the floor's levels")
			if own := patterns[i].Reference; own != ref {
				b.WriteString(" against " + wording.Setup(own, 60))
			}
			b.WriteString("\n" + pointsLines(patterns[i].Points))
		}
	}
	for _, text := range order {
		who := wording.List(about[text])
		if len(about[text]) == len(patterns) && len(patterns) > 1 {
			who = "all"
		}
		writeDoubt(b, "  ", who+": "+text)
	}
}

// summaryBearings says in a line for each antenna that was turned where its floor has a
// null.
func summaryBearings(b *strings.Builder, r result.Bearings) {
	var lines string
	for i := range r.Patterns {
		p := &r.Patterns[i]
		if p.Of != result.OfFloor {
			continue
		}
		what := "no null of the floor"
		if p.Null != nil {
			what = fmt.Sprintf("null of the floor at %s, %s dB under the peak (%s)", BothWays(*p.Null), DepthText(p), DepthInterval(p))
		}
		lines += wrap(fmt.Sprintf("%s on %s: %s", wording.Setup(p.Turned(), 40), wording.Printable(p.Segment), what), "  ", "    ")
	}
	if lines != "" {
		b.WriteString("\nBy bearing; more with report bearings\n" + lines)
	}
}

// PatternName names what a pattern is of, a frequency to 100 Hz.
func PatternName(p *result.Pattern) string {
	switch {
	case p.Frequency != nil:
		return survey.Hz(100 * math.Round(float64(*p.Frequency)/100)).String()
	case p.Spacing != nil:
		return wording.Number(float64(*p.Spacing)/1e3, 1) + " kHz comb"
	case p.Envelope != nil:
		return "modulation at " + wording.Figure(p.Envelope, 0) + " Hz"
	}
	return p.Of
}

// BothWays writes a bearing and its opposite in whole degrees: 033° / 213°.
func BothWays(deg float64) string {
	deg = math.Mod(math.Round(deg), 180)
	return survey.BearingOf(deg).String() + " / " + survey.BearingOf(deg+180).String()
}

// NullInterval writes the interval of the null in whole degrees, outwards; – where there is none.
func NullInterval(p *result.Pattern) string {
	if p.NullLow == nil || p.NullHigh == nil {
		return wording.None
	}
	return survey.BearingOf(math.Floor(*p.NullLow)).String() + " … " + survey.BearingOf(math.Ceil(*p.NullHigh)).String()
}

// DepthText writes the depth; ∞ where nothing is left in the null, – where it is not known.
func DepthText(p *result.Pattern) string {
	if p.Depth == nil && p.Curve != nil {
		return "∞"
	}
	return wording.Figure(p.Depth, 1)
}

// DepthInterval writes the interval of the depth, "> 11.0" where it has no upper end.
func DepthInterval(p *result.Pattern) string {
	switch {
	case p.DepthLow == nil:
		return wording.None
	case p.DepthHigh == nil:
		return "> " + wording.Figure(p.DepthLow, 1)
	}
	return wording.Figure(p.DepthLow, 1) + " … " + wording.Figure(p.DepthHigh, 1)
}

// pointsLines writes levels in order of bearing, six a line: 000° −3.1   015° −2.8.
func pointsLines(points []result.PatternPoint) string {
	var b strings.Builder
	for six := range slices.Chunk(points, 6) {
		line := "   "
		for _, x := range six {
			line += fmt.Sprintf(" %6s %6s", survey.BearingOf(x.Bearing), wording.Signed(x.Level, 1))
		}
		b.WriteString(line + "\n")
	}
	return b.String()
}
