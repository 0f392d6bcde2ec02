package series

import (
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"nightfloor/reports/stats"
)

const (
	// driftShare is over what share of the variance of advantages that of the floors' differences
	// must be for their drift to be what the interval hangs on; driftRounds is under how many rounds
	// in effect, n(1 − ρ)/(1 + ρ), nothing is told of it. Chosen by simulation: of nights that drift
	// by 2 dB with a correlation of 0.85 77 to 84 % are told, of others of 24 rounds 0 to 1 %
	// (STATISTICS.md 4.6). TestBoundsOfSlowDrift, TestDriftTooSlow.
	driftShare, driftRounds = 0.5, 4.0
	// shortRounds: of a short survey so many rounds must count for one in effect, since eight or twelve say
	// little of how long drift lasts: ρ over 0.67. Chosen by simulation. TestDriftTooSlow.
	shortRounds = 5.0
	// fewestNights is from how many nights on they are the unit: of two the t distribution gives
	// 12.7 standard errors, which says nothing. TestNights.
	fewestNights = 3
)

// DriftTooSlow tells whether floors drift against each other so slowly that the rounds cannot show
// by how much: intervals would be too narrow. It takes fits of the advantages and of the
// differences of floors by pair, nil where the latter are not known, in the same strata.
func DriftTooSlow(advantages, floors []*Fit, setups int) bool {
	w := pool(floors, setups, func(m memory) bool { return m.white == 0 })
	if w == nil {
		return false
	}
	rho, share, rounds, pairs := 0.0, 0.0, 0.0, 0.0
	for i := range w {
		rho += w[i] * grid[i].rho
	}
	for k, f := range floors {
		if a := advantages[k]; a.Tells() && f.Tells() {
			share += f.points[0].variance / a.points[0].variance // without correlation: that within strata
			rounds += float64(len(f.rounds))
			pairs++
		}
	}
	return share > driftShare*pairs && rounds*(1-rho)/(1+rho) < min(driftRounds*pairs, rounds/shortRounds)
}

// Nights gives the 95 % interval of the mean over nights like these: t of the nights' means, each
// night one. Night numbers the night of each round. ok is false under three nights.
func (s Series) Nights(night []int) (count int, low, high float64, ok bool) {
	sum, rounds := map[int]float64{}, map[int]float64{}
	for i, y := range s.Values {
		if s.Counts(i) {
			sum[night[i]] += y
			rounds[night[i]]++
		}
	}
	var means []float64
	for _, n := range slices.Sorted(maps.Keys(sum)) {
		means = append(means, sum[n]/rounds[n])
	}
	count = len(means)
	if count < fewestNights {
		return count, 0, 0, false
	}
	mean, variance := stats.MeanVariance(means)
	half := math.Sqrt(variance/float64(count)) * distuv.StudentsT{Sigma: 1, Nu: float64(count - 1)}.Quantile(0.975)
	return count, mean - half, mean + half, true
}
