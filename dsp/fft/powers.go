package fft

// AddPowers adds the power re² + im² of each point to sum, in single precision.
func AddPowers(sum, re, im []float32) {
	sum, im = sum[:len(re)], im[:len(re)]
	for i := addPowersVector(sum, re, im); i < len(re); i++ {
		sum[i] += re[i]*re[i] + im[i]*im[i]
	}
}
