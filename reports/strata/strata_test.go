package strata

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/series"
	"nightfloor/reports/stats"
)

// A device of 12 dB through one setup in half of the rounds makes the interval of its advantage some 8 dB wide to either
// side, and one of 18 dB in an eighth or a quarter half of that, where rounds without it lie within
// 0.9 dB. With its states as strata the interval is that of the rounds, be the
// device known by its hours or not; and each state is what it was.
func TestDeviceThroughOneSetup(t *testing.T) {
	seed := reporttest.SeedFor(t)
	for _, c := range []struct {
		name        string
		dB, share   float64
		known       bool
		wide, tight float64 // half widths on the median, dB: without and with strata
	}{
		{"12 dB in half, known", 12, 0.5, true, 3, 1.3},
		{"12 dB in half, not known", 12, 0.5, false, 3, 1.3},
		{"18 dB in an eighth, known", 18, 0.125, true, 4, 1.3},
		{"18 dB in a quarter, not known", 18, 0.25, false, 4, 1.3},
	} {
		t.Run(c.name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(seed, 1))
			h := house{setups: 4, rounds: 24, drift: 0.5, driftLag: 0.6, devices: []device{{raises(4, c.dB, false), c.share, 4, c.known, false}}}
			n := reporttest.TrialsOr(60)
			var with, without []float64
			wrong, rounds, held, off := 0, 0, 0.0, 0.0
			for range n {
				s, on, snr := h.night(random)
				m, p, truth := advantage(Choose(s), on, h, snr)
				width, holds := half(m, truth)
				if holds {
					held += 1 / float64(n)
				}
				off += (m.Mean - truth) / float64(n)
				if met := countTrue(on[0][1]); met >= 2 && met <= h.rounds-2 { // else the night shows one state only
					plain := series.Of(values(snr, 1, 0, nil))
					wide, _ := half(plain.By(series.Pool([]*series.Fit{plain}, 2), nil), 0)
					with, without = append(with, width), append(without, wide)
				}
				for r, stratum := range p.Stratum {
					if stratum < 0 || len(p.States) < 2 {
						continue
					}
					rounds++
					state := p.States[stratum]
					if is := state.Raised > 0 || len(state.Sources) > 0 && state.Sources[0].On; is != on[0][1][r] {
						wrong++
					}
				}
			}
			t.Logf("held in %.3f, off by %.2f dB, half width %.2f dB, without strata %.2f dB; %d of %d rounds in a wrong state",
				held, off, stats.Median(with), stats.Median(without), wrong, rounds)
			slack := 3 * math.Sqrt(0.05*0.95/float64(n))
			if stats.Median(with) > c.tight || stats.Median(without) < c.wide || wrong > rounds/200 {
				t.Errorf("half width %.2f dB, without strata %.2f dB, %d rounds wrong", stats.Median(with), stats.Median(without), wrong)
			}
			if held < 0.92-slack || math.Abs(off) > 0.1+3*0.5/math.Sqrt(float64(n)) {
				t.Errorf("held in %.3f, off by %.2f dB", held, off)
			}
		})
	}
}

// countTrue counts those that hold.
func countTrue(all []bool) (n int) {
	for _, is := range all {
		if is {
			n++
		}
	}
	return n
}

// Five sources that do nothing make no strata, though each is on in half of the rounds; nor do
// they take rounds out.
func TestSourcesThatDoNothing(t *testing.T) {
	random := rand.New(rand.NewPCG(reporttest.SeedFor(t), 2))
	for _, rounds := range []int{8, 24} {
		h := house{setups: 4, rounds: rounds, drift: 0.5, driftLag: 0.6}
		for range 5 {
			h.devices = append(h.devices, device{make([]float64, 4), 0.5, 4, true, false})
		}
		n, taken, left := reporttest.TrialsOr(200), 0, 0
		for range n {
			s, _, _ := h.night(random)
			c := Choose(s)
			taken += len(c.Strata)
			left += len(c.Pair(1, 0).Left)
		}
		t.Logf("%d rounds: of %d nights %d sources taken, %d rounds left out", rounds, n, taken, left)
		// 0.04 a night are due; three pairs share the reference, and a source takes its rounds with it.
		most := 0.06 * float64(n)
		if float64(taken) > most+3*math.Sqrt(2*most) || float64(left) > 4*most+3*math.Sqrt(3*4*most) {
			t.Errorf("%d rounds: %d sources taken of %d nights, %d rounds left out", rounds, taken, n, left)
		}
	}
}

