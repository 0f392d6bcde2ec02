package codes_test

import (
	"fmt"
	"math"

	"nightfloor/dsp/codes"
	"nightfloor/dsp/dsptest"
)

// A Counter looks at the converter's codes. Simulated noise that moves it by a fifth of
// a code is lost in its steps; noise of a quarter of full scale is not. A signal stronger
// than full scale is cut off, and what clipping throws about drowns a floor of −100 dBFS/Hz.
func ExampleCounter() {
	const rate = 1e6
	for _, rms := range []float64{0.2 / 128, 0.25, 1} { // of I, and of Q
		density := 2 * rms * rms / rate
		codes := codes.NewCounter(8)
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
