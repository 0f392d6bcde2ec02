package stat_test

import (
	"fmt"

	"nightfloor/dsp/stat"
)

// The middle of values is found without sorting them.
func ExampleSelect() {
	powers := []float64{3, 1, 900, 2, 4} // one of them a carrier's
	fmt.Println("median", stat.Select(powers, len(powers)/2))
	// Output:
	// median 3
}

// Powers of noise scatter by a known law, so that it can be told how far noise alone will
// reach: the mean of 100 independent powers exceeds 1.25 of the true mean once in 100 times.
func ExampleGammaQuantile() {
	for _, looks := range []float64{1, 10, 100} {
		x := stat.GammaQuantile(looks, 0.99)
		fmt.Printf("mean of %3.0f: under %.2f, %.1f dB, in 99 of 100\n", looks, x/looks, stat.DB(x/looks))
	}
	// Output:
	// mean of   1: under 4.61, 6.6 dB, in 99 of 100
	// mean of  10: under 1.88, 2.7 dB, in 99 of 100
	// mean of 100: under 1.25, 1.0 dB, in 99 of 100
}
