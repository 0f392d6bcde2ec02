package rank

import (
	"math"
	"slices"

	"nightfloor/reports/matrix"
	"nightfloor/reports/stats"
)

// defaultSpread is taken for the fading of a pair whose differences cannot tell it:
// two antennas seen for half a second to half a minute scatter by 1 to 8 dB
// (STATISTICS.md 3.3, PHYSICS.md 9.2). TestSpreadOfFewRounds fails when it moves.
const defaultSpread = 5.0 // dB

// An effect is how one setup stands against the reference over a period.
type effect struct {
	tracks     []*track
	means      []float64    // by track: setup − reference, dB
	posteriors []*posterior // by track; nil for clear ones
	pulls      [][]pull     // by track and block; nil for faint ones
	fade       fading
	rounds     []bool // by round of the period: both were measured
	shared     int    // how many those are
}

// newEffect fits all lines that count. Its advantage() is meaningless where no
// track is left.
func newEffect(m *matrix.Matrix, k, ref int, rounds, lines []int) *effect {
	e := &effect{rounds: make([]bool, len(rounds))}
	for i, n := range rounds {
		if m.Cells[k][n] != nil && m.Cells[ref][n] != nil {
			e.rounds[i] = true
			e.shared++
		}
	}
	for _, line := range lines {
		if t := pairTrack(m, line, k, ref, rounds); t != nil {
			e.tracks = append(e.tracks, t)
		}
	}
	e.means = make([]float64, len(e.tracks))
	e.posteriors = make([]*posterior, len(e.tracks))
	e.fit()
	return e
}

// fit finds the mean difference of each carrier. A clear one, strong through both
// setups in every round in which it says anything, is the robust mean of its
// differences. A faint one is the mean of its posterior, the carriers being normal
// around their common mean: a carrier under the noise of the poorer setup is then
// held where the others and its own bound allow, neither left out (which flatters
// the poorer setup) nor put at the bound.
func (e *effect) fit() {
	e.fade = fading{spread: e.spread(), across: 3}
	var clear []float64
	for c, t := range e.tracks {
		if !t.faint {
			e.means[c] = t.toSetup * robustMean(deltas(t.obs), e.fade.spread)
			clear = append(clear, e.means[c])
		}
	}
	if len(clear) > 0 {
		e.fade.mean, _ = stats.MeanVariance(clear)
	}
	if len(clear) == len(e.tracks) {
		return
	}
	for c, t := range e.tracks {
		if t.faint {
			e.posteriors[c] = t.newPosterior(e.fade)
		}
	}
	for range 3 { // the common mean follows the faint ones, grids follow it
		for range 12 {
			before := e.fade.mean
			e.step()
			if math.Abs(e.fade.mean-before) < 0.005 {
				break
			}
		}
		for c, t := range e.tracks {
			if t.faint {
				e.posteriors[c].refine(t.toSetup*e.fade.mean, e.fade.across)
			}
		}
	}
}

// step is one round of expectation and maximisation for the common mean and the
// carriers' spread about it.
func (e *effect) step() {
	var square float64
	for c, t := range e.tracks {
		if t.faint {
			m, sd := e.posteriors[c].moments(e.posteriors[c].all, t.toSetup*e.fade.mean, e.fade.across)
			e.means[c] = t.toSetup * m
			square += sd * sd
		}
	}
	mean, _ := stats.MeanVariance(e.means)
	for _, m := range e.means {
		square += (m - mean) * (m - mean)
	}
	e.fade.mean = mean
	const usual, weight = 3.0, 4.0 // dB over carriers; counts as much as four carriers
	e.fade.across = math.Sqrt((square + weight*usual*usual) / (float64(len(e.means)) + weight))
}

// unheard gives the variance in dB² of the advantage that no resampling of rounds
// shows: carriers of which the rounds say little stand where the others do. A
// carrier whose posterior has the share k of the variance across carriers counts as
// k unheard ones; with u of C unheard, the mean of the C − u differs from the mean of
// all C by across²·u/(C·(C − u)).
func (e *effect) unheard() float64 {
	var u float64
	for c, t := range e.tracks {
		if t.faint {
			_, sd := e.posteriors[c].moments(e.posteriors[c].all, t.toSetup*e.fade.mean, e.fade.across)
			// Under 1 each: with all carriers unheard the variance would be infinite.
			u += min(0.95, sd*sd/(e.fade.across*e.fade.across))
		}
	}
	all := float64(len(e.tracks))
	if u == 0 {
		return 0
	}
	return e.fade.across * e.fade.across * u / (all * (all - u))
}

// spread gives the standard deviation over rounds of the differences in dB, from
// the clear tracks where there are any: 1.4826 times the median distance from
// each track's median, widened for the median taken out.
func (e *effect) spread() float64 {
	for _, faintToo := range []bool{false, true} {
		var away []float64
		for _, t := range e.tracks {
			if t.faint && !faintToo {
				continue
			}
			d := deltas(t.obs)
			if len(d) < matrix.HeardRounds {
				continue
			}
			middle := stats.Median(d)
			widen := math.Sqrt(float64(len(d)) / float64(len(d)-1))
			for _, x := range d {
				away = append(away, math.Abs(x-middle)*widen)
			}
		}
		if len(away) >= 2*matrix.HeardRounds {
			return max(0.1, 1.4826*stats.Median(away))
		}
	}
	return defaultSpread
}

// deltas gives the differences of the observations that have one.
func deltas(obs []observation) []float64 {
	d := make([]float64, 0, len(obs))
	for i := range obs {
		if obs[i].strong {
			d = append(d, obs[i].delta)
		}
	}
	return d
}

