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

// The wider a window's response, the more noise falls into a bin: a density is a bin's
// power over the noise bandwidth, which is given in bins [Harris:1978].
func ExampleENBW() {
	for _, w := range []struct {
		name string
		kind fft.WindowKind
	}{{"rectangle", fft.Rectangle}, {"Hann", fft.Hann}, {"Blackman-Harris", fft.BlackmanHarris}, {"flat top", fft.FlatTop}} {
		fmt.Printf("%-15s %.2f bins\n", w.name, fft.ENBW(fft.Window(w.kind, 1024)))
	}
	// Output:
	// rectangle       1.00 bins
	// Hann            1.50 bins
	// Blackman-Harris 2.00 bins
	// flat top        3.77 bins
}

// A Framer cuts a stream into frames that overlap by half. The blocks in which the stream
// arrives do not matter. A tone of amplitude 0.5 stands at 0.5 in the middle of its bin,
// and at half of that in the bins beside it: a Hann window spreads it so.
func ExampleFramer() {
	framer := fft.NewFramer(fft.FramerOptions{N: 64, Hop: 32, Window: fft.Window(fft.Hann, 64)})
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

// Averaged periodograms give the density of noise: of simulated white noise of 1e-9 per
// hertz, −90 dBFS/Hz, in every part of the spectrum.
func ExampleWelch() {
	const rate = 100e3
	noise := dsptest.New(1, rate, 0).Noise(1e-9).Samples(1 << 17)
	w := fft.NewWelch(fft.WelchOptions{N: 1024, Hop: 512, Window: fft.Hann})
	w.Add(noise)
	density := w.Density(rate)
	for quarter := range 4 {
		sum := 0.0
		for _, d := range density[256*quarter : 256*(quarter+1)] {
			sum += d
		}
		fmt.Printf("%3.0f kHz and on: %.0f dBFS/Hz\n", -50+25*float64(quarter), 10*math.Log10(sum/256))
	}
	// Output:
	// -50 kHz and on: -90 dBFS/Hz
	// -25 kHz and on: -90 dBFS/Hz
	//   0 kHz and on: -90 dBFS/Hz
	//  25 kHz and on: -90 dBFS/Hz
}
