package interference

import (
	"math"
	"testing"
)

// The curve is the parabola through the levels beside, and a wiggle of its own size is
// no evidence: of as many curves as there are trials the P that is stated for the
// strongest stretch comes as often as it says, or more seldom.
func TestHumpCurve(t *testing.T) {
	cells := make([]humpCell, 100)
	for i := range cells {
		x := (2*float64(i)+1)/100 - 1
		cells[i] = humpCell{levelOf: levelOf{level: -90 + 1.5*x - 0.8*x*x, sigma: 0.01, ok: true}, x: x}
		if i >= 40 && i < 60 {
			cells[i].level += 4
		}
	}
	curve := newHumpCurve(len(cells), wiggle)
	curve.fit(cells, 40, 60)
	// What is known beforehand draws a slope of 1.5 and a bend of 0.8 dB a little to 0.
	for k, want := range []float64{-90, 1.5, -0.8} {
		if math.Abs(curve.a[k]-want) > 0.1 {
			t.Errorf("coefficient %d: %.3f, want %.3f", k, curve.a[k], want)
		}
	}
	from, to, p := curve.strongest(cells, 6, 12)
	if from < 36 || to > 64 || to-from < 14 || p > 1e-9 {
		t.Errorf("cells %d to %d, chance %.2g", from, to, p)
	}
}

// A passband too narrow for any hump holds none: what was not tried is no evidence.
func TestNoHumpsInNarrowPassbands(t *testing.T) {
	for _, columns := range []int{5, 43, 85, 700} { // of 60 Hz: 0.3 to 42 kHz
		l := &cellLevels{power: make([]float64, columns), free: make([]bool, columns), looks: 20, binWidth: 60}
		for b := range columns {
			l.power[b], l.free[b] = 1+9*math.Exp(-math.Pow(float64(b-columns/2)*60/5e3, 2)), true
		}
		if found := l.humps(); len(found) > 0 {
			t.Errorf("%d columns: %v", columns, found)
		}
	}
}
