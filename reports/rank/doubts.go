package rank

import (
	"fmt"
	"math"
	"slices"
	"time"

	"nightfloor/reports/matrix"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// doubts says in words what speaks against a ranking.
func (c *comparison) doubts(setups []result.RankSetup) []string {
	doubts := []string{}
	add := func(format string, args ...any) { doubts = append(doubts, fmt.Sprintf(format, args...)) }
	if c.ref < 0 {
		add("the reference was not measured in this segment: nothing to compare with")
	}
	switch n := len(c.rounds); {
	case n < stats.MinRounds:
		add("%s: an interval needs %d, so that nothing is told apart", wording.Count(n, "round"), stats.MinRounds)
	case c.ref < 0:
	case n < 2*stats.MinRounds:
		add("%d rounds: 95 %% intervals of so few hold the truth in about nine of ten", n)
	case c.blocks < stats.FewBlocks || c.correctionMatters():
		add("%d rounds and fading that lasts from round to round: intervals lean on a correlation of %.1f between neighbours", n, c.r)
	}
	switch n := len(c.lines); {
	case n == 0:
		add("no carrier was heard often enough to compare SNR by")
	case n < 3:
		add("%s: the figures hold for it and its direction, not for the segment", wording.Count(n, "carrier"))
	}
	if len(c.lines) > 0 && !c.matrix.Segment.Broadcast() {
		add("outside of the broadcast bands stations cannot be told from the house's own lines: every line counts")
	}
	for _, text := range longRounds(c.matrix, c.rounds) {
		add("%s", text)
	}
	if c.matrix.Cut != "" {
		add("%s", c.matrix.Cut)
	}
	if c.local > 0 {
		add("%s off the 5 kHz raster set aside as local", wording.Count(c.local, "line"))
	}
	if c.own > 0 {
		add("%s left out: the receiver's own, heard with a terminator in place of the antenna, or not to be told from one", wording.Count(c.own, "line"))
	}
	if share := c.unmeasured(); share > 0.02 {
		add("%.0f %% of the carriers' powers are missing, not measured by force: the poorer setup may look better than it is", 100*share)
	}
	doubts = append(doubts, c.setupDoubts(setups)...)
	if len(c.rounds) == len(c.matrix.Rounds) {
		doubts = append(doubts, leftDoubts(c.matrix)...)
	}
	return doubts
}

// unmeasured gives the share of powers that are missing where a line that
// counts was measured through another setup of the round. A round in which
// nobody looked for the line says nothing of anybody, and does not count.
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

// correctionMatters tells whether correlation across blocks widens the intervals
// by more than a third.
func (c *comparison) correctionMatters() bool {
	return stats.Widening(len(c.rounds), c.blocks, c.r) > 4.0/3
}

// setupDoubts are those about single setups; what holds for several is said
// once.
func (c *comparison) setupDoubts(setups []result.RankSetup) []string {
	var order []string
	about := map[string][]string{} // setups by what is said of them
	add := func(s survey.Setup, format string, args ...any) {
		text := fmt.Sprintf(format, args...)
		if about[text] == nil {
			order = append(order, text)
		}
		about[text] = append(about[text], wording.Setup(s, 60))
	}
	for _, s := range setups {
		k := slices.Index(c.matrix.Setups, s.Setup)
		if k == c.ref || c.ref < 0 {
			continue
		}
		e := c.effects[k]
		switch {
		case !c.matrix.Present(k, c.rounds):
			add(s.Setup, "all its readings were left out: not compared")
			continue
		case e == nil:
			add(s.Setup, "never in a round with the reference: not compared")
			continue
		case len(e.tracks) == 0 && len(c.lines) > 0:
			add(s.Setup, "no carrier is strong through it or the reference: not compared")
			continue
		case len(e.tracks) > 0 && len(e.tracks) == e.underNoise():
			add(s.Setup, "%s", e.nothingHeard())
			continue
		}
		if n := len(c.rounds) - e.shared; n > 0 {
			add(s.Setup, "in %d of %s together with the reference", e.shared, wording.Count(len(c.rounds), "round"))
		}
		if n := e.underNoise(); n > 0 {
			add(s.Setup, "%d of %s under the noise through it or the reference; their part leans on the others",
				n, wording.Count(len(e.tracks), "carrier"))
		}
		if s.SNRAdvantage != nil && s.FloorChange == nil {
			add(s.Setup, "%s", c.whyNoFloorChange(k))
		}
		if s.FloorChange != nil {
			left, step := c.unequal(k)
			if left > 0 {
				add(s.Setup, "in %s only the receiver's own noise was seen through it or the reference: left out of the change of floor", wording.Count(left, "round"))
			}
			if step > 0 {
				add(s.Setup, "gain differs from the reference's by a measured step: changes of signal and floor are known to ± %.1f dB", 1.96*step)
			}
		}
	}
	var doubts []string
	for _, text := range order {
		doubts = append(doubts, wording.List(about[text])+": "+text)
	}
	return doubts
}

// whyNoFloorChange says what hides the change of levels.
func (c *comparison) whyNoFloorChange(k int) string {
	if c.mostlyLimited(k) || c.mostlyLimited(c.ref) {
		return limitedDoubt
	}
	for _, round := range c.rounds {
		a, b := c.matrix.Cells[k][round], c.matrix.Cells[c.ref][round]
		if a == nil || b == nil || a.IsLimited() || b.IsLimited() {
			continue
		}
		return "its gain is not known against the reference's: SNR compares, levels do not"
	}
	return limitedDoubt
}

const limitedDoubt = "most floors through it or the reference are the receiver's own noise: its floor ranks nobody, and its SNR says as much of the receiver as of the antenna"

// unequal counts the rounds that the change of floors leaves out since one of both
// shows the receiver's own noise, and gives the standard error of the measured step
// where the gains of both differ; 0 where they do not.
func (c *comparison) unequal(k int) (left int, step float64) {
	for _, round := range c.rounds {
		a, b := c.matrix.Cells[k][round], c.matrix.Cells[c.ref][round]
		switch {
		case a == nil || b == nil:
		case a.IsLimited() || b.IsLimited():
			left++
		case a.Gain != b.Gain:
			step = max(step, math.Hypot(float64(a.Step), float64(b.Step)))
		}
	}
	return left, step
}

// underNoise counts the tracks whose weak end is under twice its uncertainty even
// over all rounds together: what they give is a bound.
func (e *effect) underNoise() (n int) {
	for _, t := range e.tracks {
		if ratio, sigma := t.linear(); t.faint && ratio < matrix.HeardSigmas*sigma {
			n++
		}
	}
	return n
}

// linear gives the mean over rounds of the linear ratio other/anchor, each weighed
// by its own certainty, and its standard error, which is the other's alone.
func (t *track) linear() (ratio, sigma float64) {
	var sum, weight float64
	for i := range t.obs {
		unit := stats.FromDecibel(t.obs[i].unit - t.obs[i].anchor)
		sum, weight = sum+t.obs[i].u/unit, weight+1/(unit*unit)
	}
	return sum / weight, 1 / math.Sqrt(weight)
}

// nothingHeard says how far behind a setup at least is that hears none of the
// carriers which the other hears: a bound at twice the uncertainty for each, the
// mean of them over carriers.
func (e *effect) nothingHeard() string {
	var bound float64
	deaf := 0
	for _, t := range e.tracks {
		ratio, sigma := t.linear()
		bound += stats.Decibel(max(ratio, 0)+matrix.HeardSigmas*sigma) / float64(len(e.tracks))
		if t.toSetup > 0 {
			deaf++
		}
	}
	who := "it hears none of %s that the reference hears: at least %.0f dB behind, no figure"
	if deaf*2 < len(e.tracks) {
		who = "the reference hears none of %s that it hears: at least %.0f dB ahead, no figure"
	}
	return fmt.Sprintf(who, wording.Count(len(e.tracks), "carrier"), -bound)
}

// leftDoubts are those about readings that were left out.
func leftDoubts(f *matrix.Matrix) []string {
	var doubts []string
	if n := f.Left.Overload; n > 0 {
		doubts = append(doubts, wording.Count(n, "overloaded reading")+" left out")
	}
	if n := f.Left.NoFloor; n > 0 {
		doubts = append(doubts, wording.Count(n, "reading")+" without a floor left out: too little of the segment was free")
	}
	if n := f.Left.Gain; n > 0 {
		doubts = append(doubts, wording.Count(n, "reading")+" left out: the gain changed within a visit by an unknown amount")
	}
	return doubts
}

// longRounds speaks of rounds over which fading does not cancel, since it changes
// within minutes and the ionosphere within an hour, and names those that last far
// longer than the others: what they compare was not heard under the same conditions.
func longRounds(f *matrix.Matrix, rounds []int) []string {
	const long, least, times = time.Hour, 2 * time.Hour, 5
	lengths := make([]time.Duration, len(rounds))
	for i, n := range rounds {
		lengths[i] = f.Length[n]
	}
	slices.Sort(lengths)
	limit := least
	if len(lengths) > 0 {
		limit = max(least, times*lengths[len(lengths)/2])
	}
	var out []string
	var longest time.Duration // of the others
	for _, n := range rounds {
		if f.Length[n] <= limit {
			longest = max(longest, f.Length[n])
		} else {
			out = append(out, fmt.Sprintf("round %d lasts %.0f h: what it compares was heard at different times; import the nights into databases of their own", f.Rounds[n].Round, f.Length[n].Hours()))
		}
	}
	if longest > long {
		out = append(out, "rounds last up to "+wording.Duration(longest)+": fading does not cancel within them")
	}
	return out
}