// An unknown device of 18 dB that reaches all setups raises both floors of a pair alike, but for
// the rounds in whose midst it was switched: these are left out, and the rest is one stratum.
func TestUnknownDeviceThatReachesAll(t *testing.T) {
	seed := reporttest.SeedFor(t)
	for name, gainless := range map[string]bool{"gains known": false, "gains not known": true} {
		t.Run(name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(seed, 3))
			h := house{setups: 4, rounds: 24, drift: 0.5, driftLag: 0.6, devices: []device{{raises(4, 18, true), 0.6, 4, false, false}}, gainless: gainless}
			n := reporttest.TrialsOr(100)
			found, midst, wrongly, held, off := 0, 0, 0, 0.0, 0.0
			for range n {
				s, on, snr := h.night(random)
				m, p, truth := advantage(Choose(s), on, h, snr)
				for r, stratum := range p.Stratum {
					switch mixed := on[0][1][r] != on[0][0][r]; {
					case mixed && stratum < 0:
						found, midst = found+1, midst+1
					case mixed:
						midst++
					case stratum < 0:
						wrongly++
					}
				}
				if _, holds := half(m, truth); holds {
					held += 1 / float64(n)
				}
				off += (m.Mean - truth) / float64(n)
			}
			t.Logf("%d of %d rounds with a switching found, %d others left out; held in %.3f, off by %.2f dB", found, midst, wrongly, held, off)
			if float64(found) < 0.95*float64(midst)-3*math.Sqrt(0.05*float64(midst)) || wrongly > n/2 {
				t.Errorf("%d of %d rounds with a switching found, %d others left out", found, midst, wrongly)
			}
			if held < 0.92-3*math.Sqrt(0.05*0.95/float64(n)) || math.Abs(off) > 0.1+3*0.5/math.Sqrt(float64(n)) {
				t.Errorf("held in %.3f, off by %.2f dB", held, off)
			}
		})
	}
}

// A known source that raises all floors alike makes no strata, but rounds in whose midst it was
// switched do not count.
func TestKnownDeviceThatReachesAll(t *testing.T) {
	random := rand.New(rand.NewPCG(reporttest.SeedFor(t), 4))
	h := house{setups: 4, rounds: 24, drift: 0.5, driftLag: 0.6, devices: []device{{raises(4, 18, true), 0.5, 4, true, false}}}
	left, midst, wrongly := 0, 0, 0
	for range reporttest.TrialsOr(100) {
		s, on, _ := h.night(random)
		p := Choose(s).Pair(2, 0)
		for r, stratum := range p.Stratum {
			switch mixed := on[0][2][r] != on[0][0][r]; {
			case mixed && stratum < 0:
				left, midst = left+1, midst+1
			case mixed:
				midst++
			case stratum < 0:
				wrongly++
			}
		}
	}
	t.Logf("%d of %d rounds in whose midst it was switched are left out, %d others", left, midst, wrongly)
	if float64(left) < 0.98*float64(midst) || wrongly > midst/5 {
		t.Errorf("%d of %d rounds in whose midst it was switched are left out, %d others", left, midst, wrongly)
	}
}

// What a known source does to one floor is not taken for the switching of another device that is
// not known and reaches both.
func TestKnownBesideUnknown(t *testing.T) {
	random := rand.New(rand.NewPCG(reporttest.SeedFor(t), 7))
	h := house{setups: 3, rounds: 24, drift: 0.5, driftLag: 0.6, devices: []device{
		{raises(3, 12, false), 0.4, 4, true, false}, {raises(3, 18, true), 0.4, 6, false, false}}}
	n := reporttest.TrialsOr(60)
	switched, left, wrong, wide := 0, 0, 0, []float64{}
	for range n {
		s, on, snr := h.night(random)
		m, p, truth := advantage(Choose(s), on, h, snr)
		for r, stratum := range p.Stratum {
			switch mixed := on[0][1][r] != on[0][0][r] || on[1][1][r] != on[1][0][r]; {
			case mixed:
				switched++
			case stratum < 0:
				left++
			case len(p.States[stratum].Sources) > 0 && p.States[stratum].Sources[0].On != on[0][1][r]:
				wrong++
			}
		}
		width, _ := half(m, truth)
		wide = append(wide, width)
	}
	t.Logf("%d rounds with a switching; %d others left out, %d in a wrong state; half width %.2f dB", switched, left, wrong, stats.Median(wide))
	if most := 0.4 * float64(n); float64(left) > most+3*math.Sqrt(5*most) || wrong > 0 || stats.Median(wide) > 1.3 {
		t.Errorf("%d rounds with a switching; %d others left out, %d in a wrong state; half width %.2f dB", switched, left, wrong, stats.Median(wide))
	}
}

