package series

import (
	"encoding/json"
	"math"
	"os"
	"testing"
)

// plainSeries is what an independent plain implementation makes of a series.
type plainSeries struct {
	Values, Times   []float64
	Strata          []int
	Hidden, Freedom float64
	Rows            [][3]float64 // by point of the grid: mean, standard error, ln likelihood
	Mean, Low, High float64
	UnderZero       float64 `json:"under_zero"`
	Only            *[3]float64
}

// Every figure between values and interval is that of an implementation without a library, by a
// filter of scalars and Gauss' elimination (testdata/plain.json): of nine nights, and of six with
// gaps and three strata. It holds the grid, the likelihood, the pooling and the weights.
func TestAgainstPlainImplementation(t *testing.T) {
	raw, err := os.ReadFile("testdata/plain.json")
	if err != nil {
		t.Fatal(err)
	}
	var plain struct {
		Groups []struct {
			Setups  int
			Weights []float64
			Pairs   []plainSeries
		}
	}
	if err := json.Unmarshal(raw, &plain); err != nil {
		t.Fatal(err)
	}
	if len(plain.Groups) != 4 {
		t.Fatalf("%d groups", len(plain.Groups))
	}
	for g, group := range plain.Groups {
		var fits []*Fit
		for k, p := range group.Pairs {
			fits = append(fits, Of(Series{Values: p.Values, Times: p.Times, Stratum: p.Strata, Hidden: p.Hidden}))
			sameRows(t, g, k, fits[k], p)
		}
		w := Pool(fits, group.Setups)
		for i := range w {
			if math.Abs(w[i]-group.Weights[i]) > 1e-6 {
				t.Errorf("group %d: weight %d is %.7f, want %.7f", g, i, w[i], group.Weights[i])
			}
		}
		for k, p := range group.Pairs {
			m := fits[k].By(w, nil)
			sameMixture(t, g, k, m, [3]float64{p.Mean, p.Low, p.High})
			if got := m.CDF(0); math.Abs(got-p.UnderZero) > 1e-6 {
				t.Errorf("group %d, pair %d: under 0 with %.7f, want %.7f", g, k, got, p.UnderZero)
			}
			if p.Only != nil {
				sameMixture(t, g, k, fits[k].Only(w, 1), *p.Only)
			}
		}
	}
}

// sameRows wants the fits at every point of the grid.
func sameRows(t *testing.T, group, pair int, f *Fit, p plainSeries) {
	t.Helper()
	if f.freedom != p.Freedom || len(f.points) != len(p.Rows) {
		t.Fatalf("group %d, pair %d: freedom %v, %d points, want %v, %d", group, pair, f.freedom, len(f.points), p.Freedom, len(p.Rows))
	}
	ones := make(Weights, len(grid))
	all := f.mixture(ones, f.share, (*point).plainMeans)
	for i, row := range p.Rows {
		for what, d := range map[string]float64{"mean": all.means[i] - row[0], "standard error": all.sigmas[i] - row[1], "likelihood": f.points[i].logL - row[2]} {
			if math.Abs(d) > 1e-6 {
				t.Errorf("group %d, pair %d, point %d: %s off by %.2g", group, pair, i, what, d)
			}
		}
	}
}

// sameMixture wants mean, low and high.
func sameMixture(t *testing.T, group, pair int, m *Mixture, want [3]float64) {
	t.Helper()
	low, high, ok := m.Interval()
	if !ok || math.Abs(m.Mean-want[0]) > 5e-6 || math.Abs(low-want[1]) > 5e-6 || math.Abs(high-want[2]) > 5e-6 {
		t.Errorf("group %d, pair %d: %.6f, %.6f to %.6f (%v), want %.6f", group, pair, m.Mean, low, high, ok, want)
	}
}
