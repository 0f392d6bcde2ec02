package isolation

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/reports/reporttest"
)

// Voltages add: 10 dB of isolation let a level err by −3.3 to +2.4 dB, 20 dB by −0.9 to +0.8, 25 dB by half a dB.
func TestErrors(t *testing.T) {
	for _, want := range []struct{ isolation, low, high float64 }{{10, -3.30, 2.39}, {20, -0.92, 0.83}, {Coherent, -0.50, 0.48}} {
		low, high := Errors(want.isolation)
		if math.Abs(low-want.low) > 0.005 || math.Abs(high-want.high) > 0.005 {
			t.Errorf("%.0f dB: %.3f and %.3f, want %.2f and %.2f", want.isolation, low, high, want.low, want.high)
		}
		// So it is with phases of chance, and as far as to both ends.
		random, least, most := rand.New(rand.NewPCG(1, 1)), 0.0, 0.0
		for range 10000 {
			sin, cos := math.Sincos(2 * math.Pi * random.Float64())
			leak := math.Pow(10, -want.isolation/20)
			err := 20 * math.Log10(math.Hypot(1+leak*cos, leak*sin))
			least, most = min(least, err), max(most, err)
		}
		if least < low || most > high || least > low+0.01 || most < high-0.01 {
			t.Errorf("%.0f dB: phases of chance give %.3f to %.3f dB, want %.3f to %.3f", want.isolation, least, most, low, high)
		}
	}
	if low, high := Errors(0); !math.IsInf(low, -1) || math.Abs(high-6.02) > 0.005 {
		t.Errorf("as strong as the level itself: %v to %v", low, high)
	}
	if low, _ := Errors(-3); !math.IsInf(low, -1) {
		t.Errorf("stronger than the level itself: %v", low)
	}
}

// What the control hears over twice its standard error is its share; else that is the bound.
func TestRatio(t *testing.T) {
	var heard, unheard, deaf, still Ratio
	squares := Ratio{Squares: true}
	for range 4 {
		heard.Add(1, 0.1, 100)
		unheard.Add(-0.1, 0.1, 100)
		deaf.Add(1, 0.1, -1)
		still.Add(0, 0, 1)
		squares.Add(1, 0.1, 10000)
	}
	if share, bound, ok := squares.Leak(); share != 0.01 || bound || !ok {
		t.Errorf("squares: %v, bound %t, %t", share, bound, ok)
	}
	if share, bound, ok := heard.Leak(); share != 0.01 || bound || !ok {
		t.Errorf("heard: %v, bound %t, %t", share, bound, ok)
	}
	if share, bound, ok := unheard.Leak(); math.Abs(share-0.001) > 1e-12 || !bound || !ok { // 2·√(4·0.1²) of 400
		t.Errorf("not heard: %v, bound %t, %t", share, bound, ok)
	}
	if _, _, ok := deaf.Leak(); ok || deaf.Isolation() != nil {
		t.Error("an antenna that hears nothing has an isolation")
	}
	if _, _, ok := still.Leak(); ok {
		t.Error("nothing without an error has an isolation")
	}
}

// Under 25 dB that were heard it is poor; a bound says nothing against figures.
func TestPoor(t *testing.T) {
	of := func(control, sigma float64) *Ratio {
		r := &Ratio{}
		r.Add(control, sigma, 1)
		return r
	}
	under := func(dB float64) float64 { return math.Pow(10, -dB/10) }
	if !of(under(24.9), 1e-4).Isolation().Poor || of(under(25.1), 1e-4).Isolation().Poor || of(under(20), 0.26*under(20)).Isolation().Poor || !of(under(20), 0.24*under(20)).Isolation().Poor {
		t.Error("poor is what was heard less than 25 dB down")
	}
	poor := Of(24.9, false)
	reporttest.Near(t, "low", poor.Low, -0.508, 0.001)
	reporttest.Near(t, "high", poor.High, 0.480, 0.001)
	if Of(0, false).Low != nil {
		t.Error("an error without end must be null")
	}
}
