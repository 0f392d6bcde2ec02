package fft_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"testing"

	gofft "github.com/mjibson/go-dsp/fft"
	"gonum.org/v1/gonum/dsp/fourier"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
)

const (
	benchPoints  = 16384
	benchSamples = 1 << 20 // 0.4 s at 2.4 MS/s; 2 MiB of codes
	benchRounds  = 5       // the best counts: whatever else the machine does only slows down
	benchPasses  = 3       // of each contender in a row, so that the second finds its own data in the cache
)

// A contender turns 8-bit I/Q into an averaged spectrum once and gives its
// speed in million samples a second and the averaged power, summed over bins.
type contender struct {
	name string
	pass func() (speed, power float64)
}

// BenchmarkSpectrum measures the computation that the project lives on beside
// what else could do it: 8-bit I/Q to averaged spectrum, 16384 points, Hann,
// half overlap, on one core. The contenders take turns on the same core. One
// iteration is benchRounds rounds.
func BenchmarkSpectrum(b *testing.B) {
	defer pinToOneCore(b)()
	iq := noiseCodes(1, benchSamples)
	contenders := []contender{
		{"ours", timed(iq, spectrumOfOurs(fft.HaveVectors))},
		{"ours-in-Go", timed(iq, spectrumOfOurs(false))},
		{"gonum", timed(iq, spectrumOfGonum())},
		{"go-dsp", timed(iq, spectrumOfGoDSP())},
	}
	if program, why := buildRival(b); why == "" {
		contenders = append(contenders, contender{"FFTW", rivalPass(b, program, iq)})
	} else {
		b.Logf("FFTW left out: %s", why)
	}
	best := map[string]float64{}
	for range b.N {
		for range benchRounds {
			for _, c := range contenders {
				runtime.GC()
				speed, power := c.pass()
				checkPower(b, c.name, power)
				best[c.name] = max(best[c.name], speed)
			}
		}
	}
	reportSpeeds(b, contenders, best)
}

func reportSpeeds(b *testing.B, contenders []contender, best map[string]float64) {
	b.Logf("%-10s %8s %12s", "", "MS/s", "ours is ×")
	for _, c := range contenders {
		b.Logf("%-10s %8.1f %12.2f", c.name, best[c.name], best["ours"]/best[c.name])
		if c.name != "ours" {
			b.ReportMetric(best["ours"]/best[c.name], "ours/"+c.name)
		}
	}
	b.ReportMetric(best["ours"], "MS/s")
}

// checkPower sees that a contender did the whole work: by Parseval, Hann and
// division by Σw leave the noise's power times ENBW (1.5) over all bins.
func checkPower(b *testing.B, name string, power float64) {
	want := 1.5 * noiseCodesPower
	// One sigma of the power of 2^20 complex samples is 0.1 %; codes are clipped
	// and rounded, which moves it by less than 0.2 %.
	if math.Abs(power/want-1) > 0.01 {
		b.Errorf("%s: summed power %.5f, want %.5f ± 1 %%", name, power, want)
	}
}

const noiseCodesPower = 2 * 0.2 * 0.2 // −11 dBFS, the drive of a busy band

// noiseCodes makes Gaussian noise of 0.2 full scale a component, as 8-bit codes.
func noiseCodes(seed uint64, samples int) []byte {
	random := rand.New(rand.NewPCG(seed, 0))
	iq := make([]byte, 2*samples)
	for i := range iq {
		iq[i] = byte(min(max(math.Floor(128+128*0.2*random.NormFloat64()), 0), 255))
	}
	return iq
}

// timed makes a pass of a loop that gives the averaged power over all bins; the
// best of benchPasses counts, in processor time of all threads, so that other
// programs on the core do not.
func timed(iq []byte, loop func(iq []byte) float64) func() (speed, power float64) {
	return func() (speed, power float64) {
		for range benchPasses {
			began := cpuTime()
			power = loop(iq)
			speed = max(speed, 1e-6*float64(len(iq)/2)/(cpuTime()-began).Seconds())
		}
		return speed, power
	}
}

