package text

import (
	"fmt"
	"math"
	"slices"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

func bearingsTable(b *Sheet, r result.Bearings) {
	if len(r.Patterns) == 0 {
		b.WriteString("no antenna was heard in several bearings that compare\n")
	} else {
		fmt.Fprintf(b, "Levels by bearing against %s, dB\n", r.Reference.Short(wording.SentenceRoom))
	}
	for _, patterns := range runs(r.Patterns, (*result.Pattern).SameTurns) {
		turnsTable(b, patterns, r.Reference)
	}
	if len(r.Patterns) > 0 {
		b.WriteString("\n")
		b.Paragraphs(bearingsLegend)
		if slices.ContainsFunc(r.Patterns, func(p result.Pattern) bool { return p.Of == result.OfNoiseSource }) {
			b.Paragraphs(sourcesLegend)
		}
	}
}

const bearingsLegend = `Bearings are those of the loop's plane, from true north. A loop cannot tell a direction from its opposite: both are given. Depth: peak over null, – where nothing was left to measure. Intervals are 95 %.
Where a null of the floor is claimed, the source lies in line with the peak, not the null.
Carriers come by sky wave, at an angle and with turning polarisation: their nulls wander, and a bearing taken from them is not reliable. A null of the floor is steady.
`

const sourcesLegend = `A comb, or what the mains modulate, is measured alone, while it is on. Wiring carries such noise: the null need not point away from the device itself.
`

// turnsTable prints the patterns of one antenna in one segment, a line each, and below
// them why some have no null, and the floor's levels.
func turnsTable(b *Sheet, patterns []result.Pattern, ref survey.Setup) {
	p := &patterns[0]
	b.WriteString("\n")
	b.Wrap(fmt.Sprintf("%s, %s, %s", p.Turned().Short(wording.SentenceRoom), wording.Printable(p.Segment), wording.Edges(p.Low, p.High)), "", "")
	t := NewTable(1, "  of", "null", "95 % interval", "depth, dB", "95 % interval", "peak", "rounds").Spare("rounds", "peak")
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
		t.Row("  "+PatternName(p), null, NullInterval(p), DepthText(p), DepthInterval(p), peak, p.Rounds)
		for _, d := range p.Doubts {
			say(PatternName(p), d.String())
		}
	}
	b.Table(t)
	for i := range patterns {
		if patterns[i].Of == result.OfFloor {
			levels := "the floor's levels"
			if own := patterns[i].Reference; own != ref {
				levels += " against " + own.Short(wording.SentenceRoom)
			}
			b.Wrap(levels, "  ", "    ")
			writePoints(b, patterns[i].Points)
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
func summaryBearings(b *Sheet, r result.Bearings) {
	headed := false
	for i := range r.Patterns {
		p := &r.Patterns[i]
		if p.Of != result.OfFloor {
			continue
		}
		what := "no null of the floor"
		if p.Null != nil {
			what = fmt.Sprintf("null of the floor at %s, %s", BothWays(*p.Null), DepthWords(p))
		}
		if !headed {
			b.WriteString("\nBy bearing; more with report bearings\n")
			headed = true
		}
		b.Wrap(fmt.Sprintf("%s on %s: %s", p.Turned().Short(wording.SentenceRoom), wording.Printable(p.Segment), what), "  ", "    ")
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

// DepthText writes the depth, – where nothing was left to measure in the null, or it is not known.
func DepthText(p *result.Pattern) string { return wording.Figure(p.Depth, 1) }

// DepthWords says how deep a null that is claimed is: 12.1 dB under the peak (11.0 … 13.4).
func DepthWords(p *result.Pattern) string {
	if p.Depth == nil {
		return "more than " + wording.Figure(p.DepthLow, 1) + " dB under the peak"
	}
	return DepthText(p) + " dB under the peak (" + DepthInterval(p) + ")"
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

// writePoints prints levels in order of bearing, up to six a line: 000° −3.1   015° −2.8.
func writePoints(b *Sheet, points []result.PatternPoint) {
	const room = 14
	for some := range slices.Chunk(points, min(6, max(1, (b.Width-3)/room))) {
		b.WriteString("   ")
		for _, x := range some {
			fmt.Fprintf(b, " %6s %6s", survey.BearingOf(x.Bearing), wording.Signed(x.Level, 1))
		}
		b.WriteString("\n")
	}
}
