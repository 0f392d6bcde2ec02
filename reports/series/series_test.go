package series

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"nightfloor/reports/reporttest"
	"nightfloor/reports/stats"
)

// of makes a series of consecutive rounds in one stratum.
func of(values ...float64) Series {
	s := Series{Values: values, Times: make([]float64, len(values)), Stratum: make([]int, len(values))}
	for i := range s.Times {
		s.Times[i] = float64(i)
	}
	return s
}

// alone gives the distribution of one series that nothing is pooled with.
func alone(s Series) *Mixture {
	f := Of(s)
	return f.By(Pool([]*Fit{f}, 2), nil)
}

// finite wants numbers.
func finite(t *testing.T, what string, values ...float64) {
	t.Helper()
	for _, v := range values {
		if !stats.Finite(v) {
			t.Errorf("%s: %v", what, values)
			return
		}
	}
}

// Where the likelihood is alike everywhere, as of two rounds in two strata beside a third pair that
// tells nothing, a point counts by (1 − ρ)^¾; and a pair's likelihood counts as often as there are
// setups beside the first.
func TestWeights(t *testing.T) {
	flat := &Fit{points: make([]point, len(grid))}
	w := Pool([]*Fit{flat, nil, {}}, 4)
	for i, m := range grid {
		if want := w[0] * math.Pow(1-m.rho, 0.75); math.Abs(w[i]-want) > 1e-12 {
			t.Errorf("ρ %.1f, white %.2f: %.6f, want %.6f", m.rho, m.white, w[i], want)
		}
	}
	tells := &Fit{points: make([]point, len(grid))}
	tells.points[5].logL = 2
	// The pair that tells and the one that does not: ln L̄ = 2/2 there, 4 setups: three times.
	more := Pool([]*Fit{flat, tells}, 4)
	if got := math.Log(more[5] / more[0] / (w[5] / w[0])); math.Abs(got-3) > 1e-12 {
		t.Errorf("the likelihood counts with %.3f, want 3 × 2/2", got)
	}
	if Pool([]*Fit{nil, {}}, 3) != nil {
		t.Error("weights of nothing")
	}
}

// Under six rounds there is a mean, and no interval.
func TestFewRounds(t *testing.T) {
	for _, n := range []int{1, 2, 5, 6} {
		values := []float64{2, 3, 1, 2.5, 1.5, 2}[:n]
		m := alone(of(values...))
		low, high, ok := m.Interval()
		if ok != (n >= 6) || m.Rounds != n {
			t.Errorf("%d rounds: %v, %d", n, ok, m.Rounds)
		}
		finite(t, "mean and interval", m.Mean, low, high)
		if want, _ := stats.MeanVariance(values); math.Abs(m.Mean-want) > 0.2 {
			t.Errorf("%d rounds: mean %.2f, want about %.2f", n, m.Mean, want)
		}
	}
	m := alone(Series{})
	if _, _, ok := m.Interval(); ok || m.Mean != 0 || m.Rounds != 0 {
		t.Errorf("no rounds: %+v", m)
	}
}

// As many strata as rounds leave no scatter to tell.
func TestAsManyStrataAsRounds(t *testing.T) {
	s := of(1, 2, 3, 4, 5, 6, 7)
	for i := range s.Stratum {
		s.Stratum[i] = i
	}
	if m := alone(s); m.Told() || math.Abs(m.Mean-4) > 1e-9 {
		t.Errorf("%+v, want 4 and no interval", m)
	}
	s.Stratum[6] = 0 // one degree of freedom: t of that reaches 12.7 standard errors
	m := alone(s)
	low, high, ok := m.Interval()
	finite(t, "one degree of freedom", low, high)
	if !ok || high-low < 12 {
		t.Errorf("%.1f to %.1f, %v", low, high, ok)
	}
}