// spectrumOfOurs does what the meter does: it is fed as a receiver feeds it, 16 KiB at a
// time, keeps the transforms of a chunk of half a second and averages their powers, in the
// usable two thirds of the bins; with the vector code or with the loops that serve other
// processors.
func spectrumOfOurs(vectors bool) func([]byte) float64 {
	const rate, chunk = 2.4e6, 146 // frames
	s := spectrum.NewSpectrogram(rate, benchPoints, chunk)
	gain, power := make([]float64, s.Bins), make([]float64, s.Bins)
	for b := range gain {
		gain[b] = 1
	}
	averages := spectrum.NewAverages(s.Bins, gain)
	framer := fft.NewFramer(fft.Hann(s.N), s.Hop)
	average := func() {
		for f := range s.Frames {
			re, im := s.Row(f)
			averages.Add(f, re, im, spectrum.Kept)
		}
		averages.CloseChunk(power)
		s.Reset()
	}
	visit := func(re, im []float32) {
		if s.Frames == chunk {
			average()
		}
		s.Append(re, im)
	}
	return func(iq []byte) (all float64) {
		defer fft.UseVectors(vectors)()
		framer.Reset()
		averages.Reset()
		s.Reset()
		for len(iq) > 0 {
			block := min(len(iq), 16<<10)
			framer.WriteU8(iq[:block], visit)
			iq = iq[block:]
		}
		average()
		averages.Average(true)
		for _, p := range averages.Mean {
			all += p
		}
		return all * benchPoints / float64(s.Bins) // as in the other third
	}
}

// complexLoop is the same loop around a transform in double precision.
func complexLoop(iq []byte, window []float64, transform func([]complex128) []complex128) (power float64) {
	frame := make([]complex128, benchPoints)
	sum := make([]float64, benchPoints)
	frames := 0
	for at := 0; at+benchPoints <= len(iq)/2; at += benchPoints / 2 {
		codes := iq[2*at:][:2*benchPoints]
		for i, w := range window {
			frame[i] = complex((float64(codes[2*i])-127.5)*w, (float64(codes[2*i+1])-127.5)*w)
		}
		for i, x := range transform(frame) {
			sum[i] += real(x)*real(x) + imag(x)*imag(x)
		}
		frames++
	}
	for _, s := range sum {
		power += s / float64(frames)
	}
	return power
}

// doubleWindow is Hann with the scale of codes and of the window's sum in it.
func doubleWindow() []float64 {
	w := make([]float64, benchPoints)
	for i := range w {
		w[i] = (0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/benchPoints)) / (128 * 0.5 * benchPoints)
	}
	return w
}

func spectrumOfGonum() func([]byte) float64 {
	plan, window, out := fourier.NewCmplxFFT(benchPoints), doubleWindow(), make([]complex128, benchPoints)
	return func(iq []byte) float64 {
		return complexLoop(iq, window, func(x []complex128) []complex128 { return plan.Coefficients(out, x) })
	}
}

func spectrumOfGoDSP() func([]byte) float64 {
	window := doubleWindow()
	return func(iq []byte) float64 { return complexLoop(iq, window, gofft.FFT) }
}

// buildRival compiles the C program; why tells why it cannot be had.
func buildRival(b *testing.B) (program, why string) {
	cc, err := exec.LookPath("cc")
	if err != nil {
		return "", "no C compiler (cc) on this machine"
	}
	program = filepath.Join(b.TempDir(), "spectrum")
	source := filepath.Join("testdata", "rival", "spectrum.c")
	out, err := exec.Command(cc, "-O3", "-march=native", "-ffast-math", "-o", program, source, "-lfftw3f", "-lm").CombinedOutput()
	if err != nil {
		return "", fmt.Sprintf("cannot be compiled (is libfftw3f with its header installed?): %v\n%s", err, out)
	}
	return program, ""
}

// rivalPass runs the C program on the same codes; it times itself.
func rivalPass(b *testing.B, program string, iq []byte) func() (speed, power float64) {
	recording := filepath.Join(b.TempDir(), "noise.cu8")
	if err := os.WriteFile(recording, iq, 0o600); err != nil {
		b.Fatal(err)
	}
	return func() (speed, power float64) {
		out, err := exec.Command(program, recording, fmt.Sprint(benchPoints), fmt.Sprint(benchPasses)).Output()
		if err == nil {
			_, err = fmt.Sscan(string(out), &speed, &power)
		}
		if err != nil {
			b.Fatalf("FFTW loop: %v: %q", err, out)
		}
		return speed, power
	}
}

// pinToOneCore keeps every thread of the test, and of programs it starts, on
// one core where the system can, and the collector out of the way.
func pinToOneCore(b *testing.B) (undo func()) {
	runtime.LockOSThread()
	threads, collector := runtime.GOMAXPROCS(1), debug.SetGCPercent(400)
	unpin, err := pinThreads()
	if err != nil {
		b.Logf("not pinned to one core: %v", err)
	}
	return func() {
		unpin()
		debug.SetGCPercent(collector)
		runtime.GOMAXPROCS(threads)
		runtime.UnlockOSThread()
	}
}
