package rank

import (
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"nightfloor/reports/halves"
	"nightfloor/reports/matrix"
	"nightfloor/reports/onair"
	"nightfloor/reports/pair"
	"nightfloor/reports/result"
	"nightfloor/reports/series"
	"nightfloor/reports/stations"
	"nightfloor/reports/stats"
	"nightfloor/reports/strata"
	"nightfloor/survey"
)

// A comparison is one segment over one period while it is being ranked: every setup against every
// other.
type comparison struct {
	matrix   *matrix.Matrix
	rounds   []int                 // of the matrix
	ref      int                   // index of the reference among the matrix's setups, −1: not there
	apart    map[survey.Setup]bool // setups that are no candidates
	controls map[survey.Setup]bool // those of them that are controls
	antennas map[survey.Setup]survey.Antenna
	of       string // what is compared: result.OfCarriers and so on
	found    stations.Lines
	lines    []int // that are compared; none where what is on the air is
	listed   []result.ListedLine
	air      *onair.Air      // where what is on the air is compared
	night    []int           // by round: which night it belongs to
	states   *strata.Choice  // nil where the reference was not measured
	changes  []halves.Change // of the wiring
	wired    []int           // by round of the matrix: its wiring, of so many
	wirings  int
	pairs    map[[2]int]*pairing
	// Weights are what all pairs together say of the correlation of rounds; slow: it lasts longer
	// than so few rounds can show.
	weights series.Weights
	slow    bool
}

// A pairing is two setups compared: the first against the second.
type pairing struct {
	pair.Result
	strata   strata.Pair
	wirings  int       // that are told apart: a stratum is a state of the noise sources in one of them
	weights  []float64 // by stratum: rounds of the comparison, those between two states half to each
	values   series.Series
	fit      *series.Fit // of the advantage; nil where no carrier is heard through both
	floors   floors
	shared   int // rounds in which both were measured
	carriers int // measured through both in any of them; slots where what is on the air is compared
}

// compare compares all pairs of setups, and the errors of their rounds.
func (c *comparison) compare() {
	c.pairs = map[[2]int]*pairing{}
	c.wired, c.wirings = halves.Strata(c.changes, len(c.matrix.Rounds))
	if c.ref < 0 {
		return
	}
	var measured []int
	for k := range c.matrix.Setups {
		if k != c.ref && c.matrix.Measured(k, c.rounds) > 0 {
			measured = append(measured, k)
		}
	}
	measured = append(measured, c.ref) // last, so that every other one stands against it
	times, alpha := c.times(), c.matrix.Alpha()
	var pairs [][2]int
	for i, k := range measured {
		for _, j := range measured[i+1:] {
			pairs = append(pairs, [2]int{k, j})
		}
	}
	compared := make([]*pairing, len(pairs))
	each(len(pairs), func(i int) { compared[i] = c.pairing(pairs[i][0], pairs[i][1], times, alpha) })
	var advantages, differences []*series.Fit
	var told, drifting [][2]int
	for i, p := range compared {
		if p.shared == 0 {
			continue
		}
		c.pairs[pairs[i]] = p
		if !c.tells(pairs[i]) {
			continue
		}
		advantages, differences = append(advantages, p.fit), append(differences, p.floors.fit)
		if p.fit.Tells() {
			told = append(told, pairs[i])
		}
		if p.floors.fit.Tells() {
			drifting = append(drifting, pairs[i])
		}
	}
	c.weights = series.Pool(advantages, 1+independent(told))
	c.slow = series.DriftTooSlow(advantages, differences, 1+independent(drifting))
}

// tells tells whether a pair says how the floors of antennas change against each other: not where one is none, such as a
// control, past whose floor that of all antennas rises and falls; all do where the reference itself is none.
func (c *comparison) tells(pair [2]int) bool {
	apart := func(k int) bool { return c.apart[c.matrix.Setups[k]] }
	return apart(c.ref) || !apart(pair[0]) && !apart(pair[1])
}

// each does something for each of so many, on all processors at once.
func each(n int, do func(i int)) {
	var next atomic.Int64
	var all sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		all.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	all.Wait()
}

// independent counts the pairs that do not follow from those before them: of setups that are all compared
// with each other, one less than there are.
func independent(pairs [][2]int) (n int) {
	joined := map[int]int{} // setups that are compared, directly or by others, lead to the same one
	first := func(k int) int {
		for {
			to, ok := joined[k]
			if !ok {
				return k
			}
			k = to
		}
	}
	for _, p := range pairs {
		if a, b := first(p[0]), first(p[1]); a != b {
			joined[a] = b
			n++
		}
	}
	return n
}

// holds tells whether a round of the matrix is among those compared, which come in order.
func (c *comparison) holds(round int) bool {
	_, ok := slices.BinarySearch(c.rounds, round)
	return ok
}