// Nights without any device, and nights that drift slowly, have one stratum and every round.
func TestNightsWithoutADevice(t *testing.T) {
	seed := reporttest.SeedFor(t)
	for _, c := range []struct {
		name            string
		rounds          int
		drift, driftLag float64
		most            float64 // share of nights with strata
	}{
		{"24 rounds", 24, 0.5, 0.6, 0},
		{"60 rounds", 60, 0.5, 0.6, 0},
		{"slow drift", 24, 2, 0.85, 0.005},
		{"slow drift, 60 rounds", 60, 2, 0.85, 0.005},
		{"8 rounds, wild", 8, 2, 0, 0.03},
	} {
		random := rand.New(rand.NewPCG(seed, 5))
		n := reporttest.TrialsOr(200)
		split, left := 0.0, 0
		for range n {
			s, _, _ := house{setups: 3, rounds: c.rounds, drift: c.drift, driftLag: c.driftLag}.night(random)
			p := Choose(s).Pair(1, 0)
			if len(p.States) > 1 {
				split++
			}
			left += len(p.Left)
		}
		t.Logf("%s: %.3f have strata, %d rounds left out", c.name, split/float64(n), left)
		slack := 3 * math.Sqrt(max(c.most, 0.001)/float64(n))
		if split/float64(n) > c.most+slack || float64(left) > (c.most+slack)*float64(n) {
			t.Errorf("%s: %.3f have strata, %d rounds left out", c.name, split/float64(n), left)
		}
	}
}

// plain makes a segment of two setups whose floors are as given, the second the reference, in rounds of
// an hour, the reference half an hour later.
func plain(floor, reference []float64, sources ...Source) Segment {
	s := Segment{Floors: [][]float64{floor, reference}, Visits: make([][]time.Time, 2), Sources: sources, Reference: 1}
	for n := range floor {
		at := evening.Add(time.Duration(n) * time.Hour)
		s.Visits[0], s.Visits[1] = append(s.Visits[0], at), append(s.Visits[1], at.Add(30*time.Minute))
	}
	return s
}

// hours gives a span between two times in hours of the evening.
func hours(from, to float64) input.Span {
	at := func(h float64) time.Time { return evening.Add(time.Duration(h * float64(time.Hour))) }
	return input.Span{First: at(from), Last: at(to)}
}

// zeros gives a floor that stands still, with some rounds set.
func zeros(n int, set map[int]float64) []float64 {
	floor := make([]float64, n)
	for i := range floor {
		floor[i] = 0.1 * float64(i%3)
		floor[i] += set[i]
	}
	return floor
}

// The rounds of a source that moves one floor by 12 dB and the other by 4: with it, without it, that in whose midst it
// went, and one of which neither its hours nor the floors tell.
func TestStatesOfASource(t *testing.T) {
	floor := zeros(10, map[int]float64{0: 12, 1: 12, 2: 12, 3: 12, 9: 5})
	source := Source{ID: 2, On: []input.Span{hours(0, 3.2)}, Off: []input.Span{hours(3.4, 8.7)}}
	c := Choose(plain(floor, zeros(10, map[int]float64{0: 4, 1: 4, 2: 4}), source))
	p := c.Pair(0, 1)
	if want := []int{0, 0, 0, -1, 1, 1, 1, 1, 1, -1}; !slices.Equal(p.Stratum, want) {
		t.Errorf("strata %v, want %v", p.Stratum, want)
	}
	if len(p.States) != 2 || p.States[0].String() != "source 2 on" || p.States[1].String() != "source 2 off" {
		t.Errorf("states %q", p.States)
	}
	if want := []Left{{3, SwitchedInMidst, 2}, {9, NotKnown, 2}}; !slices.Equal(p.Left, want) {
		t.Errorf("left out %v, want %v", p.Left, want)
	}
	// Between two states, those two rounds count half to each.
	all := func(int) bool { return true }
	if got, want := p.Weights(all), []float64{4, 6}; !slices.Equal(got, want) {
		t.Errorf("weights %v, want %v", got, want)
	}
	if got, want := p.Weights(func(n int) bool { return n > 5 }), []float64{0.5, 3.5}; !slices.Equal(got, want) {
		t.Errorf("weights from round 6 on %v, want %v", got, want)
	}
	// The other way round the strata are the same.
	if q := c.Pair(1, 0); !slices.Equal(q.Stratum, p.Stratum) || q.States[0].String() != "source 2 on" {
		t.Errorf("%v, %v", q.Stratum, q.States)
	}
}

