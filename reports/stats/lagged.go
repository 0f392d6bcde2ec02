package stats

import (
	"math"
	"slices"
)

// Lagged gathers products of neighbours over several series of mean zero.
type Lagged struct {
	product, pairs [lags + 1]float64 // by lag, from 1
	square, length float64
	series         float64
}

// lags is up to how many rounds apart two visits are compared: a setup that has its turn in
// every third or fourth round has no neighbours (STATISTICS.md 4.10). TestCorrelationOfRareTurns
// fails when it moves.
const lags = 4

// Add takes one series; NaN marks what is missing.
func (l *Lagged) Add(x []float64) {
	n := 0.0
	for i, v := range x {
		if math.IsNaN(v) {
			continue
		}
		n++
		l.square += v * v
		for lag := 1; lag <= min(lags, i); lag++ {
			if before := x[i-lag]; !math.IsNaN(before) {
				l.product[lag] += v * before
				l.pairs[lag]++
			}
		}
	}
	if n > 0 {
		l.length += n
		l.series++
	}
}

// Correlation gives the lag-1 correlation and its standard error, taken from the
// shortest lag with at least half as many pairs as any, as r^lag; freed from the
// bias of short series about their own mean, −(1 + 3r)/n (Kendall, Biometrika 41
// (1954)). Series under 6 rounds say nothing.
func (l *Lagged) Correlation() (r, sigma float64) {
	most := slices.Max(l.pairs[:])
	if l.series == 0 || l.length/l.series < MinRounds || most == 0 || l.square == 0 {
		return 0, 0
	}
	lag := 1
	for l.pairs[lag] < most/2 {
		lag++
	}
	n := l.length / l.series
	seen := (l.product[lag] / l.pairs[lag]) / (l.square / l.length)
	r = (seen + 1/n) / (1 - 3/n)
	if lag > 1 {
		r = math.Pow(max(0, r), 1/float64(lag))
	}
	return r, 1 / math.Sqrt(l.pairs[lag])
}
