package stat

import "gonum.org/v1/gonum/mathext"

// PoissonRate gives the 95 % interval of the rate of events that come at random, n of which came in so much time:
// exact, from the chi-squared distribution [Garwood:1936]. It holds the rate at least that often.
func PoissonRate(n int, time float64) (low, high float64) {
	if n > 0 {
		low = mathext.GammaIncRegInv(float64(n), 0.025) / time
	}
	return low, mathext.GammaIncRegInv(float64(n)+1, 0.975) / time
}
