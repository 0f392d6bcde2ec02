package rank

// A carrier that is strong through one setup and weak through the other. The
// weak power, noise subtracted, may be negative and has no dB. What it tells of
// the difference δ (dB) is a likelihood,
//
//	G(u; c) = ∫ N(l; c, s) · N(u; 10^(l/10), 1) dl,
//
// with u the power in its standard errors, l the level in dB above one standard
// error, c the level that δ lets expect, s the spread of δ by fading. G depends on
// u, c and s alone and is kept in tables.
//
// Where levels fade, a round in which the anchor stands high is likely one in
// which δ is low: for levels of equal variance v, δ given the anchor's level b has
// the mean μ − κ(b − b̄) with κ = s²/(2v), and the variance s²(1 − κ/2) (bivariate
// normal). With that, rounds may be chosen by the anchor's strength without
// choosing by δ.

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/floats"

	"nightfloor/reports/stats"
)

// Tables of STATISTICS.md 3.4. TestTableOfWeakPowers fails when their steps or their beginning
// move; with three times as many steps they go on where nothing is looked up.
const (
	levelSteps = 71    // of the level under the integral
	levelFirst = -50.0 // dB above one standard error; below −20 dB all look alike
	levelStep  = 1.0   // dB

	uFirst, uLast, uStep = -6.0, strongSigmas, 0.25
	uSteps               = int((uLast-uFirst)/uStep) + 1
)

func levelAt(i int) float64 { return levelFirst + float64(i)*levelStep }

// levelPower holds the levels as powers, in standard errors.
var levelPower = func() (p [levelSteps]float64) {
	for i := range p {
		p[i] = stats.FromDecibel(levelAt(i))
	}
	return p
}()

// measured gives the density of u at each level, without its constant.
func measured(u float64) (density [levelSteps]float64) {
	for i, p := range levelPower {
		density[i] = math.Exp(-(u - p) * (u - p) / 2)
	}
	return density
}

// faintTable holds ln G over u and c for one spread.
type faintTable [uSteps][levelSteps]float64

var (
	faintLock   sync.Mutex
	faintTables = map[int]*faintTable{} // by spread in half dB
)

// tableFor gives the table for a spread in dB, rounded to half a dB, from 1 to 15.
func tableFor(spread float64) *faintTable {
	key := int(math.Round(2 * max(1, min(15, spread))))
	faintLock.Lock()
	defer faintLock.Unlock()
	t := faintTables[key]
	if t == nil {
		t = newFaintTable(float64(key) / 2)
		faintTables[key] = t
	}
	return t
}

func newFaintTable(spread float64) *faintTable {
	var kernel [2*levelSteps - 1]float64 // N(l; c, s) by the difference of indices
	for i := range kernel {
		z := float64(i-levelSteps+1) * levelStep / spread
		kernel[i] = math.Exp(-z*z/2) * levelStep / (spread * math.Sqrt(2*math.Pi))
	}
	var t faintTable
	for a := range t {
		u := uFirst + float64(a)*uStep
		density := measured(u)
		silent := math.Exp(-u * u / 2) // no level at all
		for c := range t[a] {
			var sum, weight float64
			for i := range density {
				w := kernel[i-c+levelSteps-1]
				sum, weight = sum+w*density[i], weight+w
			}
			if below := 1 - weight; below > 0 && c < levelSteps/2 {
				sum += below * silent // what the table's lower end cuts off
			}
			t[a][c] = math.Log((1-offAirShare)*sum + offAirShare*silent + 1e-12)
		}
	}
	return &t
}

// at gives ln G, between the table's points by straight lines.
func (t *faintTable) at(u, c float64) float64 {
	a, x := stats.GridPoint((u-uFirst)/uStep, uSteps)
	b, y := stats.GridPoint((c-levelFirst)/levelStep, levelSteps)
	return (1-x)*((1-y)*t[a][b]+y*t[a][b+1]) + x*((1-y)*t[a+1][b]+y*t[a+1][b+1])
}

