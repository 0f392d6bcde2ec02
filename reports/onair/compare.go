package onair

import (
	"math"
	"slices"

	"nightfloor/reports/input"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A Comparison is how a setup hears what is on the air against another.
type Comparison struct {
	// ByRound is the difference of the quantiles in dB, mean over those that count; NaN in rounds
	// in which one of both was not measured. nil where too little is on the air.
	ByRound   []float64
	Quantiles int // that count
	Slots     int // in the median round
	Rounds    int // in which both were measured
}

// levels are the quantiles over the slots that are compared, by the seventh of [Hyndman:1996]'s
// definitions. The highest alone is led by one transmission, lower ones fall among empty slots
// (STATISTICS.md 10.2).
var levels = [...]float64{0.7, 0.8, 0.9, 0.95, 1}

const (
	// A quantile counts where it stands leastSigmas over the noise through both setups in
	// leastShare of the rounds; in the others it is put there. In noise alone the highest of 700 slots stands 3.1 over it.
	// TestNothingOnTheAir, TestWhichSlotsAndQuantilesCount, TestTransmissions.
	leastSigmas = 4
	leastShare  = 0.9
	// levelDoubt is by how much the noise about a slot may be off, one standard error, in parts of it:
	// the noise over 50 kHz is no more level than 0.065 dB. Chosen; TestWhichSlotsAndQuantilesCount.
	levelDoubt = 0.015
	// A slot whose quiet level differs from the noise about it by more than unquietSigmas is left out:
	// with what noise adds to it, it stays under leastSigmas. TestNothingOnTheAir, TestUnevenNoise.
	unquietSigmas = 2
	// fewestSlots must count, or the quantiles are all but one. Chosen; TestWhatIsCompared.
	fewestSlots = 5
)

// Compare compares a setup with a reference in a segment, over some rounds. ok is false where the
// segment is no amateur band. Comparisons may be made at once.
func (a *Air) Compare(segment survey.Segment, rounds []input.RoundKey, setup, reference survey.Setup) (out Comparison, ok bool) {
	b := a.bandOf(segment)
	if b == nil {
		return out, false
	}
	b.judge()
	out.ByRound = make([]float64, len(rounds))
	var pairs [][2]*cell
	var slots []float64
	for t, round := range rounds {
		out.ByRound[t] = math.NaN()
		x, y := b.cells[cellKey{setup, round}], b.cells[cellKey{reference, round}]
		if x != nil && y != nil && x.quantile != nil && y.quantile != nil {
			pairs, slots = append(pairs, [2]*cell{x, y}), append(slots, float64(x.counted))
			out.ByRound[t] = 0
		}
	}
	if out.Rounds = len(pairs); out.Rounds == 0 {
		return Comparison{}, true
	}
	out.Slots = int(stats.Median(slots))
	counting := countingLevels(pairs)
	if out.Quantiles = len(counting); out.Quantiles == 0 {
		out.ByRound = nil
		return out, true
	}
	for t := range out.ByRound {
		if math.IsNaN(out.ByRound[t]) {
			continue
		}
		p := pairs[0]
		pairs = pairs[1:]
		for _, q := range counting {
			out.ByRound[t] += stats.Decibel(p[0].over(q)/p[1].over(q)) / float64(len(counting))
		}
	}
	return out, true
}

// countingLevels gives the quantiles that stand out of the noise in nearly all rounds.
func countingLevels(pairs [][2]*cell) (counting []int) {
	for q := range levels {
		times := 0
		for _, p := range pairs {
			if p[0].stands(q) && p[1].stands(q) {
				times++
			}
		}
		if float64(times) >= leastShare*float64(len(pairs)) {
			counting = append(counting, q)
		}
	}
	return counting
}

func (c *cell) doubt() float64     { return math.Hypot(c.sigma, levelDoubt) }
func (c *cell) stands(q int) bool  { return c.quantile[q] > leastSigmas*c.doubt() }
func (c *cell) over(q int) float64 { return max(c.quantile[q], leastSigmas*c.doubt()) }
func (c *cell) unquiet() float64   { return unquietSigmas * c.doubt() }

// judge finds which slots count and gives each cell its quantiles, once for all comparisons.
func (b *band) judge() {
	b.judging.Lock()
	defer b.judging.Unlock()
	if b.judged {
		return
	}
	b.close()
	b.judged = true
	unquiet := b.neverQuiet()
	for key, c := range b.cells {
		var counted []float64
		for i, x := range c.excess {
			if !unquiet[i] && (b.house[key.round] == nil || !b.house[key.round][i]) {
				counted = append(counted, x)
			}
		}
		c.quantile, c.counted = nil, len(counted)
		if len(counted) < fewestSlots {
			continue
		}
		slices.Sort(counted)
		for _, q := range levels {
			c.quantile = append(c.quantile, stats.Quantile(counted, q))
		}
	}
}

// neverQuiet tells which slots have, through some setup, a quiet level that is not that of the noise about
// them: the lower quartile over its rounds. Lines that nothing was found of stand there, the receiver's
// own, stations that never pause, or the flanks of a steep antenna, and there what is on the air
// cannot be told from what always is.
func (b *band) neverQuiet() []bool {
	out := make([]bool, b.slots)
	of := map[survey.Setup][]*cell{}
	for key, c := range b.cells {
		of[key.setup] = append(of[key.setup], c)
	}
	for _, cells := range of {
		var limit []float64
		for _, c := range cells {
			limit = append(limit, c.unquiet())
		}
		most := stats.Median(limit)
		quiet := make([]float64, len(cells))
		for i := range out {
			for j, c := range cells {
				quiet[j] = c.quiet[i]
			}
			slices.Sort(quiet)
			out[i] = out[i] || math.Abs(stats.Quantile(quiet, 0.25)) > most
		}
	}
	return out
}
