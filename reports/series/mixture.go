package series

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"nightfloor/reports/stats"
)

// shortMemory is the exponent of 1 − ρ that a point of the grid is weighed with beside its
// likelihood. Chosen by simulation: with ½ eight rounds give intervals of 1.29 times the need,
// with 1 plain nights hold the truth in 93 % (STATISTICS.md 4.3). TestWeights.
const shortMemory = 0.75

// Weights are those of the points of the grid; they add up to 1. nil: nothing tells.
type Weights []float64

// Pool weighs the points of the grid by all pairs of so many setups together: of their fits the
// logarithms of the likelihood, each less its greatest, on the mean, times one less than there are setups.
// All pairs share drift and fading, and hold so many series that are independent of each other. Setups
// that no fit tells of do not count.
func Pool(fits []*Fit, setups int) Weights {
	return pool(fits, setups, func(memory) bool { return true })
}

// pool is Pool over some points of the grid; the others have weight 0.
func pool(fits []*Fit, setups int, some func(memory) bool) Weights {
	sum, pairs := make([]float64, len(grid)), 0
	for _, f := range fits {
		if !f.Tells() {
			continue
		}
		pairs++
		most := math.Inf(-1)
		for i, p := range f.points {
			if some(grid[i]) {
				most = max(most, p.logL)
			}
		}
		for i, p := range f.points {
			sum[i] += p.logL - most
		}
	}
	if pairs == 0 {
		return nil
	}
	for i, m := range grid {
		sum[i] = sum[i]*float64(setups-1)/float64(pairs) + shortMemory*math.Log(1-m.rho)
		if !some(m) {
			sum[i] = math.Inf(-1)
		}
	}
	w, most := make(Weights, len(grid)), floats.Max(sum)
	for i := range w {
		w[i] = math.Exp(sum[i] - most)
	}
	floats.Scale(1/floats.Sum(w), w)
	return w
}

// A Mixture is the distribution of a mean: t distributions of as many degrees of freedom, one for
// each point of the grid.
type Mixture struct {
	Mean   float64 // dB
	Rounds int     // that it rests on

	weights       Weights // nil: nothing is known but the mean
	means, sigmas []float64
	freedom       float64
	parts         []float64 // by round of the series: what it does to the mean by chance, one standard deviation
}

// By gives the distribution of the strata's means weighted as told, by stratum; nil: by their rounds. A
// stratum in which none of the rounds is that count has no mean, and counts for nothing.
func (f *Fit) By(w Weights, weights []float64) *Mixture {
	share := f.share
	if weights != nil {
		share = make([]float64, len(f.strata))
		for c, stratum := range f.strata {
			share[c] = weights[stratum]
		}
		if sum := floats.Sum(share); sum > 0 {
			floats.Scale(1/sum, share)
		}
	}
	m := f.mixture(w, share, (*point).plainMeans)
	m.Rounds = len(f.rounds)
	return m
}

// Only gives the distribution of the mean of some strata, weighted by their rounds, by the same fit;
// nil where no round is in them.
func (f *Fit) Only(w Weights, strata ...int) *Mixture {
	own := 0.0
	for _, stratum := range strata {
		own += f.shareOf(stratum)
	}
	if own == 0 {
		return nil
	}
	share := make([]float64, len(f.strata))
	for c, stratum := range f.strata {
		if slices.Contains(strata, stratum) {
			share[c] = f.share[c] / own
		}
	}
	m := f.mixture(w, share, (*point).plainMeans)
	m.Rounds = int(math.Round(own * float64(len(f.rounds))))
	return m
}

// Sum gives the distribution of the sum of the strata's means, each times a weight, for what lies
// between strata: rounds are weighed by their correlation, so that neighbours are compared and what drifts cancels.
func (f *Fit) Sum(w Weights, weight func(stratum int) float64) *Mixture {
	share := make([]float64, len(f.strata))
	for c, stratum := range f.strata {
		share[c] = weight(stratum)
	}
	m := f.mixture(w, share, (*point).weighedMeans)
	m.Rounds = len(f.rounds)
	return m
}

// shareOf gives the share of a stratum's rounds in all.
func (f *Fit) shareOf(stratum int) float64 {
	if c := f.column(stratum); c >= 0 {
		return f.share[c]
	}
	return 0
}

// mixture gives the distribution of a sum of means, which are taken as the method gives them, with their
// covariance for errors of variance 1.
func (f *Fit) mixture(w Weights, share []float64, means func(*point) ([]float64, *mat.SymDense)) *Mixture {
	m := &Mixture{Mean: floats.Dot(share, f.plain), freedom: f.freedom}
	if f.points == nil || w == nil {
		return m
	}
	m.weights, m.Mean = w, 0
	square, heaviest := 0.0, floats.MaxIdx(w)
	hidden := f.hidden * floats.Sum(share) * floats.Sum(share) // all rounds have it in common: it is in no difference
	for i := range f.points {
		p := &f.points[i]
		own, covariance := means(p)
		mean, variance := floats.Dot(share, own), hidden
		for a, x := range share {
			for b, y := range share {
				variance += p.variance * x * y * covariance.At(a, b)
			}
		}
		m.means, m.sigmas = append(m.means, mean), append(m.sigmas, math.Sqrt(variance))
		m.Mean += w[i] * mean
		square += w[i] * variance
	}
	m.parts = make([]float64, f.length)
	own := f.points[heaviest].residuals
	if norm := floats.Norm(own, 2); norm > 0 {
		for row, i := range f.rounds {
			m.parts[i] = own[row] / norm * math.Sqrt(square)
		}
	}
	return m
}

// Negated gives the distribution of the mean of the second setup over the first.
func (m *Mixture) Negated() *Mixture {
	n := *m
	n.Mean = -m.Mean
	n.means, n.parts = negated(m.means), negated(m.parts)
	return &n
}

func negated(x []float64) []float64 {
	y := make([]float64, len(x))
	floats.SubTo(y, y, x)
	return y
}

// Told tells whether there is an interval: from six rounds on, more than there are strata.
func (m *Mixture) Told() bool { return m.weights != nil && m.Rounds >= stats.MinRounds }

// CDF gives the probability that the mean is under x.
func (m *Mixture) CDF(x float64) (p float64) {
	t := distuv.StudentsT{Sigma: 1, Nu: m.freedom}
	for i, w := range m.weights {
		if w > 0 {
			p += w * t.CDF((x-m.means[i])/m.sigmas[i])
		}
	}
	return p
}

// Quantile gives where the CDF is p. It lies among the quantiles of the single distributions.
func (m *Mixture) Quantile(p float64) float64 {
	const near = 1e-6 // dB
	reach := distuv.StudentsT{Sigma: 1, Nu: m.freedom}.Quantile(p)
	low, high := math.Inf(1), math.Inf(-1)
	for i := range m.means {
		q := m.means[i] + reach*m.sigmas[i]
		low, high = min(low, q), max(high, q)
	}
	for range 60 {
		if high-low < near {
			break
		}
		middle := (low + high) / 2
		if m.CDF(middle) < p {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}

// Interval gives the 95 % interval; ok is false where there is none.
func (m *Mixture) Interval() (low, high float64, ok bool) {
	if !m.Told() {
		return 0, 0, false
	}
	return m.Quantile(0.025), m.Quantile(0.975), true
}
