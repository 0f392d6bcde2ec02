package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Blocks are n^(1/3) rounds long, or twice the time in which the correlation decays to 1/e, at
// most √n, and at least five [STATISTICS.md 4.10].
func TestBlocks(t *testing.T) {
	for _, c := range []struct {
		n     int
		r     float64
		count int
	}{
		{24, 0, 8},      // ∛24 = 2.9: 3 rounds a block
		{24, 0.8, 6},    // −2/ln 0.8 = 9, but √24 = 4.9
		{12, 0.8, 6},    // √12 = 3.5, but five blocks leave 2
		{1000, 0.9, 52}, // −2/ln 0.9 = 19
		{6, 0.8, 6},
	} {
		blockOf, count := Blocks(c.n, c.r)
		if count != c.count || len(blockOf) != c.n || blockOf[0] != 0 || blockOf[c.n-1] != count-1 {
			t.Errorf("%d rounds, r %.1f: %d blocks %v, want %d", c.n, c.r, count, blockOf, c.count)
		}
	}
}

// Of a setup with its turn in each fourth round the correlation of neighbours is told from
// rounds four apart; of 2,000 of them r⁴ = 0.41 is known to ± 0.022, r to ± 0.011.
func TestCorrelationOfRareTurns(t *testing.T) {
	const r = 0.8
	random := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, 8000)
	level := 0.0
	for i := range x {
		level = r*level + math.Sqrt(1-r*r)*random.NormFloat64()
		x[i] = level
		if i%4 != 0 {
			x[i] = math.NaN()
		}
	}
	var l Lagged
	l.Add(x)
	if got, sigma := l.Correlation(); math.Abs(got-r) > 0.04 || math.Abs(sigma-0.0224) > 0.001 {
		t.Errorf("%.3f ± %.4f, want %.1f ± 0.0224", got, sigma, r)
	}
	// Of turns eight rounds apart r⁸ = 0.17 is left, which tells nothing of neighbours.
	for i := range x {
		if i%8 != 0 {
			x[i] = math.NaN()
		}
	}
	var rare Lagged
	rare.Add(x)
	if got, sigma := rare.Correlation(); got != 0 || sigma != 0 {
		t.Errorf("turns eight rounds apart: %.3f ± %.4f, want nothing", got, sigma)
	}
}

// A block's pseudo-values give the variance of a mean: of 6 single rounds that of the textbook,
// Σ(x − x̄)²/(n(n − 1)).
func TestJackknifeOfAMean(t *testing.T) {
	x := []float64{1, 2, 4, 4, 7, 9}
	mean, variance := MeanVariance(x)
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	j := NewJackknife(mean, []int{1, 1, 1, 1, 1, 1}, len(x), 0, func(b int) (float64, bool) { return (sum - x[b]) / 5, true })
	if want := math.Sqrt(variance / 6); math.Abs(j.Sigma()-want) > 1e-12 {
		t.Errorf("%.4f, want %.4f", j.Sigma(), want)
	}
	// Student's t of 5 degrees of freedom reaches 2.571 standard errors.
	if low, high, ok := j.Interval(); !ok || math.Abs((high-low)/2/j.Sigma()-2.571) > 0.001 || math.Abs((low+high)/2-mean) > 1e-12 {
		t.Errorf("%.3f to %.3f, %v", low, high, ok)
	}
}

// Medians of 51 Gaussian values scatter MedianError times as widely as their means, 1/√51.
func TestErrorOfAMedian(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	medians, values := make([]float64, 4000), make([]float64, 51)
	for i := range medians {
		for k := range values {
			values[k] = random.NormFloat64()
		}
		medians[i] = Median(values)
	}
	if _, variance := MeanVariance(medians); math.Abs(math.Sqrt(51*variance)/MedianError-1) > 0.05 {
		t.Errorf("medians scatter by %.3f standard errors of the mean", math.Sqrt(51*variance))
	}
}