// A source must move the difference by over 1 dB, and by chance so far once in 370 times only,
// 0.27 %, by the distribution of its step.
func TestWhatASourceMustMove(t *testing.T) {
	source := Source{ID: 1, On: []input.Span{hours(0, 11.9)}, Off: []input.Span{hours(12, 30)}}
	scatter := []float64{0.3, -1.1, 0.9, -0.2, 1.4, -1.3, 0.1, 0.6, -0.7, 1.0, -0.9, -0.1}
	floors := func(step, scale float64) []float64 {
		x := make([]float64, 24)
		for n := range x {
			if x[n] = scale * scatter[(5*n)%12]; n < 12 {
				x[n] += step
			}
		}
		return x
	}
	least := func(scale float64) float64 { // the least step that is taken
		low, high := 0.0, 20.0
		for range 30 {
			middle := (low + high) / 2
			if len(Choose(plain(floors(middle, scale), make([]float64, 24), source)).Strata) > 0 {
				high = middle
			} else {
				low = middle
			}
		}
		return high
	}
	if got := least(0.01); math.Abs(got-1) > 0.01 {
		t.Errorf("of small scatter a step of %.3f dB is taken, want 1 dB", got)
	}
	x := series.Series{Values: floors(least(2), 2), Stratum: slices.Concat(make([]int, 12), slices.Repeat([]int{1}, 12))}
	for n := range x.Values {
		x.Times = append(x.Times, float64(n))
	}
	fit := series.Of(x)
	step := fit.Sum(series.Pool([]*series.Fit{fit}, 2), func(stratum int) float64 { return float64(1 - 2*stratum) })
	if p := 2 * step.CDF(0); math.Abs(p-0.0027) > 1e-4 {
		t.Errorf("a step of %.2f dB is taken that comes by chance in %.4f, want 0.0027", step.Mean, p)
	}
}

// Judged by its scatter alone, as if rounds were independent, a floor that drifts slowly seems to be moved by a
// source that is on in half of the night and does nothing, in a fifth of the nights.
func TestSlowDriftIsNoSource(t *testing.T) {
	random := rand.New(rand.NewPCG(reporttest.SeedFor(t), 6))
	h := house{setups: 2, rounds: 24, drift: 2, driftLag: 0.85, devices: []device{{make([]float64, 2), 0.5, 12, true, false}}}
	n, taken, simple := reporttest.TrialsOr(200), 0.0, 0.0
	for range n {
		s, _, _ := h.night(random)
		c := Choose(s)
		p := c.pair(1, 0)
		taken += float64(len(c.Strata))
		var with, without moments
		for r, x := range p.x {
			switch p.state(0, r) {
			case on:
				with.add(x)
			case off:
				without.add(x)
			}
		}
		scatter := math.Sqrt((with.squares() + without.squares()) / (with.n + without.n - 2))
		if step := math.Abs(with.mean() - without.mean()); with.n > 1 && without.n > 1 && step > max(1, 3*scatter*math.Sqrt(1/with.n+1/without.n)) {
			simple++
		}
	}
	t.Logf("of %d nights it is taken in %.0f, by scatter alone in %.0f", n, taken, simple)
	if most := 0.02 * float64(n); taken > most+3*math.Sqrt(most) || simple < 0.08*float64(n) {
		t.Errorf("of %d nights it is taken in %.0f, by scatter alone in %.0f", n, taken, simple)
	}
}