// Values without any scatter are known exactly.
func TestNoScatter(t *testing.T) {
	m := alone(of(3, 3, 3, 3, 3, 3, 3, 3))
	low, high, ok := m.Interval()
	if !ok || math.Abs(m.Mean-3) > 1e-9 || math.Abs(low-3) > 1e-4 || math.Abs(high-3) > 1e-4 || low >= high {
		t.Errorf("%.9f, %.9f to %.9f, %v", m.Mean, low, high, ok)
	}
	if p := m.CDF(3); math.Abs(p-0.5) > 1e-6 {
		t.Errorf("under 3 with %.3f", p)
	}
	s := of(3, 3, 3, 3, 3, 3)
	s.Hidden = 1 // all that is not known is what rounds do not show: t of 5 reaches 2.57
	if low, high, _ := alone(s).Interval(); math.Abs(low-0.43) > 0.01 || math.Abs(high-5.57) > 0.01 {
		t.Errorf("%.2f to %.2f, want 0.43 to 5.57", low, high)
	}
}

// One value that is off by a million makes the interval wide, and nothing else.
func TestOutlier(t *testing.T) {
	m := alone(of(1, 2, 1, 2, 1, 1e6, 2, 1, 2, 1))
	low, high, ok := m.Interval()
	finite(t, "interval", low, high, m.Mean)
	if !ok || low > 0 || high < 1e5 {
		t.Errorf("%.0f to %.0f, %v", low, high, ok)
	}
}

// Rounds of surveys beside each other may fall on one instant. A likelihood is then no infinity,
// whatever they say.
func TestRoundsAtOneInstant(t *testing.T) {
	s := of(1, 2, 1, 2, 3, 1, 2, 2)
	s.Times = []float64{0, 0, 1, 1, 2, 2, 3, 3}
	m := alone(s)
	low, high, ok := m.Interval()
	finite(t, "interval", m.Mean, low, high)
	if !ok || low > 1.75 || high < 1.75 {
		t.Errorf("%.2f to %.2f, %v", low, high, ok)
	}
	// Under a hundredth of a distance they count as so far apart; at two it is what it is.
	apart := func(d float64) float64 {
		near := s
		near.Times = []float64{0, d, 1, 1 + d, 2, 2 + d, 3, 3 + d}
		return Of(near).points[9].logL
	}
	if a, b, c := apart(0), apart(0.008), apart(0.02); math.Abs(a-b) > 0.1 || math.Abs(a-c) < 0.1 || !stats.Finite(a) {
		t.Errorf("ln likelihood %.3f at one instant, %.3f and %.3f at 0.008 and 0.02 of a distance", a, b, c)
	}
}

// A round that does not count is as if it had not been, and its place in time is kept.
func TestLeftOut(t *testing.T) {
	s := of(1, 2, 99, 2, 1, 2, math.NaN(), 1)
	s.Stratum[2] = -1
	short := Series{Values: []float64{1, 2, 2, 1, 2, 1}, Times: []float64{0, 1, 3, 4, 5, 7}, Stratum: make([]int, 6)}
	a, b := alone(s), alone(short)
	la, ha, _ := a.Interval()
	lb, hb, _ := b.Interval()
	if a.Rounds != 6 || a.Mean != b.Mean || la != lb || ha != hb {
		t.Errorf("%.3f, %.3f to %.3f of %d; want %.3f, %.3f to %.3f of 6", a.Mean, la, ha, a.Rounds, b.Mean, lb, hb)
	}
	if a.parts[2] != 0 || a.parts[6] != 0 || len(a.parts) != 8 {
		t.Errorf("parts %v", a.parts)
	}
}

// Distances count in those that are usual: a day between two nights of rounds every half hour is 48.
func TestTimes(t *testing.T) {
	at := time.Date(2026, 10, 1, 18, 0, 0, 0, time.UTC)
	half := 30 * time.Minute
	times := Times([]time.Time{at, at.Add(half), at.Add(2 * half), at.Add(2*half + 24*time.Hour), at.Add(3*half + 24*time.Hour)}, nil)
	for i, want := range []float64{0, 1, 2, 50, 51} {
		if math.Abs(times[i]-want) > 1e-9 {
			t.Errorf("%v", times)
			break
		}
	}
	second := time.Second
	beside := []time.Time{at, at.Add(second), at.Add(half), at.Add(half + second), at.Add(2 * half), at.Add(2*half + second)}
	if got := Times(beside, []int64{1, 2, 1, 2, 1, 2}); got[4] != 2 {
		t.Errorf("surveys beside each other: %v", got)
	}
	if got := Times([]time.Time{at, at.Add(half), at.Add(2 * half)}, []int64{1, 2, 3}); got[2] != 2 {
		t.Errorf("a survey each: %v", got)
	}
	if got := Times([]time.Time{at, at, at}, nil); got[2] != 2 {
		t.Errorf("all at one instant: %v", got)
	}
	if got := Times(nil, nil); len(got) != 0 {
		t.Errorf("%v", got)
	}
}

