package spectrum_test

import (
	"fmt"
	"math"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/spectrum"
)

// A CodeCounter looks at the converter's codes. Simulated noise that moves it by a fifth of
// a code is lost in its steps; noise of a quarter of full scale is not. A signal stronger
// than full scale is cut off, and what clipping throws about drowns a floor of −100 dBFS/Hz.
func ExampleCodeCounter() {
	const rate = 1e6
	for _, rms := range []float64{0.2 / 128, 0.25, 1} { // of I, and of Q
		density := 2 * rms * rms / rate
		codes := spectrum.NewCodeCounter(8)
		codes.AddU8(dsptest.U8(nil, dsptest.New(1, rate, 0).Noise(density).Samples(100_000)))
		c := codes.Clipping()
		fmt.Printf("rms %.3f: clipped %.0f %%, low drive %v, overload %v\n",
			rms, math.Round(100*c.Share), codes.LowDrive(), c.Overload(1e-10, rate))
	}
	// Output:
	// rms 0.002: clipped 0 %, low drive true, overload false
	// rms 0.250: clipped 0 %, low drive false, overload false
	// rms 1.000: clipped 32 %, low drive false, overload true
}

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
		power, sigma := s.Line(f, 1e-10)
		fmt.Printf("at %.4f MHz %4.0f ± %2.0f\n", f/1e6, math.Abs(power)/1e-9, sigma/1e-9)
	}
	// Output:
	// at 6.0025 MHz 1000 ± 15
	// at 6.0040 MHz    0 ±  1
}