// fading is what the differences of a pair of setups have in common, in dB.
type fading struct {
	spread float64 // standard deviation of a carrier's difference over rounds
	mean   float64 // over carriers, setup − reference
	across float64 // standard deviation over carriers
}

// logLikelihood gives what an observation of a faint track says of δ = mu, dB.
func (t *track) logLikelihood(o *observation, mu, kappa, spread float64, table *faintTable) float64 {
	expected := mu - kappa*(o.anchor-t.anchorMean)
	if !o.strong {
		return table.at(o.u, o.anchor+expected-o.unit)
	}
	return outliers.at((o.delta - expected) / spread).density
}

// A posterior is what all rounds say of a faint track's δ, on a grid.
type posterior struct {
	mu    []float64   // dB
	all   []float64   // ln likelihood by grid point
	each  [][]float64 // of that, by observation
	kappa float64
	grid  func(low, high float64) // lays it anew
}

// The first grid of a posterior. Three times as many points, or as wide a grid, lead to the same
// figures, as a third of either does: refine lays it anew until it is fine enough.
const (
	muSteps = 33
	muReach = 64.0 // dB, to both sides
)

// newPosterior lays the grid where the likelihood and the other carriers say
// that δ lies: wide at first, then narrower until a step is small against the
// width.
func (t *track) newPosterior(fade fading) *posterior {
	p := &posterior{kappa: min(1, fade.spread*fade.spread/(2*t.anchorVar)),
		mu: make([]float64, muSteps), all: make([]float64, muSteps), each: make([][]float64, len(t.obs))}
	for n := range p.each {
		p.each[n] = make([]float64, muSteps)
	}
	spread := max(1, fade.spread*math.Sqrt(1-p.kappa/2))
	table := tableFor(spread)
	p.grid = func(low, high float64) {
		for i := range p.mu {
			p.mu[i] = low + (high-low)*float64(i)/(muSteps-1)
			p.all[i] = 0
			for n := range t.obs {
				p.each[n][i] = t.logLikelihood(&t.obs[n], p.mu[i], p.kappa, spread, table)
				p.all[i] += p.each[n][i]
			}
		}
	}
	p.grid(-muReach, muReach)
	p.refine(t.toSetup*fade.mean, fade.across)
	return p
}

// refine lays the grid anew until it covers the posterior, 5 standard deviations to
// both sides, with steps no longer than one: sums over a bell so sampled are
// good to a thousandth of its width.
func (p *posterior) refine(mean, across float64) {
	for range 5 {
		m, sd := p.moments(p.all, mean, across)
		step := p.mu[1] - p.mu[0]
		fits := m-4*sd > p.mu[0] && m+4*sd < p.mu[muSteps-1] || step > 3 // the widest grid
		if sd > step && fits {
			return
		}
		width := max(5*sd, 2*step)
		p.grid(m-width, m+width)
	}
}

// without gives the ln likelihood of the rounds outside a block.
func (p *posterior) without(obs []observation, blockOf []int, block int) []float64 {
	rest := make([]float64, muSteps)
	for n, each := range p.each {
		if blockOf[obs[n].round] == block {
			floats.Add(rest, each)
		}
	}
	return floats.SubTo(rest, p.all, rest)
}

// moments gives mean and standard deviation of δ for a ln likelihood over the
// grid, when the carriers are normal around the given mean.
func (p *posterior) moments(logLikelihood []float64, mean, across float64) (m, sd float64) {
	var sum [muSteps]float64
	top := math.Inf(-1)
	for i, mu := range p.mu {
		z := (mu - mean) / across
		sum[i] = logLikelihood[i] - z*z/2
		top = max(top, sum[i])
	}
	var norm, first, second float64
	for i, mu := range p.mu {
		w := math.Exp(sum[i] - top)
		norm, first, second = norm+w, first+w*mu, second+w*mu*mu
	}
	m = first / norm
	return m, math.Sqrt(max(0, second/norm-m*m))
}
