package stats_test

import (
	"fmt"
	"math"
	"math/rand/v2"

	"nightfloor/reports/reporttest"
	"nightfloor/reports/stats"
)

// A quantile between two values lies on the straight line between them.
func ExampleQuantile() {
	floors := []float64{-104, -103, -101, -100, -90} // dBFS/Hz, in rising order
	for _, q := range []float64{0.1, 0.5, 0.9} {
		fmt.Printf("%.0f %%: %.1f\n", 100*q, stats.Quantile(floors, q))
	}
	// Output:
	// 10 %: -103.6
	// 50 %: -101.0
	// 90 %: -94.0
}

// Differences of two antennas in twelve rounds, 3 dB on the mean. Rounds next to each other are
// alike, so they are put into blocks; what the mean does when a block is left out tells how well
// it is known.
func ExampleJackknife() {
	rounds := []float64{2.0, 2.4, 3.9, 4.1, 2.6, 2.2, 3.1, 3.7, 3.4, 2.8, 2.5, 3.3}
	mean, _ := stats.MeanVariance(rounds)
	blockOf, blocks := stats.Blocks(len(rounds), 0)
	j := stats.Jackknife{Full: mean, Widen: 1}
	for b := range blocks {
		var others []float64
		for i, x := range rounds {
			if blockOf[i] != b {
				others = append(others, x)
			}
		}
		without, _ := stats.MeanVariance(others)
		n, m := float64(len(rounds)), float64(len(rounds)-len(others))
		j.Change = append(j.Change, mean-without)
		j.Weight = append(j.Weight, n/m-1)
	}
	low, high, ok := j.Interval()
	fmt.Printf("%d blocks: %.2f dB, 95 %% interval %.1f to %.1f dB, %v\n", blocks, j.Full, low, high, ok)
	// Output:
	// 6 blocks: 3.00 dB, 95 % interval 2.3 to 3.7 dB, true
}

// Fading that lasts from one round to the next makes neighbouring rounds alike. Simulated series
// of 20 carriers over 100 rounds show by how much: the correlation that was put in comes out.
func ExampleLagged() {
	random := rand.New(rand.NewPCG(1, 1))
	for _, put := range []float64{0, 0.5, 0.8} {
		var l stats.Lagged
		for range 20 {
			l.Add(reporttest.Wander(random, 100, 3, put))
		}
		r, _ := l.Correlation()
		fmt.Printf("%.1f put in, %.1f found\n", put, math.Abs(r))
	}
	// Output:
	// 0.0 put in, 0.0 found
	// 0.5 put in, 0.5 found
	// 0.8 put in, 0.8 found
}