// A mains device of 12 dB in half of the rounds is none of the scatter where it is a stratum.
func TestStrataTakeAStepOut(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	s := of(make([]float64, 24)...)
	for i := range s.Values {
		s.Stratum[i] = i / 4 % 2
		s.Values[i] = 5 + random.NormFloat64() - 12*float64(s.Stratum[i])
	}
	all := alone(s)
	low, high, _ := all.Interval()
	if math.Abs(all.Mean+1) > 1 || high-low > 2.5 || high-low < 0.5 {
		t.Errorf("%.2f, %.2f to %.2f, want −1 and scatter of 1 dB", all.Mean, low, high)
	}
	f := Of(s)
	on, off := f.Only(Pool([]*Fit{f}, 2), 1), f.Only(Pool([]*Fit{f}, 2), 0)
	if math.Abs(on.Mean+7) > 1.2 || math.Abs(off.Mean-5) > 1.2 || on.Rounds != 12 {
		t.Errorf("on %.2f of %d, off %.2f", on.Mean, on.Rounds, off.Mean)
	}
	if both := f.Only(Pool([]*Fit{f}, 2), 0, 1); both.Mean != all.Mean || both.Rounds != 24 {
		t.Errorf("both strata: %.3f of %d, want %.3f", both.Mean, both.Rounds, all.Mean)
	}
	step := f.Sum(Pool([]*Fit{f}, 2), func(stratum int) float64 { return float64(2*stratum - 1) })
	if low, high, ok := step.Interval(); !ok || math.Abs(step.Mean-(on.Mean-off.Mean)) > 0.2 || low > -12 || high < -12 || high-low > 4 {
		t.Errorf("step of %.2f, %.2f to %.2f, want −12", step.Mean, low, high)
	}
	if f.Only(nil, 3) != nil {
		t.Error("a stratum without rounds")
	}
	for i := range s.Stratum {
		s.Stratum[i] = 0
	}
	if low, high, _ := alone(s).Interval(); high-low < 5 {
		t.Errorf("without strata %.2f to %.2f: this test is too easy", low, high)
	}
}

// A night is a survey's errors by setup and round, in dB: what fades, the mean over twelve carriers of
// 3 dB each, and what drifts.
type night struct {
	setups, rounds  int
	fade, fadeLag   float64 // of single setups' means over carriers
	drift, driftLag float64 // of floors
	errors, floors  [][]float64
}

// make fills in errors and floors by chance.
func (n *night) make(random *rand.Rand) {
	n.errors, n.floors = nil, nil
	for range n.setups {
		e := reporttest.Wander(random, n.rounds, n.fade, n.fadeLag)
		f := reporttest.Wander(random, n.rounds, n.drift, n.driftLag)
		for i := range e {
			e[i] -= f[i]
		}
		n.errors, n.floors = append(n.errors, e), append(n.floors, f)
	}
}

// pairs gives the fits of the differences of some rows by pair, j over i for i under j.
func (n *night) pairs(rows [][]float64) (fits []*Fit, at map[[2]int]int) {
	at = map[[2]int]int{}
	for j := range rows {
		for i := range j {
			d := make([]float64, n.rounds)
			for t := range d {
				d[t] = rows[i][t] - rows[j][t]
			}
			at[[2]int{i, j}] = len(fits)
			fits = append(fits, Of(of(d...)))
		}
	}
	return fits, at
}

