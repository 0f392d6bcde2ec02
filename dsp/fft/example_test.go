package fft_test

import (
	"fmt"
	"math"
	"math/cmplx"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/fft"
)

// A tone that turns three times in eight samples stands in bin 3 alone. The transform
// is unnormalised: an amplitude of 1 gives 8, the number of points.
func ExampleFFT_Transform() {
	re, im := make([]float32, 8), make([]float32, 8)
	for i := range re {
		sin, cos := math.Sincos(2 * math.Pi * 3 * float64(i) / 8)
		re[i], im[i] = float32(cos), float32(sin)
	}
	f := fft.New(8)
	f.Transform(re, im)
	for k := range f.Len() {
		fmt.Printf("bin %d: %.0f\n", k, math.Hypot(float64(re[k]), float64(im[k])))
	}
	// Output:
	// bin 0: 0
	// bin 1: 0
	// bin 2: 0
	// bin 3: 8
	// bin 4: 0
	// bin 5: 0
	// bin 6: 0
	// bin 7: 0
}

// A Framer cuts a stream into frames that overlap by half. The blocks in which the stream
// arrives do not matter. A tone of amplitude 0.5 stands at 0.5 in the middle of its bin,
// and at half of that in the bins beside it: a Hann window spreads it so.
func ExampleFramer() {
	framer := fft.NewFramer(fft.Hann(64), 32)
	tone := make([]complex64, 160)
	for i := range tone {
		tone[i] = complex64(cmplx.Rect(0.5, 2*math.Pi*5*float64(i)/64))
	}
	frames := 0
	show := func(re, im []float32) {
		frames++
		fmt.Printf("frame %d:", frames)
		for k := 3; k <= 7; k++ {
			fmt.Printf(" %.2f", math.Hypot(float64(re[k]), float64(im[k])))
		}
		fmt.Println()
	}
	framer.Write(tone[:100], show)
	framer.Write(tone[100:], show)
	// Output:
	// frame 1: 0.00 0.25 0.50 0.25 0.00
	// frame 2: 0.00 0.25 0.50 0.25 0.00
	// frame 3: 0.00 0.25 0.50 0.25 0.00
	// frame 4: 0.00 0.25 0.50 0.25 0.00
}

// The powers of many frames, averaged, give the density of noise: of simulated white noise of 1e-9
// per hertz, −90 dBFS/Hz, in every part of the spectrum. Bins from the middle on are negative
// frequencies.
func ExampleAddPowers() {
	const rate, n = 100e3, 1024
	sum, frames := make([]float32, n), 0
	framer := fft.NewFramer(fft.Hann(n), n/2)
	framer.Write(dsptest.New(1, rate, 0).Noise(1e-9).Samples(1<<17), func(re, im []float32) {
		fft.AddPowers(sum, re, im)
		frames++
	})
	for quarter := range 4 {
		power := 0.0
		for _, p := range sum[n/4*quarter : n/4*(quarter+1)] {
			power += float64(p) / float64(frames) / (n / 4)
		}
		density := power / (fft.HannENBW * rate / n)
		fmt.Printf("bins from %d: %.0f dBFS/Hz\n", n/4*quarter, 10*math.Log10(density))
	}
	// Output:
	// bins from 0: -90 dBFS/Hz
	// bins from 256: -90 dBFS/Hz
	// bins from 512: -90 dBFS/Hz
	// bins from 768: -90 dBFS/Hz
}