// A source that raises both floors alike shows in the rounds in whose midst it was switched alone:
// by over 1 dB and 3 standard errors there.
func TestSwitchedInTheMidst(t *testing.T) {
	// It comes on between the two visits of round 5.
	source := Source{ID: 3, Off: []input.Span{hours(0, 5.4)}, On: []input.Span{hours(5.45, 20)}}
	at := func(step, scatter float64) int {
		floor := make([]float64, 13)
		for n := range floor {
			floor[n] = scatter * []float64{1, -1, 0}[n%3] // of the twelve others √(8/11) times scatter
		}
		floor[5] = -step // the reference alone stands raised
		return len(Choose(plain(floor, make([]float64, 13), source)).Switched)
	}
	// Standard error of one against twelve at a scatter of 1: 0.853·√(1 + 1/12) = 0.888, three of it 2.66.
	for _, c := range []struct {
		step, scatter float64
		want          int
	}{{0.97, 0.1, 0}, {1.03, 0.1, 1}, {2.6, 1, 0}, {2.75, 1, 1}, {-9, 0.1, 0}} {
		if got := at(c.step, c.scatter); got != c.want {
			t.Errorf("%.2f dB at scatter %.1f: %d, want %d", c.step, c.scatter, got, c.want)
		}
	}
}

// Two sources are told apart, the one that moves the floor more first; a third with the same hours as one of
// them adds nothing.
func TestSeveralSources(t *testing.T) {
	floor := zeros(12, map[int]float64{0: 12, 1: 12, 2: 12, 3: 17, 4: 17, 5: 17, 6: 5, 7: 5, 8: 5})
	a := Source{ID: 1, On: []input.Span{hours(3, 8.9)}, Off: []input.Span{hours(0, 2.9), hours(9, 13)}}
	b := Source{ID: 2, On: []input.Span{hours(0, 5.9)}, Off: []input.Span{hours(6, 13)}}
	same := b
	same.ID = 3
	p := Choose(plain(floor, zeros(12, nil), same, a, b)).Pair(0, 1)
	var names []string
	for _, s := range p.States {
		names = append(names, s.String())
	}
	if want := []string{"source 1 on, 3 on", "source 1 on, 3 off", "source 1 off, 3 on", "source 1 off, 3 off"}; !slices.Equal(names, want) {
		t.Errorf("states %q, want %q", names, want)
	}
	if want := []int{2, 2, 2, 0, 0, 0, 1, 1, 1, 3, 3, 3}; !slices.Equal(p.Stratum, want) {
		t.Errorf("strata %v, want %v", p.Stratum, want)
	}
}

// A step that no source explains makes strata, whichever floor it raises; a state of one round is
// none.
func TestStepsWithoutASource(t *testing.T) {
	step := zeros(10, map[int]float64{0: 9, 1: 9, 2: 9, 3: 9, 4: 9, 5: 9, 8: 30})
	for name, c := range map[string]Segment{"setup": plain(step, zeros(10, nil)), "reference": plain(zeros(10, nil), step)} {
		p := Choose(c).Pair(0, 1)
		if want := []int{1, 1, 1, 1, 1, 1, 0, 0, -1, 0}; !slices.Equal(p.Stratum, want) {
			t.Errorf("%s: strata %v, want %v", name, p.Stratum, want)
			continue
		}
		if p.States[0].String() != "floor not raised" || p.States[1].String() != "floor raised, no source known" {
			t.Errorf("%s: states %q", name, p.States)
		}
		if want := []Left{{8, OneRoundOnly, 0}}; !slices.Equal(p.Left, want) {
			t.Errorf("%s: left out %v", name, p.Left)
		}
	}
	// Two steps are told apart by their heights; with a known source both are named.
	two := zeros(12, map[int]float64{0: 9, 1: 9, 2: 9, 3: 20, 4: 20, 5: 20})
	p := Choose(plain(two, zeros(12, nil))).Pair(0, 1)
	if len(p.States) != 3 || p.States[1].String() != "floor raised by 9 dB, no source known" || p.States[2].String() != "floor raised by 20 dB, no source known" {
		t.Errorf("states %q", p.States)
	}
	source := Source{ID: 4, On: []input.Span{hours(0, 5.9)}, Off: []input.Span{hours(6, 13)}}
	p = Choose(plain(two, zeros(12, nil), source)).Pair(0, 1)
	if len(p.States) != 3 || p.States[1].String() != "source 4 on; floor raised, no source known" || p.States[2].String() != "source 4 off" {
		t.Errorf("states %q", p.States)
	}
	// Rounds with the source on are one state, too, as they are of pairs that nothing else reaches.
	for i, want := range [][]string{{"source 4 on", "source 4 on; floor not raised"}, {"source 4 on", "source 4 on; floor raised, no source known"}, {"source 4 off"}} {
		if got := p.States[i].Names(); !slices.Equal(got, want) {
			t.Errorf("names %q, want %q", got, want)
		}
	}
}

