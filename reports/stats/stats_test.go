package stats_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/reports/reporttest"
	"nightfloor/reports/stats"
)

func TestWideningAgainstSimulation(t *testing.T) {
	// 24 rounds, r = 0.5, 6 blocks: the true variance of the mean over what the
	// scatter of block means expects. 4,000 series: 3 % at three sigma.
	const n, blocks, r, trials = 24, 6, 0.5, 4000
	random := rand.New(rand.NewPCG(1, 2))
	var trueVar, seen float64
	for range trials {
		x := reporttest.Wander(random, n, 1, r)
		mean, _ := stats.MeanVariance(x)
		trueVar += mean * mean / trials
		var parts []float64
		for b := range blocks {
			part, _ := stats.MeanVariance(x[b*n/blocks : (b+1)*n/blocks])
			parts = append(parts, part)
		}
		_, v := stats.MeanVariance(parts)
		seen += v / blocks / trials
	}
	if got, want := stats.Widening(n, blocks, r), math.Sqrt(trueVar/seen); math.Abs(got/want-1) > 0.04 {
		t.Errorf("widening %.3f, simulated %.3f", got, want)
	}
}

func TestQuantile(t *testing.T) {
	// Type 7: the median of 1, 2, 3, 4 is 2.5, a tenth of the way from first to last
	// of 11 values is the second.
	for _, test := range []struct {
		x       []float64
		q, want float64
	}{
		{[]float64{1, 2, 3, 4}, 0.5, 2.5}, {[]float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, 0.1, 1},
		{[]float64{7}, 0.9, 7}, {[]float64{1, 2}, 1, 2}, {[]float64{1, 2}, 0, 1}, {[]float64{1, 3}, 0.25, 1.5},
	} {
		if got := stats.Quantile(test.x, test.q); math.Abs(got-test.want) > 1e-12 {
			t.Errorf("quantile %.2f of %v: %v, want %v", test.q, test.x, got, test.want)
		}
	}
}

// Worked by hand for 24 rounds in 6 blocks; without correlation nothing is understated.
func TestWidening(t *testing.T) {
	for _, test := range []struct{ r, want float64 }{{0.5, 1.22}, {0, 1}} {
		if got := stats.Widening(24, 6, test.r); math.Abs(got-test.want) > 0.005 {
			t.Errorf("correlation %.1f: %.3f, want %.2f", test.r, got, test.want)
		}
	}
}
