package fft

import (
	"fmt"
	"testing"
)

// BenchmarkFFT times the transform alone, at sizes in and out of the first cache.
func BenchmarkFFT(b *testing.B) {
	for _, n := range []int{1024, 4096, 16384, 32768, 65536} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			f, re, im := New(n), make([]float32, n), make([]float32, n)
			re[1] = 1
			for b.Loop() {
				f.Transform(re, im)
				clear(re)
				clear(im)
				re[1] = 1
			}
			b.ReportMetric(1e-6*float64(n)*float64(b.N)/b.Elapsed().Seconds(), "MS/s")
		})
	}
}