// Steps that were found with their instants, and no source, are a source without a number: rounds
// of an hour from 2 to 5 h are raised, by 2 dB, too little to stand out by itself. In the hour
// before and after nobody knows, and what lies between belongs to neither.
func TestStepsWithInstants(t *testing.T) {
	at := func(h float64) *time.Time { return new(hours(h, h).First) }
	step := func(from, to *time.Time, sources ...int) result.Rise {
		return result.Rise{Kind: result.RiseStep, From: from, To: to, Sources: sources}
	}
	steps, ok := Steps([]result.Rise{step(at(2), at(5.5)), step(at(7), at(8), 3), {Kind: result.RiseNight, From: at(0), To: at(9)}}, time.Hour)
	p := Choose(plain(zeros(12, map[int]float64{1: 1, 2: 2, 3: 2, 4: 2, 5: 2, 6: 1}), zeros(12, nil), steps)).Pair(0, 1)
	if want := []int{1, -1, 0, 0, 0, 0, -1, 1, 1, 1, 1, 1}; !ok || !slices.Equal(p.Stratum, want) {
		t.Errorf("strata %v, want %v", p.Stratum, want)
	}
	if len(p.States) != 2 || p.States[0].String() != "floor raised, no source known" || p.States[1].String() != "floor not raised" {
		t.Errorf("states %q", p.States)
	}
	// One that was not seen to begin was there before; two that overlap leave nothing between them.
	steps, _ = Steps([]result.Rise{step(at(3), at(6)), step(nil, at(4)), step(at(9), nil)}, time.Hour)
	for h, want := range []state{on, on, on, on, on, on, on, off, off, on, on} {
		if got := steps.at(*at(float64(h))); got != want {
			t.Errorf("at %d h: %d, want %d", h, got, want)
		}
	}
	if _, ok := Steps(nil, time.Hour); ok {
		t.Error("a source of no steps")
	}
}

// Without floors that compare there is one stratum, of all rounds; where other pairs have chosen a
// source, its states.
func TestFloorsNotKnown(t *testing.T) {
	nothing := slices.Repeat([]float64{math.NaN()}, 10)
	source := Source{ID: 2, On: []input.Span{hours(0, 4.9)}, Off: []input.Span{hours(5, 12)}}
	s := plain(nothing, zeros(10, nil), source)
	p := Choose(s).Pair(0, 1)
	if len(p.States) != 1 || p.States[0].String() != "" || slices.Contains(p.Stratum, -1) {
		t.Errorf("%v, states %q", p.Stratum, p.States)
	}
	s.Floors, s.Visits = append(s.Floors, zeros(10, map[int]float64{0: 12, 1: 12, 2: 12, 3: 12, 4: 12})), append(s.Visits, s.Visits[0])
	p = Choose(s).Pair(0, 1)
	if len(p.States) != 2 || p.States[0].String() != "source 2 on" || p.Stratum[4] != 0 || p.Stratum[5] != 1 {
		t.Errorf("%v, states %q", p.Stratum, p.States)
	}
	// One floor that is not known says not in which group the round is.
	gap := zeros(10, map[int]float64{0: 9, 1: 9, 2: 9, 3: math.NaN()})
	p = Choose(plain(gap, zeros(10, nil))).Pair(0, 1)
	if want := []Left{{3, FloorNotKnown, 0}}; !slices.Equal(p.Left, want) || p.Stratum[3] != -1 {
		t.Errorf("%v, left out %v", p.Stratum, p.Left)
	}
	// Where there are no groups it does no harm.
	p = Choose(plain(zeros(10, map[int]float64{3: math.NaN()}), zeros(10, nil))).Pair(0, 1)
	if len(p.Left) > 0 || len(p.States) != 1 {
		t.Errorf("%v, left out %v", p.Stratum, p.Left)
	}
}

