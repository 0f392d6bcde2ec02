package iqfile

import (
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"nightfloor/dsp/fft"
	"nightfloor/survey"
)

// realFolder gives the folder of recordings that others made with dongles. It
// lies beside the module and is no part of it; where it is missing the test is
// skipped, except in continuous integration.
func realFolder(t *testing.T) string {
	t.Helper()
	folder, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(folder, "go.mod")); err == nil {
			break
		}
		if folder == filepath.Dir(folder) {
			t.Fatal("no go.mod above the test")
		}
		folder = filepath.Dir(folder)
	}
	folder = filepath.Join(folder, "..", "shared", "data", "real")
	if _, err := os.Stat(folder); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("the real recordings are missing: %v", err)
		}
		t.Skipf("the real recordings are missing: %v", err)
	}
	return folder
}

// reference is what scipy 1.10.1 found by the same recipe, from the README
// beside the recordings.
type reference struct {
	file                     string
	centre, rate             survey.Hz
	samples                  int64
	mean                     float64 // dBFS
	median, tenth, ninetieth float64 // dBFS/Hz
	outermost                float64 // share of components at code 0 or 255
}

func TestRealRecordingsAgreeWithScipy(t *testing.T) {
	folder := realFolder(t)
	for _, want := range []reference{
		{"adsb_1090M_2M0_rtl.cu8", 1_090_000_000, 2_000_000, 356_868, -14.2266, -80.539, -83.721, -77.534, 0.00078741},
		{"wmbus_868.950M_1M6_rtl.cu8", 868_950_000, 1_600_000, 1_048_576, -15.7492, -81.905, -83.808, -76.682, 0.00572252},
	} {
		r := openOne(t, filepath.Join(folder, want.file), Options{Centre: want.centre, Rate: want.rate})
		if r.Samples != want.samples || len(r.Doubts) != 0 {
			t.Errorf("%s: %d samples, doubts %q; want %d", want.file, r.Samples, r.Doubts, want.samples)
		}
		got, file := measured(t, r), want.file
		compare := func(what string, got, want, tolerance float64) {
			t.Logf("%-26s %-16s ours %10.6f, scipy %10.6f", file, what, got, want)
			if !(math.Abs(got-want) <= tolerance) {
				t.Errorf("%s: %s is %.6f, want %.6f ± %g", file, what, got, want, tolerance)
			}
		}
		// 0.01 dB is what another implementation of the recipe is asked for. The
		// mean power and the share come from exact codes: only the last printed
		// digit of the reference is in doubt.
		compare("median", got.median, want.median, 0.01)
		compare("10th percentile", got.tenth, want.tenth, 0.01)
		compare("90th percentile", got.ninetieth, want.ninetieth, 0.01)
		compare("mean power", got.mean, want.mean, 0.0001)
		compare("outermost, %", 100*got.outermost, 100*want.outermost, 0.000001)
	}
}

// measured repeats the recipe: 4096 points, half overlap, periodic Hann, each
// frame's mean removed, percentiles interpolated linearly over all bins.
func measured(t *testing.T, r Recording) reference {
	t.Helper()
	reader, err := r.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	block, power := make([]complex64, 10_000), 0.0
	var samples []complex64
	for {
		n, err := reader.Read(block)
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		samples = append(samples, block[:n]...)
		for _, v := range block[:n] {
			re, im := float64(real(v)), float64(imag(v))
			power += re*re + im*im
		}
	}
	density := densityOf(samples, float64(r.Rate))
	slices.Sort(density)
	return reference{
		mean:   10 * math.Log10(power/float64(r.Samples)),
		median: 10 * math.Log10(quantile(density, 0.5)),
		tenth:  10 * math.Log10(quantile(density, 0.1)), ninetieth: 10 * math.Log10(quantile(density, 0.9)),
		outermost: reader.Codes().ClippedShare(),
	}
}

// densityOf averages the recipe's frames to a density, full-scale units per hertz.
func densityOf(x []complex64, rate float64) []float64 {
	const n = 4096
	window := fft.Hann(n)
	framer := fft.NewFramer(window, n)
	density, frames, frame := make([]float64, n), 0, make([]complex64, n)
	for ; len(x) >= n; x = x[n/2:] {
		var mean complex128
		for _, v := range x[:n] {
			mean += complex128(v) / n
		}
		for i, v := range x[:n] {
			frame[i] = complex64(complex128(v) - mean)
		}
		frames++
		framer.Write(frame, func(re, im []float32) {
			for i := range re {
				density[i] += float64(re[i]*re[i] + im[i]*im[i])
			}
		})
	}
	for i := range density {
		density[i] /= float64(frames) * fft.HannENBW * rate / n
	}
	return density
}

// quantile interpolates linearly between order statistics (type 7 of Hyndman
// and Fan, numpy's default) of sorted values.
func quantile(sorted []float64, p float64) float64 {
	at := p * float64(len(sorted)-1)
	i := int(at)
	if i+1 == len(sorted) {
		return sorted[i]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}