// Intervals of the mean hold what is true in 92 to 98 % of nights, where t of the rounds' means, as if
// rounds were independent, holds it in 0.7 to 0.85; and are no wider than they must: half width
// over 1.96 standard errors of the mean.
func TestCoverage(t *testing.T) {
	seed := reporttest.SeedFor(t)
	for _, c := range []struct {
		name        string
		night       night
		least, most float64 // share of intervals that hold the truth
		widest      float64 // half width over need
	}{
		{"plain", night{setups: 4, rounds: 24, fade: 0.87, fadeLag: 0.3, drift: 0.5, driftLag: 0.6}, 0.92, 0.98, 1.3},
		{"correlated", night{setups: 4, rounds: 24, fade: 0.87, fadeLag: 0.6, drift: 0.5, driftLag: 0.6}, 0.92, 0.98, 1.3},
		{"60 rounds", night{setups: 4, rounds: 60, fade: 0.87, fadeLag: 0.3, drift: 0.5, driftLag: 0.6}, 0.92, 0.98, 1.3},
		{"12 rounds", night{setups: 4, rounds: 12, fade: 0.87, fadeLag: 0.3, drift: 0.5, driftLag: 0.6}, 0.92, 0.98, 1.3},
		{"8 rounds", night{setups: 4, rounds: 8, fade: 0.87, fadeLag: 0.3, drift: 0.5, driftLag: 0.6}, 0.92, 0.98, 1.3},
		// Limits: without any memory it is too wide, with two setups or slow drift too narrow.
		{"no memory", night{setups: 4, rounds: 24, fade: 0.87}, 0.95, 0.99, 1.35},
		{"two setups, correlated", night{setups: 2, rounds: 24, fade: 0.87, fadeLag: 0.6, drift: 0.5, driftLag: 0.6}, 0.88, 0.96, 1.3},
		{"slow drift", night{setups: 4, rounds: 24, fade: 0.87, fadeLag: 0.3, drift: 2, driftLag: 0.85}, 0.83, 0.93, 1.1},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			random := rand.New(rand.NewPCG(seed, 1))
			n := reporttest.TrialsOr(100)
			held, simple, all, width := 0.0, 0.0, 0.0, 0.0
			var square float64
			for range n {
				c.night.make(random)
				fits, at := c.night.pairs(c.night.errors)
				w := Pool(fits, c.night.setups)
				for j := 1; j < c.night.setups; j++ {
					f := fits[at[[2]int{0, j}]]
					low, high, _ := f.By(w, nil).Interval()
					all++
					width += (high - low) / 2
					square += f.plain[0] * f.plain[0]
					if low <= 0 && high >= 0 {
						held++
					}
					white := make(Weights, len(grid))
					white[0] = 1
					if low, high, _ := f.By(white, nil).Interval(); low <= 0 && high >= 0 {
						simple++
					}
				}
			}
			need := 1.96 * math.Sqrt(square/all)
			t.Logf("%d nights: held in %.3f (as if independent %.3f), half width %.2f dB, %.2f of need", n, held/all, simple/all, width/all, width/all/need)
			// Intervals of one night count as one and a half, so that need is known to 1/√(2·1.5·n).
			slack, rough := 3*math.Sqrt(c.least*(1-c.least)/(1.5*float64(n))), 3/math.Sqrt(2*1.5*float64(n))
			if n >= 1000 {
				slack, rough = 0, 0
			}
			if held/all < c.least-slack || held/all > c.most+slack || width/all/need > c.widest*(1+rough) {
				t.Errorf("held in %.3f at %.2f of need", held/all, width/all/need)
			}
			if n >= 100 && c.night.fadeLag > 0 && simple > held-0.03*all {
				t.Errorf("as if independent %.3f: this test is too easy", simple/all)
			}
		})
	}
}

// An advantage that is 4 dB by day and 0 by night has a mean of 2 dB over as many rounds of both, at
// whichever end of the survey the day is: weighed by their correlation the rounds at the ends would count more.
func TestMeanOfWhatFollowsTheSun(t *testing.T) {
	random := rand.New(rand.NewPCG(reporttest.SeedFor(t), 6))
	y := reporttest.Wander(random, 24, 0.2, 0.5)
	mean := 0.0
	for i := range y {
		if i < 6 || i >= 18 {
			y[i] += 4
		}
		mean += y[i] / 24
	}
	f := Of(of(y...))
	if got := f.By(Pool([]*Fit{f}, 2), nil).Mean; math.Abs(got-mean) > 1e-9 {
		t.Errorf("%.4f dB, want the plain mean %.4f", got, mean)
	}
}
