package spectrum_test

import (
	"fmt"
	"math"

	"nightfloor/dsp/spectrum"
)

// A line is measured at its frequency whether it can be seen or not. Of a flat spectrum of
// 1e-10 per hertz in bins of 50 Hz, with nothing in it, nothing is left; of a line of 1e-6
// that a Hann window spreads over three bins, its power. Both are printed in units of 1e-9.
func ExamplePowerSpectrum_Line() {
	s := spectrum.PowerSpectrum{First: 6e6, Step: 50, ENBW: 1.5, Looks: 100, Density: make([]float32, 100)}
	for i := range s.Density {
		s.Density[i] = 1e-10
	}
	for i, share := range []float32{1. / 6, 4. / 6, 1. / 6} {
		s.Density[49+i] += share * 1e-6 / 50
	}
	for _, f := range []float64{6.0025e6, 6.0040e6} {
		power, sigma, _ := s.Line(f, 1e-10)
		fmt.Printf("at %.4f MHz %4.0f ± %2.0f\n", f/1e6, math.Abs(power)/1e-9, sigma/1e-9)
	}
	// Output:
	// at 6.0025 MHz 1000 ± 16
	// at 6.0040 MHz    0 ±  1
}