// times gives when the rounds were, in usual distances.
func (c *comparison) times() []float64 {
	var middles []time.Time
	for _, n := range c.rounds {
		middles = append(middles, c.matrix.Middle(n))
	}
	return series.Times(middles, pick(surveysOf(c.matrix), c.rounds))
}

// pairing compares setup k with setup j.
func (c *comparison) pairing(k, j int, times []float64, alpha float64) *pairing {
	p := &pairing{wirings: c.wirings}
	if c.of == result.OfTransmissions {
		c.byAir(p, k, j)
	} else {
		c.byLines(p, k, j, alpha)
	}
	p.strata = c.states.Pair(k, j)
	p.values = series.Series{Values: p.ByRound, Times: times, Stratum: c.strataOf(p), Hidden: p.Hidden}
	p.weights = p.weightsOf(p.strata.Weights(c.holds))
	hears := func(k int) bool { return !c.antennas[c.matrix.Setups[k]].AtReceiver() } // stations; noise alone makes no SNR
	if !math.IsNaN(p.Advantage) && hears(k) && hears(j) {
		p.fit = series.Of(p.values)
	}
	p.floors = c.floorsOf(k, j, p.values)
	return p
}

// byAir compares two setups by what is on the air.
func (c *comparison) byAir(p *pairing, k, j int) {
	p.Result = pair.Result{Advantage: math.NaN()}
	keys := pick(c.matrix.Rounds, c.rounds)
	if found, ok := c.air.Compare(c.matrix.Segment, keys, c.matrix.Setups[k], c.matrix.Setups[j]); ok {
		p.shared = found.Rounds
		if found.ByRound != nil {
			p.ByRound, p.Advantage, p.carriers = found.ByRound, 0, found.Slots
		}
	}
}

// byLines compares two setups by the lines that count.
func (c *comparison) byLines(p *pairing, k, j int, alpha float64) {
	cells := make([][]pair.Cell, len(c.rounds))
	measured := make([]bool, len(c.lines))
	for i, n := range c.rounds {
		cells[i] = make([]pair.Cell, len(c.lines))
		a, b := c.matrix.Cells[k][n], c.matrix.Cells[j][n]
		if a == nil || b == nil {
			continue
		}
		p.shared++
		for x, line := range c.lines {
			if !math.IsNaN(a.Snr[line]) && !math.IsNaN(b.Snr[line]) {
				cells[i][x] = pair.Cell{First: levelOf(a, line), Second: levelOf(b, line), Measured: true}
				measured[x] = true
			}
		}
	}
	for _, m := range measured {
		if m {
			p.carriers++
		}
	}
	p.Result = pair.Compare(cells, alpha)
}

// offers tells whether there is anything to compare setups by: not where those that were measured together
// with the reference show that too little is on the air.
func (c *comparison) offers() bool {
	if c.of != result.OfTransmissions {
		return len(c.lines) > 0
	}
	for k := range c.matrix.Setups {
		if c.together(k) {
			return c.answered()
		}
	}
	return true
}

// together tells whether a setup other than the reference was measured in a round with it.
func (c *comparison) together(k int) bool {
	return c.ref >= 0 && k != c.ref && slices.ContainsFunc(c.rounds, func(n int) bool {
		return c.matrix.Cells[k][n] != nil && c.matrix.Cells[c.ref][n] != nil
	})
}

// answered tells whether any setup has a figure against the reference.
func (c *comparison) answered() bool {
	for k := range c.matrix.Setups {
		if p := c.pairs[[2]int{k, c.ref}]; p != nil && p.fit != nil {
			return true
		}
	}
	return false
}

// levelOf gives a line's level in one cell. An error of nothing, from recordings without noise, is put
// at a millionth.
func levelOf(c *matrix.Cell, line int) pair.Level {
	quiet := max(c.Quiet[line], 1e-6*math.Abs(c.Snr[line]), 1e-30)
	return pair.Level{U: c.Snr[line] / quiet, Unit: stats.Decibel(quiet)}
}

// pick gives some of a list, by index.
func pick[T any](of []T, which []int) []T {
	out := make([]T, len(which))
	for i, n := range which {
		out[i] = of[n]
	}
	return out
}

// advantage gives the distribution of the advantage of setup k over setup j, nil where it is not known.
func (c *comparison) advantage(l look, k, j int) *series.Mixture {
	if p := c.pairs[[2]int{k, j}]; p != nil {
		return l.of(p, p.fit, c.weights)
	}
	if p := c.pairs[[2]int{j, k}]; p != nil {
		if m := l.of(p, p.fit, c.weights); m != nil {
			return m.Negated()
		}
	}
	return nil
}
