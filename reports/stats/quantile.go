package stats

import (
	"math"
	"slices"
)

// Quantile gives the quantile q of values in rising order, between two of them by a
// straight line: type 7 of Hyndman and Fan, "Sample quantiles in statistical
// packages", The American Statistician 50 (1996). NaN of none.
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
