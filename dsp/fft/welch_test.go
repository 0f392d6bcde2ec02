package fft

import (
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"github.com/mjibson/go-dsp/spectral"
	"github.com/mjibson/go-dsp/window"
)

func welchOf(o WelchOptions, x []complex64) *Welch {
	w := NewWelch(o)
	w.Add(x)
	return w
}

func mean(x []float64) float64 {
	var sum float64
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

func TestDensityOfWhiteNoise(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		// White noise of variance 1e-6 sampled at 100 kHz spreads −60 dBFS over
		// 50 dBHz: −110 dBFS/Hz, whatever the FFT length and window.
		const want, tol = -110, 0.1 // of 2^18 samples: one sigma is 0.01 dB
		iq := noise(9, 1<<18, 0.5e-6)
		for _, test := range []struct {
			n    int
			kind WindowKind
		}{{256, Hann}, {16384, Hann}, {4096, Rectangle}, {2048, BlackmanHarris}, {8192, FlatTop}} {
			w := welchOf(WelchOptions{N: test.n, Hop: test.n / 2, Window: test.kind}, iq)
			got := 10 * math.Log10(mean(w.Density(100e3)))
			if math.Abs(got-want) > tol {
				t.Errorf("FFT of %d, window %d: %.2f dBFS/Hz, want %d ± %.1f", test.n, test.kind, got, want, tol)
			}
		}
	})
}

// TestDensityAgreesWithAnotherLibrary: for real signals a one-sided density is
// twice the two-sided at frequencies between 0 and half the rate.
func TestDensityAgreesWithAnotherLibrary(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		const n, rate, samples = 512, 1000.0, 6000
		x, signal := make([]float64, samples), noise(10, samples, 1)
		for i := range signal {
			signal[i] = complex(real(signal[i])+float32(math.Sin(0.3*float64(i))), 0)
			x[i] = float64(real(signal[i]))
		}
		want, _ := spectral.Pwelch(x, rate, &spectral.PwelchOptions{
			NFFT: n, Noverlap: n / 2, Window: func(n int) []float64 { return window.Hann(n + 1)[:n] },
		})
		got := welchOf(WelchOptions{N: n, Hop: n / 2, Window: Hann}, signal).Density(rate)
		strongest := slices.Max(want)
		for i := 1; i < n/2; i++ {
			for _, side := range []int{n/2 + i, n/2 - i} {
				// Single precision errs by 1e-6 of the strongest line's amplitude in
				// any bin, and by 1e-6 of the bin's own.
				tol := 4e-6*want[i] + 4e-6*math.Sqrt(want[i]*strongest)
				if math.Abs(2*got[side]-want[i]) > tol {
					t.Errorf("bin %d: twice %.6g, want %.6g", side-n/2, got[side], want[i])
				}
			}
		}
	})
}

// TestDensityAscends: −rate/2 comes first, and a tone below the centre stands
// in the lower half. Its power is its density over ENBW bins.
func TestDensityAscends(t *testing.T) {
	const n, rate, bin, amplitude = 64, 6400.0, -10, 0.5
	x := make([]complex64, 4*n)
	for i := range x {
		x[i] = complex64(cmplx.Rect(amplitude, 2*math.Pi*bin*float64(i)/n))
	}
	density := welchOf(WelchOptions{N: n, Hop: n / 2, Window: Hann}, x).Density(rate)
	at := n/2 + bin
	if strongest := slices.Index(density, slices.Max(density)); strongest != at {
		t.Fatalf("tone at index %d, want %d", strongest, at)
	}
	got := density[at] * 1.5 * rate / n
	if math.Abs(got-amplitude*amplitude) > 1e-6 { // single precision
		t.Errorf("power %v, want 0.25", got)
	}
}

// TestLongSumsStayExact: an hour at 2.4 MS/s in frames of 16384 at half overlap
// is 1.05 million frames; the mean of that many equal ones is the one. A sum in
// single precision would stop growing long before.
func TestLongSumsStayExact(t *testing.T) {
	const n = 8
	count := 1_050_000
	if testing.Short() {
		count = 100_000 // a sum in single precision would be 1e-4 off by then
	}
	block := slices.Repeat(noise(11, n, 0.1), 1000)
	w := NewWelch(WelchOptions{N: n, Hop: n, Window: Rectangle})
	w.Add(block[:n])
	once := w.Density(1)
	for w.Frames() < count {
		w.Add(block)
	}
	for i, got := range w.Density(1) {
		if math.Abs(got/once[i]-1) > 1e-6 {
			t.Errorf("bin %d: mean of %d equal frames is %v of one", i, w.Frames(), got/once[i])
		}
	}
}

func TestCodesAndNumbersGiveOneSpectrum(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		iq := randomCodes(12, 10_000)
		o := WelchOptions{N: 1024, Hop: 300, Window: BlackmanHarris, RemoveMean: true}
		codes := NewWelch(o)
		codes.AddU8(iq)
		numbers := welchOf(o, decode(iq))
		if codes.Frames() != numbers.Frames() || !slices.Equal(codes.Density(1), numbers.Density(1)) ||
			!slices.Equal(codes.Kurtosis(), numbers.Kurtosis()) {
			t.Error("spectra of codes and of the numbers they stand for differ")
		}
	})
}

