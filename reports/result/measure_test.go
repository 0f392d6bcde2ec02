package result

import "testing"

// No confidence is rounded up to 1.
func TestSureness(t *testing.T) {
	for _, test := range []struct{ confidence, want float64 }{{0.99987, 0.99987}, {0.999, 0.999}, {1, 0.9999999}, {1 - 1e-12, 0.9999999}, {0.99999996, 0.9999999}, {0.99999984, 0.9999998}} {
		if got := sureness(test.confidence); got != test.want {
			t.Errorf("%.12g is shown as %.12g, want %.12g", test.confidence, got, test.want)
		}
	}
}
