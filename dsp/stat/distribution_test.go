package stat

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

func TestGammaQuantile(t *testing.T) {
	// Shape 1 is exponential: −ln(1−p). Else gonum's inverse is the oracle.
	for _, p := range []float64{0.01, 0.2, 0.5, 0.8} {
		if got, want := GammaQuantile(1, p), -math.Log1p(-p); math.Abs(got/want-1) > 1e-8 {
			t.Errorf("exponential at %v: %v, want %v", p, got, want)
		}
		for _, shape := range []float64{1.3, 3, 10, 120, 1000} {
			if got, want := GammaQuantile(shape, p), mathext.GammaIncRegInv(shape, p); math.Abs(got/want-1) > 1e-7 {
				t.Errorf("shape %v at %v: %v, want %v", shape, p, got, want)
			}
		}
	}
	// METHODS.md 3.5: the mean of the lowest 20 % is −9.69 dB for 1, −2.21 for
	// 10, −0.63 for 100 averages.
	for shape, want := range map[float64]float64{1: -9.69, 10: -2.21, 100: -0.63} {
		if got := 10 * math.Log10(GammaLowestMean(shape, 0.2)); math.Abs(got-want) > 0.006 {
			t.Errorf("lowest fifth of shape %v: %.3f dB, want %.2f", shape, got, want)
		}
	}
}

// What is passed with a probability is passed with that probability, however small.
func TestGammaUpperQuantile(t *testing.T) {
	for _, shape := range []float64{1, 4, 12, 120, 1000} {
		for _, tail := range []float64{0.5, 1e-3, 1e-7, 1e-14} {
			if got := mathext.GammaIncRegComp(shape, GammaUpperQuantile(shape, tail)); math.Abs(got/tail-1) > 1e-6 {
				t.Errorf("shape %v, tail %v: passed with %v", shape, tail, got)
			}
		}
	}
}

// NoiseQuantile is a quantile of the mean of so many exponentials: chi-square with
// twice as many degrees of freedom, over them. The cube root is good to 0.3 %
// from 25 looks on.
func TestNoiseQuantile(t *testing.T) {
	for _, looks := range []float64{25, 34, 500} {
		for _, z := range []float64{-1.2816, 0, 3.0902, 4.2649} {
			p := distuv.UnitNormal.CDF(z)
			want := distuv.ChiSquared{K: 2 * looks}.Quantile(p) / (2 * looks)
			if got := NoiseQuantile(looks, z); math.Abs(got/want-1) > 0.003 {
				t.Errorf("%v looks, z %v: %.4f, want %.4f", looks, z, got, want)
			}
		}
	}
}

// The rounded figures agree with the distribution they describe.
func TestNormalFigures(t *testing.T) {
	quartile := distuv.UnitNormal.Quantile(0.75)
	for _, test := range []struct {
		name      string
		got, want float64
	}{
		{"NormalQuartile", NormalQuartile, quartile},
		{"MedianScatter", MedianScatter, math.Sqrt(0.25) / distuv.UnitNormal.Prob(0)},
		{"QuartileScatter", QuartileScatter, math.Sqrt(0.25*0.75) / distuv.UnitNormal.Prob(quartile)},
		{"OneOfTwo", OneOfTwo, 1.02 / 1.96}, // the other reading lies just inside the interval
	} {
		if math.Abs(test.got/test.want-1) > 0.003 {
			t.Errorf("%s: %v, want %.4f", test.name, test.got, test.want)
		}
	}
}
