package text

import (
	"fmt"
	"math"
	"slices"

	"nightfloor/reports/result"
	"nightfloor/reports/verdict"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

func bearingsTable(b *Sheet, r result.Bearings) {
	if len(r.Patterns) == 0 {
		b.WriteString("no antenna was heard in several bearings that compare\n")
		return
	}
	fmt.Fprintf(b, "Levels by bearing against %s, dB\n", r.Reference.Short(wording.SentenceRoom))
	told, silent := Silent(r.Patterns)
	for i := range silent {
		silentBlock(b, &silent[i], r.Reference)
	}
	for _, patterns := range runs(told, (*result.Pattern).SameTurns) {
		turnsTable(b, patterns, r.Reference)
	}
	b.WriteString("\n")
	if len(told) == 0 {
		b.Paragraphs(levelsLegend)
		return
	}
	b.Paragraphs(levelsLegend + bearingsLegend)
	if slices.ContainsFunc(told, func(p result.Pattern) bool { return p.Of == result.OfNoiseSource }) {
		b.Paragraphs(sourcesLegend)
	}
}

const levelsLegend = `Bearings are those of the loop's plane, from true north. A loop cannot tell a direction from its opposite: both are given.
`

const bearingsLegend = `Depth: peak over null, – where nothing was left to measure, or no more than a control may hear. What falls does so against its mean over all bearings; where a source is named, while that is on. Intervals are 95 %.
Where a null of the floor is claimed, the source lies in line with the peak, not the null.
Carriers come by sky wave, at an angle and with turning polarisation: their nulls wander, and a bearing taken from them is not reliable. A null of the floor is steady.
`

const sourcesLegend = `A comb, or what the mains modulate, is measured alone, while it is on. Wiring carries such noise: the null need not point away from the device itself.
`

// A SilentAntenna was turned so little that no pattern of it can tell a null: there is one thing to
// say of it, why.
type SilentAntenna struct {
	Antenna  survey.Setup // without its bearing
	Why      string
	Segments []string
	Floors   []*result.Pattern
}

func (s *SilentAntenna) String() string {
	return fmt.Sprintf("%s on %s: null not measured: %s", s.Antenna.Short(wording.SentenceRoom), wording.Printable(wording.List(s.Segments)), s.Why)
}

// Silent parts patterns that tell something, or might, from antennas that were turned too little.
func Silent(all []result.Pattern) (told []result.Pattern, silent []SilentAntenna) {
	for i := range all {
		p := &all[i]
		same := func(q result.Pattern) bool {
			return q.Turned() != p.Turned() || q.Unmeasured() && q.NoNull.String() == p.NoNull.String()
		}
		if !p.Unmeasured() || slices.ContainsFunc(all, func(q result.Pattern) bool { return !same(q) }) {
			told = append(told, *p)
			continue
		}
		k := slices.IndexFunc(silent, func(s SilentAntenna) bool { return s.Antenna == p.Turned() })
		if k < 0 {
			k = len(silent)
			silent = append(silent, SilentAntenna{Antenna: p.Turned(), Why: p.NoNull.String()})
		}
		s := &silent[k]
		if !slices.Contains(s.Segments, p.Segment) {
			s.Segments = append(s.Segments, p.Segment)
		}
		if p.Of == result.OfFloor {
			s.Floors = append(s.Floors, p)
		}
	}
	return told, silent
}

// silentBlock says why nothing is told of an antenna, and the floor's levels.
func silentBlock(b *Sheet, s *SilentAntenna, ref survey.Setup) {
	b.WriteString("\n")
	b.Wrap(s.String(), "", "")
	for _, p := range s.Floors {
		floorLevels(b, p, wording.Printable(p.Segment)+", the floor's levels", ref)
		for _, d := range p.Doubts {
			writeDoubt(b, "  ", d.String())
		}
	}
}

// floorLevels prints a floor's levels by bearing.
func floorLevels(b *Sheet, p *result.Pattern, heading string, ref survey.Setup) {
	if p.Reference != ref {
		heading += " against " + p.Reference.Short(wording.SentenceRoom)
	}
	b.Wrap(heading, "  ", "    ")
	writePoints(b, p.Points)
}

// turnsTable prints the patterns of one antenna in one segment: a line for each null, the floor's
// levels, what a turn is worth, and what speaks against the patterns, also why some have no null.
func turnsTable(b *Sheet, patterns []result.Pattern, ref survey.Setup) {
	p := &patterns[0]
	b.WriteString("\n")
	b.Wrap(p.Turned().Short(wording.SentenceRoom)+", "+wording.Segment(p.Segment, p.Low, p.High), "", "")
	t := NewTable(1, "  of", "null", "95 % interval", "depth, dB", "95 % interval", "peak", "rounds").Spare("rounds", "peak")
	nulls := 0
	for i := range patterns {
		if p := &patterns[i]; p.Null != nil {
			t.Row("  "+PatternName(p), wording.BothWays(*p.Null), NullInterval(p), DepthText(p), DepthInterval(p), wording.BothWays(*p.Peak), p.Rounds)
			nulls++
		}
	}
	if nulls > 0 {
		b.Table(t)
	}
	for i := range patterns {
		if p := &patterns[i]; p.Of == result.OfFloor {
			floorLevels(b, p, "the floor's levels", ref)
		}
	}
	for i := range patterns {
		if words := TurnWords(&patterns[i]); words != "" {
			b.Wrap(words, "  ", "    ")
		}
	}
	for _, r := range Remarks(patterns) {
		writeDoubt(b, "  ", r.String())
	}
}

// A Remark is what is said of some patterns.
type Remark struct {
	About string // of which
	Text  string
}

func (r Remark) String() string { return r.About + ": " + r.Text }

// Remarks gives what is held against the patterns of one antenna in one segment, and why some have
// no null, each once.
func Remarks(patterns []result.Pattern) (all []Remark) {
	about := map[string][]*result.Pattern{}
	var order []string
	say := func(p *result.Pattern, text string) {
		if about[text] == nil {
			order = append(order, text)
		}
		about[text] = append(about[text], p)
	}
	for i := range patterns {
		p := &patterns[i]
		switch {
		case p.Unmeasured():
			say(p, "null not measured: "+p.NoNull.String())
		case p.NoNull != nil:
			say(p, "no null claimed: "+p.NoNull.String())
		}
		for _, d := range p.Doubts {
			say(p, d.String())
		}
	}
	for _, text := range order {
		who := patternNames(about[text])
		if len(about[text]) == len(patterns) && len(patterns) > 1 {
			who = "all"
		}
		all = append(all, Remark{who, text})
	}
	return all
}

// patternNames names patterns: three of them each, more by how many there are of a kind.
func patternNames(patterns []*result.Pattern) string {
	var names, kinds []string
	count := map[string]int{}
	for _, p := range patterns {
		names = append(names, PatternName(p))
		count[p.Of]++
	}
	if len(names) <= 3 {
		return wording.List(names)
	}
	if count[result.OfFloor] > 0 {
		kinds = append(kinds, "floor")
	}
	for _, of := range []struct{ kind, one, more string }{{result.OfCarrier, "carrier", "carriers"}, {result.OfNoiseSource, "noise source", "noise sources"}} {
		switch n := count[of.kind]; n {
		case 0:
		case 1:
			kinds = append(kinds, "1 "+of.one)
		default:
			kinds = append(kinds, fmt.Sprintf("%d %s", n, of.more))
		}
	}
	return wording.List(kinds)
}

// TurnWords says what turning to the null of the floor or of a noise source is worth, "" where no
// such null is claimed: turned to 128° / 308°: source 1 falls by 16.6 dB (16.2 … 17.1).
func TurnWords(p *result.Pattern) string {
	falls := verdict.Falls(p)
	if falls == "" {
		return ""
	}
	return "turned to " + wording.BothWays(*p.Null) + ": " + falls
}

// summaryBearings says where floors have nulls, which noise sources have one, and of antennas that were turned too
// little, that they were. What to turn to the null of a noise source is advice.
func summaryBearings(b *Sheet, r result.Bearings) {
	told, silent := Silent(r.Patterns)
	type remark struct{ antenna, words string }
	var said []remark
	segments := map[remark][]string{}
	say := func(p *result.Pattern, words string) {
		r := remark{p.Turned().Short(wording.SentenceRoom), words}
		if segments[r] == nil {
			said = append(said, r)
		}
		segments[r] = append(segments[r], wording.Printable(p.Segment))
	}
	for i := range told {
		switch p := &told[i]; {
		case p.Source != nil && p.Null != nil:
			say(p, fmt.Sprintf("null of source %d at %s", *p.Source, wording.BothWays(*p.Null)))
		case p.Of != result.OfFloor:
		case p.Null != nil:
			say(p, fmt.Sprintf("null of the floor at %s, %s", wording.BothWays(*p.Null), DepthWords(p)))
		case p.Unmeasured():
			say(p, "null of the floor not measured")
		default:
			say(p, "no null of the floor claimed")
		}
	}
	if len(said)+len(silent) > 0 {
		b.WriteString("\nBy bearing; more with report bearings\n")
	}
	for _, r := range said {
		b.Wrap(r.antenna+" on "+wording.List(segments[r])+": "+r.words, "  ", "    ")
	}
	for i := range silent {
		b.Wrap(silent[i].String(), "  ", "    ")
	}
}

// PatternName names what a pattern is of, a frequency to 100 Hz; a noise source as the report of them numbers it.
func PatternName(p *result.Pattern) string {
	switch {
	case p.Source != nil && p.Spacing != nil:
		return fmt.Sprintf("source %d (%s kHz)", *p.Source, wording.Number(float64(*p.Spacing)/1e3, 1))
	case p.Source != nil:
		return fmt.Sprintf("source %d", *p.Source)
	case p.Frequency != nil:
		return survey.Hz(100 * math.Round(float64(*p.Frequency)/100)).String()
	case p.Spacing != nil:
		return wording.Number(float64(*p.Spacing)/1e3, 1) + " kHz comb"
	case p.Envelope != nil:
		return "modulation at " + wording.Figure(p.Envelope, 0) + " Hz"
	}
	return p.Of
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
