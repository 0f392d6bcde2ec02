package rank

import (
	"math"
	"slices"
	"strconv"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/result"
	"nightfloor/reports/stations"
	"nightfloor/reports/stats"
	"nightfloor/reports/strata"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// doubts gives what speaks against a ranking.
func (c *comparison) doubts(setups []result.RankSetup) []doubt.Doubt {
	doubts := []doubt.Doubt{}
	add := func(k doubt.Kind, figures ...any) { doubts = append(doubts, doubt.New(k, figures...)) }
	if c.ref < 0 {
		add(doubt.NoReference)
	}
	switch n := len(c.rounds); {
	case n < stats.MinRounds:
		add(doubt.NoInterval, doubt.Count{N: n, Noun: "round"}, stats.MinRounds)
	case c.ref < 0:
	case c.slow:
		add(doubt.SlowDrift, doubt.Count{N: n, Noun: "round"})
	}
	switch n, heard := len(c.lines), c.found.Heard(); {
	case c.of == result.OfTransmissions && !c.offers():
		add(doubt.NothingOnAir)
	case c.of == result.OfTransmissions: // the verdict says so
	case c.of == result.OfListed && n == 0:
		add(doubt.NoneListed)
	case heard == 0:
		add(doubt.NoCarrier)
	case n == 0:
		add(doubt.NoStation, doubt.Count{N: heard, Noun: "line"})
	case n < 3:
		add(doubt.FewCarriers, doubt.Count{N: n, Noun: "carrier"})
	}
	doubts = append(doubts, longRounds(c.matrix, c.rounds)...)
	if c.matrix.Cut {
		add(doubt.CutDifferently, wording.Edges(c.matrix.Segment.Low, c.matrix.Segment.High))
	}
	if c.of == result.OfCarriers {
		doubts = append(doubts, leftLines(&c.found)...)
	}
	if slices.ContainsFunc(setups, func(s result.RankSetup) bool { return slices.Contains(s.Flags, survey.FlagLineAtCentre) }) {
		add(doubt.LineAtCentre)
	}
	if share := c.unmeasured(); share > mostUnmeasured {
		add(doubt.Unmeasured, 100*share)
	}
	doubts = append(doubts, c.leftBetweenStates()...)
	doubts = append(doubts, c.setupDoubts(setups)...)
	if len(c.rounds) == len(c.matrix.Rounds) {
		doubts = append(doubts, leftDoubts(c.matrix)...)
	}
	return doubts
}

// leftLines tells of lines that were heard and are no stations.
func leftLines(found *stations.Lines) (doubts []doubt.Doubt) {
	for _, left := range []struct {
		lines []int
		kind  doubt.Kind
	}{{found.Comb, doubt.CombLines}, {found.OffRaster, doubt.LocalLines}, {found.Unproven, doubt.UnprovenLines},
		{found.Control, doubt.ControlLines}, {found.Hours, doubt.HoursLines}, {found.Own, doubt.OwnLines}} {
		if n := len(left.lines); n > 0 {
			doubts = append(doubts, doubt.New(left.kind, doubt.Count{N: n, Noun: "line"}))
		}
	}
	return doubts
}

// mostUnmeasured is the share of missing powers up to which nothing is said. Chosen
// (STATISTICS.md 3.7); TestMissingPowers fails when it moves.
const mostUnmeasured = 0.02

// unmeasured gives the share of powers that are missing where a line that
// counts was measured through another setup of the round. A round in which the line
// was measured through no setup does not count.
func (c *comparison) unmeasured() float64 {
	missing, all := 0, 0
	for _, n := range c.rounds {
		for _, line := range c.lines {
			present, measured := 0, 0
			for _, cells := range c.matrix.Cells {
				if cells[n] == nil {
					continue
				}
				present++
				if !math.IsNaN(cells[n].Snr[line]) {
					measured++
				}
			}
			if measured > 0 {
				all += present
				missing += present - measured
			}
		}
	}
	return float64(missing) / float64(max(1, all))
}

// setupDoubts are those about the places of single setups, of which those apart have none; one that holds for
// several is given once, about all of them.
func (c *comparison) setupDoubts(setups []result.RankSetup) (doubts []doubt.Doubt) {
	if c.ref < 0 {
		return nil
	}
	for _, s := range setups {
		k := slices.Index(c.matrix.Setups, s.Setup)
		if k == c.ref || s.Apart {
			continue
		}
		for _, d := range c.doubtsOf(k, s) {
			said := d.String()
			i := slices.IndexFunc(doubts, func(e doubt.Doubt) bool { return doubt.New(e.Kind, e.Figures...).String() == said })
			if i < 0 {
				i, doubts = len(doubts), append(doubts, d)
			}
			doubts[i].About = append(doubts[i].About, s.Setup)
		}
	}
	return append(append(doubts, c.someRounds(setups)...), c.amplifiers(setups)...)
}

// amplifiers tells of setups with an amplifier of which no noise was measured.
func (c *comparison) amplifiers(setups []result.RankSetup) []doubt.Doubt {
	var who []survey.Setup
	for _, s := range setups {
		k := c.index(s)
		if slices.ContainsFunc(c.rounds, func(n int) bool { x := c.matrix.Cells[k][n]; return x != nil && x.External.Unmeasured > 0 }) {
			who = append(who, s.Setup)
		}
	}
	if who == nil {
		return nil
	}
	return []doubt.Doubt{{Kind: doubt.AmplifierUnknown, About: who}}
}

// mostNamed is how many setups are named that were in some rounds only; the table has the rounds of each.
const mostNamed = 3

// someRounds tells of setups that were in some rounds only together with the reference.
func (c *comparison) someRounds(setups []result.RankSetup) []doubt.Doubt {
	var who []survey.Setup
	least, most := len(c.rounds), 0
	for _, s := range setups {
		k := slices.Index(c.matrix.Setups, s.Setup)
		if p := c.pairs[[2]int{k, c.ref}]; k != c.ref && p != nil && s.SNRAdvantage != nil && p.shared < len(c.rounds) {
			who = append(who, s.Setup)
			least, most = min(least, p.shared), max(most, p.shared)
		}
	}
	in, of := strconv.Itoa(least), doubt.Count{N: len(c.rounds), Noun: "round"}
	if most > least {
		in += " to " + strconv.Itoa(most)
	}
	switch {
	case len(who) == 0:
		return nil
	case len(who) > mostNamed:
		return []doubt.Doubt{doubt.New(doubt.ManyInSomeRounds, doubt.Count{N: len(who), Noun: "setup"}, in, of)}
	}
	return []doubt.Doubt{{Kind: doubt.SomeRounds, About: who, Figures: []any{in, of}}}
}

// doubtsOf gives what speaks against one setup's place.
func (c *comparison) doubtsOf(k int, s result.RankSetup) (doubts []doubt.Doubt) {
	add := func(kind doubt.Kind, figures ...any) { doubts = append(doubts, doubt.New(kind, figures...)) }
	p := c.pairs[[2]int{k, c.ref}]
	switch {
	case c.matrix.Measured(k, c.rounds) == 0:
		return []doubt.Doubt{doubt.New(doubt.AllLeftOut)}
	case !c.together(k):
		return []doubt.Doubt{doubt.New(doubt.NoCommonRound)}
	case c.of == result.OfTransmissions && !c.answered(): // it is said of all
		return nil
	case c.of == result.OfTransmissions && (p == nil || p.fit == nil):
		return []doubt.Doubt{doubt.New(doubt.LittleOnAir)}
	case p.fit == nil && len(c.lines) > 0:
		return []doubt.Doubt{p.nothingHeard()}
	}
	if n := len(p.Unheard); n > 0 {
		add(doubt.UnderNoise, n, doubt.Count{N: p.carriers, Noun: "carrier"})
	}
	if c.controls[s.Setup] { // whose floor is not to be an antenna's
		return doubts
	}
	if p.floors.fit == nil && s.SNRAdvantage != nil {
		doubts = append(doubts, p.floors.why)
	}
	if p.floors.left > 0 {
		add(doubt.LimitedRounds, doubt.Count{N: p.floors.left, Noun: "round"})
	}
	if p.floors.blind > 0 {
		add(doubt.UnknownRounds, doubt.Count{N: p.floors.blind, Noun: "round"}, advice(true))
	}
	if p.floors.step > 0 {
		add(doubt.MeasuredStep, stats.Normal95*p.floors.step)
	}
	return doubts
}

// leftBetweenStates tells of the rounds that are in no state of the noise sources: how many at most
// for one setup, and why.
func (c *comparison) leftBetweenStates() []doubt.Doubt {
	most, all := 0, []strata.Left{}
	for k := range c.matrix.Setups {
		p := c.pairs[[2]int{k, c.ref}]
		if p == nil {
			continue
		}
		left := 0
		for _, l := range p.strata.Left {
			if !slices.Contains(c.rounds, l.Round) {
				continue
			}
			left, all = left+1, append(all, l)
		}
		most = max(most, left)
	}
	if most == 0 {
		return nil
	}
	return []doubt.Doubt{doubt.New(doubt.LeftBetweenStates, doubt.Count{N: most, Noun: "round"}, strata.Reasons(all))}
}

// nothingHeard says how far behind a setup at least is that hears none of the
// carriers which the other hears: the mean of the bounds over carriers.
func (p *pairing) nothingHeard() doubt.Doubt {
	var bound, known, behind float64
	for _, u := range p.Unheard {
		if math.IsNaN(u.Behind) {
			continue
		}
		bound, known = bound+u.Behind, known+1
		if u.First {
			behind++
		}
	}
	if known == 0 {
		return doubt.New(doubt.NoStrongCarrier)
	}
	kind := doubt.HearsNone
	if 2*behind < known {
		kind = doubt.ReferenceHearsNone
	}
	return doubt.New(kind, doubt.Count{N: int(known), Noun: "carrier"}, bound/known)
}

// leftDoubts are those about readings that were left out or may hold images.
func leftDoubts(m *matrix.Matrix) (doubts []doubt.Doubt) {
	add := func(k doubt.Kind, n int, noun string, more ...any) {
		if n > 0 {
			doubts = append(doubts, doubt.New(k, append([]any{doubt.Count{N: n, Noun: noun}}, more...)...))
		}
	}
	add(doubt.Overloaded, m.Left.Overload, "overloaded reading")
	add(doubt.WithoutFloor, m.Left.NoFloor, "reading")
	add(doubt.GainChanged, m.Left.Gain, "reading", advice(m.Left.Gainless))
	imaged := 0
	for _, flag := range slices.Concat(slices.Concat(m.Flags...)...) {
		if flag == survey.FlagNyquistImage {
			imaged++
		}
	}
	add(doubt.Imaged, imaged, "reading")
	return doubts
}

// longRounds tells of rounds over which fading does not cancel, since it changes within
// minutes and the ionosphere within an hour, and names those that last longer than 2 h and
// five times the median: what they compare was not heard under the same conditions. Chosen
// (STATISTICS.md 1.6); TestLongRound and TestRoundsThatLast fail when they move.
func longRounds(m *matrix.Matrix, rounds []int) (doubts []doubt.Doubt) {
	const long, least, times = time.Hour, 2 * time.Hour, 5
	lengths := make([]time.Duration, len(rounds))
	for i, n := range rounds {
		lengths[i] = m.Length[n]
	}
	slices.Sort(lengths)
	limit := least
	if len(lengths) > 0 {
		limit = max(least, times*lengths[len(lengths)/2])
	}
	var longest time.Duration // of the others
	for _, n := range rounds {
		if m.Length[n] <= limit {
			longest = max(longest, m.Length[n])
		} else {
			doubts = append(doubts, doubt.New(doubt.RoundFarTooLong, m.Rounds[n].Round, m.Length[n].Hours()))
		}
	}
	if longest > long {
		doubts = append(doubts, doubt.New(doubt.LongRounds, longest))
	}
	return doubts
}

// tunedOut says which antennas of the plans are not compared in a segment because
// they are tuned to another stretch.
func tunedOut(in input.Input, segment survey.Segment) (doubts []doubt.Doubt) {
	plans, said := in.Plans(), map[string]bool{}
	for _, s := range in.Surveys {
		for _, a := range plans[s.ID].Antennas {
			d := doubt.New(doubt.TunedElsewhere, a.Name, wording.Edges(a.TunedLow, a.TunedHigh))
			if text := d.String(); !a.Measures(segment) && !said[text] {
				said[text] = true
				doubts = append(doubts, d)
			}
		}
	}
	return doubts
}