// robustMean gives the mean of differences in dB, outliers weighed less, by
// expectation and maximisation from their median on. NaN of none.
func robustMean(d []float64, spread float64) float64 {
	if len(d) <= 2 { // of two, neither is the outlier
		if len(d) == 0 {
			return math.NaN()
		}
		mean, _ := stats.MeanVariance(d)
		return mean
	}
	mean := stats.Median(d)
	for range 20 {
		var sum, weight float64
		for _, x := range d {
			w := outliers.at((x - mean) / spread).weight
			sum, weight = sum+w*x, weight+w
		}
		before := mean
		mean = sum / weight
		if math.Abs(mean-before) < 1e-3 {
			break
		}
	}
	return mean
}

// advantage gives the mean over carriers, dB.
func (e *effect) advantage() float64 {
	mean, _ := stats.MeanVariance(e.means)
	return mean
}

// A pull is what some differences do to a robust mean: the sum of their scores in
// dB, and how fast it falls when the mean follows.
type pull struct{ score, slope, weight float64 }

// newJackknife leaves out each block of rounds in turn.
func (e *effect) newJackknife(blockOf []int, count int, r float64) *stats.Jackknife {
	sizes := make([]int, count)
	for i, b := range blockOf {
		if e.rounds[i] {
			sizes[b]++
		}
	}
	e.split(blockOf, count)
	j := stats.NewJackknife(e.advantage(), sizes, len(blockOf), r, func(b int) (float64, bool) { return e.without(blockOf, b), true })
	j.Extra = e.unheard()
	return j
}

// split adds up the pulls of each block of rounds, so that it can be left out.
func (e *effect) split(blockOf []int, count int) {
	e.pulls = make([][]pull, len(e.tracks))
	for c, t := range e.tracks {
		if t.faint {
			continue
		}
		e.pulls[c] = make([]pull, count)
		for i := range t.obs {
			away := t.toSetup*t.obs[i].delta - e.means[c]
			s := outliers.at(away / e.fade.spread)
			p := &e.pulls[c][blockOf[t.obs[i].round]]
			p.score, p.slope, p.weight = p.score+s.weight*away, p.slope+s.slope, p.weight+s.weight
		}
	}
}

// without gives the advantage without a block of rounds, after split. Carriers of
// which no round is left keep their mean: they say nothing of the difference that
// the block makes.
func (e *effect) without(blockOf []int, block int) float64 {
	var clear, shift float64
	var rest [][]float64
	for c, t := range e.tracks {
		if t.faint {
			rest = append(rest, e.posteriors[c].without(t.obs, blockOf, block))
			shift += t.toSetup * t.anchorShift(e.posteriors[c].kappa, blockOf, block)
		} else {
			clear += e.clearWithout(c, block)
		}
	}
	n := float64(len(e.tracks))
	common := e.fade.mean
	for range 20 { // the common mean follows the faint ones, which follow it
		sum, i := clear, 0
		for c, t := range e.tracks {
			if t.faint {
				m, _ := e.posteriors[c].moments(rest[i], t.toSetup*common, e.fade.across)
				sum, i = sum+t.toSetup*m, i+1
			}
		}
		before := common
		common = sum / n
		if len(rest) == 0 || math.Abs(common-before) < 0.002 {
			break
		}
	}
	return common + shift/n
}

// clearWithout gives a clear carrier's mean without a block, by one step of Newton
// from its mean with all.
func (e *effect) clearWithout(c, block int) float64 {
	var rest pull
	for b, p := range e.pulls[c] {
		if b != block {
			rest.score, rest.slope, rest.weight = rest.score+p.score, rest.slope+p.slope, rest.weight+p.weight
		}
	}
	if rest.weight == 0 {
		return e.means[c]
	}
	// Where most are outliers the slope is no guide; the weights always are.
	return e.means[c] + rest.score/max(rest.slope, rest.weight/2)
}

// anchorShift gives what a faint track's δ gains when a block is left out and the
// anchor's mean level b̄, to which the observations are referred, moves: with
// μ = δ + κ(b − b̄), by κ times the sum left out over the number that stays.
func (t *track) anchorShift(kappa float64, blockOf []int, block int) float64 {
	var out, left float64
	for i := range t.obs {
		if blockOf[t.obs[i].round] == block {
			out += t.obs[i].anchor - t.anchorMean
		} else {
			left++
		}
	}
	if left == 0 {
		return 0
	}
	return kappa * out / left
}

// neighbours gives the correlation of a carrier's difference between one round and
// the next, from all effects: each carrier gives little, together they give much.
//
// The mean over carriers may be more correlated than a single one (an appliance
// raises the floor for all), so its correlation is taken where it is larger; being one
// short series a setup, it counts less its own standard error.
func neighbours(effects []*effect) float64 {
	var single, common stats.Lagged
	for _, e := range effects {
		if e == nil {
			continue
		}
		sum, count := make([]float64, len(e.rounds)), make([]float64, len(e.rounds))
		for c, t := range e.tracks {
			rest := slices.Repeat([]float64{math.NaN()}, len(e.rounds))
			for i := range t.obs {
				if t.obs[i].strong && !t.faint {
					o := &t.obs[i]
					// A station that went off the air mid-round must not dominate.
					rest[o.round] = max(-3*e.fade.spread, min(3*e.fade.spread, t.toSetup*o.delta-e.means[c]))
					sum[o.round] += rest[o.round]
					count[o.round]++
				}
			}
			single.Add(rest)
		}
		for i := range sum {
			sum[i] /= count[i] // NaN where no carrier says anything
		}
		common.Add(sum)
	}
	alone, _ := single.Correlation()
	together, sigma := common.Correlation()
	return max(0, min(0.8, max(alone, together-sigma)))
}
