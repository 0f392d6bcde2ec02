package stat

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Events at random pass a power of 3 with exp(−3), 5 %, whatever their weights; those of one
// phase have coherence 1, a cosine's 1/2.
func TestPhasor(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	const trials, events = 4000, 30
	passed := 0
	for range trials {
		var p Phasor
		for range events {
			p.Add(r.ExpFloat64(), 100*r.Float64())
		}
		if p.Power() > 3 {
			passed++
		}
	}
	// 199 are due, give or take √199; of 30 events the law holds to 1/30.
	if want := trials * math.Exp(-3); math.Abs(float64(passed)-want) > 3*math.Sqrt(want)+want/30 {
		t.Errorf("%d of %d at random pass, want %.0f", passed, trials, want)
	}
	var phase, cosine Phasor
	for i := range 1000 {
		phase.Add(1, 0.3+float64(i))
		cosine.Add(1+math.Cos(2*math.Pi*float64(i)/50), float64(i)/50)
	}
	if math.Abs(phase.Coherence()-1) > 1e-9 || math.Abs(phase.Power()-1000) > 1e-6 || math.Abs(cosine.Coherence()-0.5) > 1e-9 {
		t.Errorf("one phase %v, %v; cosine %v", phase.Coherence(), phase.Power(), cosine.Coherence())
	}
	x, turns := make([]float64, 1000), make([]complex128, 1000)
	var p Phasor
	for i := range x {
		x[i] = r.Float64()
		p.Add(x[i], 5.2+0.37*float64(i))
	}
	if Turns(turns, 1, 5.2, 0.37); math.Sqrt(SquaredAbs(Dot(x, turns)-p.Sum)) > 1e-9 {
		t.Errorf("over even times %v, want %v", Dot(x, turns), p.Sum)
	}
}

// Regular events have a period though one in five intervals is off or an event is missing;
// four are the fewest, 5 % the most that they may be off.
func TestPeriod(t *testing.T) {
	for _, test := range []struct {
		name  string
		times []float64
		slack float64
		want  float64
	}{
		{"four", []float64{0, 1, 2, 3}, 0, 1},
		{"three", []float64{0, 1, 2}, 0, 0},
		{"one missing, two missing", []float64{0, 1, 2, 3, 5, 6, 9, 10}, 0, 1},
		{"three missing", []float64{0, 1, 2, 3, 7}, 0, 0},
		{"one interval in six off", []float64{0, 1, 2, 3, 4, 5.4, 6.4}, 0, 1},
		{"two in six", []float64{0, 1, 2, 3.4, 4.4, 5.8, 6.8}, 0, 0},
		{"4 % off", []float64{0, 1, 2.04, 3.04, 4}, 0, 1.01},
		{"6 % off", []float64{0, 1, 2.06, 3.06, 4}, 0, 0},
		{"6 % off, known to 2 %", []float64{0, 1, 2.06, 3.06, 4}, 0.02, 1},
	} {
		if got := Period(test.times, test.slack); math.Abs(got-test.want) > 0.02 {
			t.Errorf("%s: period %v, want %v", test.name, got, test.want)
		}
	}
}