// Rounds that were not measured through both setups count for nothing, and are not said to be
// left out.
func TestRoundsNotMeasured(t *testing.T) {
	s := plain(zeros(6, nil), zeros(6, nil))
	s.Visits[0][2], s.Visits[1][4] = time.Time{}, time.Time{}
	p := Choose(s).Pair(0, 1)
	if want := []int{0, 0, -1, 0, -1, 0}; !slices.Equal(p.Stratum, want) || len(p.Left) > 0 {
		t.Errorf("%v, left out %v", p.Stratum, p.Left)
	}
	for _, s := range []Segment{{Reference: -1}, plain(nil, nil), plain([]float64{1}, []float64{2}), plain([]float64{1, 20}, []float64{2, 2})} {
		c := Choose(s)
		if len(s.Floors) > 0 {
			if p := c.Pair(0, 1); slices.Contains(p.Stratum, -1) || len(p.States) > 1 {
				t.Errorf("%+v", p)
			}
		}
	}
}

// What raises the floor beside steps that are known by their instants is not called by the same name.
func TestRaisedFurther(t *testing.T) {
	steps := []SourceState{{ID: 0, On: true}}
	for _, test := range []struct {
		state State
		want  string
	}{
		{State{Sources: steps, Levels: 1}, "floor raised, no source known"},
		{State{Sources: steps, Raised: 1, Levels: 2, By: 12}, "floor raised, no source known; raised further by 12 dB"},
		{State{Sources: steps, Levels: 2}, "floor raised, no source known; not raised further"},
		{State{Sources: []SourceState{{ID: 2}}, Raised: 1, Levels: 2, By: 12}, "source 2 off; floor raised, no source known"},
	} {
		if got := test.state.String(); got != test.want {
			t.Errorf("%q, want %q", got, test.want)
		}
	}
}

// Reasons are told once each, with all sources that they go for.
func TestReasons(t *testing.T) {
	for _, test := range []struct {
		left []Left
		want string
	}{
		{[]Left{{1, SwitchedInMidst, 3}, {4, NotKnown, 3}, {5, SwitchedInMidst, 2}, {7, SwitchedInMidst, 3}},
			"sources 2 and 3 were switched in the midst of the round; not known whether source 3 was on"},
		{[]Left{{1, NotKnown, 0}, {2, NotKnown, 1}, {3, FloorNotKnown, 0}},
			"not known whether what raises the floor and source 1 were on; the floor is not known, and so not which state of it"},
		{[]Left{{2, SwitchedInMidst, 0}, {3, RaisedInMidst, 0}, {6, OneRoundOnly, 0}},
			"what raises the floor was switched in the midst of the round; the floor rose or fell in the midst of the round; in a state of the noise sources that was met in one round only"},
	} {
		if got := Reasons(test.left); got != test.want {
			t.Errorf("got  %s\nwant %s", got, test.want)
		}
	}
}

// A known device that one setup alone hears, met in its midst in one round and whole in the next: both rounds are of one
// state. One whole round does not tell that it raises both floors alike, which would leave both out.
func TestOneWholeRoundTellsNoReach(t *testing.T) {
	start := time.Date(2026, 11, 3, 18, 0, 0, 0, time.UTC)
	at := func(minutes int) time.Time { return start.Add(time.Duration(minutes) * time.Minute) }
	s := Segment{Reference: 1, Floors: make([][]float64, 2), Visits: make([][]time.Time, 2),
		Sources: []Source{{ID: 1, On: []input.Span{{First: at(160), Last: at(200)}}, Off: []input.Span{{First: at(0), Last: at(800)}}}}}
	for n := range 24 {
		raised := 0.0
		if n == 5 || n == 6 { // setup 1 was visited at 150, before the device came on, and at 180
			raised = 25
		}
		s.Floors[0], s.Floors[1] = append(s.Floors[0], raised+0.1*float64(n%3)), append(s.Floors[1], 0)
		s.Visits[0], s.Visits[1] = append(s.Visits[0], at(30*n+15)), append(s.Visits[1], at(30*n))
	}
	p := Choose(s).Pair(0, 1)
	if len(p.Left) > 0 || p.Stratum[5] != p.Stratum[6] || p.Stratum[5] == p.Stratum[4] {
		t.Errorf("strata %v, left out %v", p.Stratum, p.Left)
	}
}
