package stats

import (
	"math"
	"slices"
)

// Quantile gives the quantile q of values in rising order, between two of them by a
// straight line: type 7 of [Hyndman:1996] (STATISTICS.md 5.5). NaN of none.
func Quantile(sorted []float64, q float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	at := q * float64(len(sorted)-1)
	i := min(int(at), len(sorted)-1)
	if i == len(sorted)-1 {
		return sorted[i]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}

// Median gives the middle of values in any order, NaN of none.
func Median(x []float64) float64 {
	s := slices.Clone(x)
	slices.Sort(s)
	return Quantile(s, 0.5)
}

// Spread gives the standard deviation of Gaussian values about 0 by the median of their sizes,
// which is 0.6745 of it and hardly moved by a few that stray; NaN of none.
func Spread(x []float64) float64 {
	sizes := make([]float64, len(x))
	for i := range x {
		sizes[i] = math.Abs(x[i])
	}
	return Median(sizes) / 0.6745
}