func TestKurtosisOfNoise(t *testing.T) {
	// Over M independent frames the estimator has mean 1 and variance 4/M
	// [Nita:2010]; the mean over bins of white noise has sigma 2/√(M·bins), wider
	// by up to √1.94 with Hann, whose neighbours correlate, and by up to 1.4 with
	// three quarters of overlap (1.93 frames count as one).
	for _, test := range []struct {
		name      string
		hop       int
		frames    int
		kind      WindowKind
		tolerance float64
	}{
		{"no overlap", 4096, 200, Rectangle, 4 * 0.0022}, // 2/√(200·4096) = 0.0022
		{"half overlap", 2048, 200, Hann, 4 * 0.0032},    // · 1.39 · 1.03
		// Were frames taken for independent here, the mean would read 0.98.
		{"three quarters overlap", 1024, 100, Hann, 4 * 0.0060},
	} {
		x := noise(13, 4096+(test.frames-1)*test.hop, 1)
		w := welchOf(WelchOptions{N: 4096, Hop: test.hop, Window: test.kind}, x)
		if got := mean(w.Kurtosis()); w.Frames() != test.frames || math.Abs(got-1) > test.tolerance {
			t.Errorf("%s: mean kurtosis %.4f over %d frames, want 1 ± %.4f", test.name, got, w.Frames(), test.tolerance)
		}
	}
}

// TestKurtosisIsUnbiased: with few frames that overlap by three quarters the
// bias would be plain, 2·(1.93−1)/M, were it not made up for.
func TestKurtosisIsUnbiased(t *testing.T) {
	const n, frames, hop, runs = 1024, 40, 256, 40
	var kurtosis []float64
	for run := range uint64(runs) {
		x := noise(100+run, n+(frames-1)*hop, 1)
		kurtosis = append(kurtosis, welchOf(WelchOptions{N: n, Hop: hop, Window: Hann}, x).Kurtosis()...)
	}
	// One sigma: 2/√(40/1.93) · √1.94/√(40·1024) = 0.0030. Uncorrected: 0.953.
	// What is left over is of the order of (1.93/40)² = 0.002.
	if got := mean(kurtosis); math.Abs(got-1) > 3*0.0030+0.002 {
		t.Errorf("mean kurtosis %.4f, want 1 ± 0.011", got)
	}
}

func TestKurtosisOfToneAndGatedNoise(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		const n, frames, bin = 256, 1000, 40
		o := WelchOptions{N: n, Hop: n, Window: Hann}
		tone, gated := make([]complex64, n*frames), noise(14, n*frames, 1)
		for i := range tone {
			tone[i] = complex64(cmplx.Rect(0.5, 2*math.Pi*bin*float64(i)/n))
			if i/n%2 == 1 {
				gated[i] = 0
			}
		}
		// The power of a steady tone does not scatter: M·S2 = S1².
		if got := welchOf(o, tone).Kurtosis()[n/2+bin]; math.Abs(got) > 1e-5 {
			t.Errorf("tone: kurtosis %v, want 0", got)
		}
		// Noise that is on for the share d of frames: E|X|⁴/(E|X|²)² = 2/d, so the
		// kurtosis is 2/d − 1 = 3. Sigma over 500 bursts is 0.27 in one bin
		// (the scatter of |X|⁴, √20 of its mean, over √500, plus that of S1, which
		// pulls the other way), below 0.03 in the mean over 256 correlated ones.
		if got := mean(welchOf(o, gated).Kurtosis()); math.Abs(got-3) > 0.1 {
			t.Errorf("gated noise: mean kurtosis %.3f, want 3 ± 0.1", got)
		}
	})
}

func TestWelchBeforeTheFirstFrame(t *testing.T) {
	w := NewWelch(WelchOptions{N: 64, Hop: 32, Window: Hann})
	w.Add(make([]complex64, 63))
	if w.Frames() != 0 || w.Density(1) != nil || w.Kurtosis() != nil {
		t.Error("a spectrum came of 63 samples of 64")
	}
}

func TestWelchOfSilence(t *testing.T) {
	w := welchOf(WelchOptions{N: 64, Hop: 32, Window: Hann}, make([]complex64, 640))
	if slices.Max(w.Density(1)) != 0 || slices.Max(w.Kurtosis()) != 1 || slices.Min(w.Kurtosis()) != 1 {
		t.Error("silence has a density other than 0 or a kurtosis other than 1")
	}
}

func TestWelchAllocatesNothing(t *testing.T) {
	w := NewWelch(WelchOptions{N: 1024, Hop: 512, Window: Hann})
	x, iq := noise(15, 5000, 1), randomCodes(15, 5000)
	if got := testing.AllocsPerRun(10, func() { w.Add(x); w.AddU8(iq) }); got != 0 {
		t.Errorf("%v allocations, want 0", got)
	}
}
