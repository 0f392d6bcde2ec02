package calibrate

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"nightfloor/survey"
)

// floorOnly gives four sweeps with a density and nothing else in a segment, of each segment's own.
func floorOnly(densities map[survey.Segment]float64) SweepSet {
	h := SweepSet{readings: map[survey.Segment][]survey.Reading{}}
	for s, density := range densities {
		r := survey.Reading{Segment: s, Resolution: 100, Gain: survey.Gain{DB: 30}, Floor: &survey.Floor{Density: survey.DensityOf(density), Sigma: 0.05}}
		h.segments, h.readings[s] = append(h.segments, s), []survey.Reading{r, r, r, r}
	}
	return h
}

// withCarriers adds carriers of some levels in a bin over the density 1e-12, which is −100 dBFS.
func withCarriers(h SweepSet, levels ...survey.DBFS) SweepSet {
	for s, readings := range h.readings {
		for i := range readings {
			for j, level := range levels {
				readings[i].Carriers = append(readings[i].Carriers, survey.Carrier{Frequency: s.Low + survey.Hz(1e4*(j+1)), Power: (-100 + level).Linear(), Sigma: 1e-12, Detected: true})
			}
		}
	}
	return h
}

var band31, band49 = survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}, survey.Segment{Name: "49 m", Low: 5.9e6, High: 6.2e6}

// ownNoiseOf gives a calibration of own noise of a density at a gain of 30 dB.
func ownNoiseOf(density float64) []survey.Calibration {
	c := survey.Calibration{ID: 7}
	for _, s := range []survey.Segment{band31, band49} {
		c.Noise = append(c.Noise, survey.SelfNoise{Segment: s, Gain: 30, Density: survey.DensityOf(density), Sigma: 0.05})
	}
	return []survey.Calibration{c}
}

// tried gives the outcome of one segment whose floor is of a density without and with 10 dB.
func tried(t *testing.T, without, with, after float64, earlier []survey.Calibration) (survey.Linearity, []string) {
	t.Helper()
	of := func(density float64) SweepSet { return floorOnly(map[survey.Segment]float64{band31: density}) }
	found, doubts, err := AttenuatorTest{of(without), of(with), of(after), 10, earlier}.Linearity()
	if err != nil || len(found) != 1 {
		t.Fatalf("%+v, %v", found, err)
	}
	return found[0], doubts
}

// A floor that falls by 10.2 dB looks like noise from outside. With own noise 13.0 dB below it,
// what came from outside fell by 13.2 dB: 18.99 N are left of 19.99 N without the attenuator, 0.909 N of
// 1.909 N with it. Nothing but products falls by more than was put in.
func TestOwnNoiseHidesProducts(t *testing.T) {
	const n = 1e-12
	without, with := 19.99*n, 1.909*n
	l, _ := tried(t, without, with, without, nil)
	if math.Abs(float64(*l.FloorDrop)-10.2) > 0.01 || l.OutsideDrop != nil || l.Verdict != survey.VerdictExternal {
		t.Errorf("own noise not known: %+v", l)
	}
	l, _ = tried(t, without, with, without, ownNoiseOf(n))
	if math.Abs(float64(*l.OutsideDrop)-13.2) > 0.01 || !(*l.OutsideSigma > 0.2 && *l.OutsideSigma < 0.5) || l.Verdict != survey.VerdictProducts {
		t.Errorf("own noise subtracted: %+v", l)
	}
	// Products of the third order alone fall under own noise: that they fell far is known all the same.
	without, with = 11*n, 1.01*n
	if l, _ = tried(t, without, with, without, ownNoiseOf(n)); l.OutsideDrop != nil || *l.FloorDrop > 10.5 || l.Verdict != survey.VerdictProducts {
		t.Errorf("products hidden by own noise: %+v", l)
	}
}

// An antenna delivers −163 dBm/Hz to a receiver of 8 dB noise figure. The attenuator adds room
// noise of its own, kT0·(1 − 1/10): the floor falls by 3.8 dB only. Into a terminator the receiver shows
// kT0·F; subtracted, what the antenna delivers over room noise is left, which falls by 10 dB exactly.
func TestAttenuatorsOwnNoise(t *testing.T) {
	kT := math.Pow(10, -17.3975)
	figure, outside := math.Pow(10, 0.8), math.Pow(10, -16.3)
	without, with := outside+kT*(figure-1), outside/10+kT*(1-0.1)+kT*(figure-1)
	l, _ := tried(t, without, with, without, ownNoiseOf(kT*figure))
	if math.Abs(float64(*l.FloorDrop)-3.78) > 0.02 || math.Abs(float64(*l.OutsideDrop)-10) > 1e-6 || l.Verdict != survey.VerdictMixed {
		t.Errorf("floor fell by %.2f, what comes from outside by %.4f ± %.2f: %s", *l.FloorDrop, *l.OutsideDrop, *l.OutsideSigma, l.Verdict)
	}
}

// Own noise that drifted by 0.6 dB after it was calibrated, twice what is allowed for, makes no
// products of noise from outside that stands 3 to 20 dB over it. What is allowed for puts the drop off by a
// standard error, and by what is not linear in that.
func TestOwnNoiseDrifts(t *testing.T) {
	const n = 1e-12
	for over := 3.0; over <= 20; over++ {
		for _, drift := range []float64{-0.6, -0.3, 0, 0.3, 0.6} {
			outside := n * math.Pow(10, over/10)
			without, with := outside+n, outside/10+n
			l, _ := tried(t, without, with, without, ownNoiseOf(n*math.Pow(10, drift/10)))
			if l.Verdict == survey.VerdictProducts || l.OutsideDrop != nil && math.Abs(drift) <= 0.3 && math.Abs(float64(*l.OutsideDrop-10)) > 1.4*float64(*l.OutsideSigma)+1e-9 {
				t.Errorf("%g dB over own noise that drifted by %g dB: %+v", over, drift, l)
			}
		}
	}
}

// What wanders between the two measurements without the attenuator enters the drop's error, half
// their difference. Over 1 dB it is said, and 1.6 dB leave no verdict.
func TestOutsDiffer(t *testing.T) {
	const n = 1e-11
	for _, test := range []struct {
		change  float64
		doubted bool
		want    string
	}{{0.9, false, survey.VerdictExternal}, {-0.9, false, survey.VerdictExternal}, {1.1, true, survey.VerdictExternal}, {-1.1, true, survey.VerdictExternal}, {1.6, true, survey.VerdictUnclear}} {
		after := n * math.Pow(10, test.change/10)
		l, doubts := tried(t, n, (n+after)/20, after, nil)
		if math.Abs(float64(*l.OutChange)-test.change) > 1e-9 || math.Abs(float64(*l.FloorSigma)-math.Abs(test.change)/2) > 0.03 || math.Abs(float64(*l.FloorDrop)-10) > 1e-9 || l.Verdict != test.want {
			t.Errorf("changed by %g dB: %+v, out change %v, sigma %v", test.change, l, *l.OutChange, *l.FloorSigma)
		}
		if doubted := strings.Contains(strings.Join(doubts, "; "), "31 m by "); doubted != test.doubted {
			t.Errorf("changed by %g dB: %q", test.change, doubts)
		}
	}
}

// Carriers and floors that fall alike by something else than was declared tell of another
// attenuator. Where some fall as declared, the others are products, own noise or compressed.
func TestOtherAttenuation(t *testing.T) {
	const n = 1e-12
	stations := []survey.DBFS{40, 35, 30, 25}
	type falls struct{ carriers31, floor31, carriers49, floor49 survey.DB }
	for _, test := range []struct {
		name  string
		falls falls
		own   float64 // 0: not known
		want  string  // of the error, "" for none
	}{
		{"10 dB", falls{10, 10, 10, 10}, 0, ""},
		{"a pad of 3 dB", falls{3, 3, 3, 3}, 0, "something else: 3.0 dB, not 10"},
		{"a pad of 6 dB", falls{6, 6, 6, 6}, 0, "something else: 6.0 dB, not 10"},
		{"a pad of 6 dB, floors half own noise", falls{6, 3.2, 6, 2}, 0, "something else: 6.0 dB, not 10"},
		{"a pad of 6 dB, mismatched", falls{6, 6.8, 6, 5.3}, n / 100, "something else: 6.0 dB, not 10"},
		{"a pad of 20 dB", falls{20, 20, 20, 20}, 0, "something else: 20.0 dB, not 10"},
		{"a pad of 8.1 dB", falls{8.1, 8.1, 8.1, 8.1}, 0, ""},
		{"a pad of 7.5 dB", falls{7.5, 7.5, 7.5, 7.5}, 0, "something else: 7.5 dB"},
		{"nothing", falls{0, 0, 0, 0}, 0, "took nothing off"},
		{"next to nothing", falls{0.9, 0.9, 0.9, 0.9}, 0, "took nothing off"},
		{"a pad of 1.1 dB", falls{1.1, 1.1, 1.1, 1.1}, 0, "something else: 1.1 dB"},
		{"in and out taken for each other", falls{-10, -10, -10, -10}, 0, "rose by 10.0 dB when it was put in"},
		{"one band of products", falls{20, 20, 10, 10}, 0, ""},
		{"products and own noise", falls{25, 0.1, 25, 0.1}, 0, ""},
		{"carriers that do not care", falls{0, 10, 0, 10}, 0, ""},
		{"carriers apart from floors", falls{6, 13, 6, 13}, 0, ""},
		{"own noise does not explain", falls{6, 4.7, 6, 4.7}, n / 100, ""},
	} {
		without := func() SweepSet {
			return withCarriers(floorOnly(map[survey.Segment]float64{band31: n, band49: n}), stations...)
		}
		with := floorOnly(map[survey.Segment]float64{band31: n / math.Pow(10, float64(test.falls.floor31)/10), band49: n / math.Pow(10, float64(test.falls.floor49)/10)})
		for s, fall := range map[survey.Segment]survey.DB{band31: test.falls.carriers31, band49: test.falls.carriers49} {
			one := withCarriers(SweepSet{readings: map[survey.Segment][]survey.Reading{s: with.readings[s]}}, 40-survey.DBFS(fall), 35-survey.DBFS(fall), 30-survey.DBFS(fall), 25-survey.DBFS(fall))
			with.readings[s] = one.readings[s]
		}
		var earlier []survey.Calibration
		if test.own > 0 {
			earlier = ownNoiseOf(test.own)
		}
		found, _, err := AttenuatorTest{without(), with, without(), 10, earlier}.Linearity()
		switch {
		case test.want == "" && (err != nil || len(found) != 2):
			t.Errorf("%s: %v", test.name, err)
		case test.want != "" && (err == nil || !strings.Contains(err.Error(), test.want) || !errors.Is(err, ErrAttenuator) && !errors.Is(err, ErrAttenuation)):
			t.Errorf("%s: %v, want %q", test.name, err, test.want)
		case errors.Is(err, ErrAttenuation) && strings.Contains(err.Error(), "--attenuation") != (test.falls.carriers31 >= LeastAttenuation):
			t.Errorf("%s: %v; the command takes 6 to 30 dB", test.name, err)
		}
	}
}

// Without stations, floors with own noise subtracted tell what the attenuator takes off; without
// either nothing does, which is said.
func TestAttenuationByFloors(t *testing.T) {
	const n = 1e-12
	of := func(density float64) SweepSet {
		return floorOnly(map[survey.Segment]float64{band31: density, band49: density})
	}
	_, doubts, err := AttenuatorTest{of(20 * n), of(20 * n / 2), of(20 * n), 10, ownNoiseOf(n)}.Linearity()
	if !errors.Is(err, ErrAttenuation) || !strings.Contains(err.Error(), "something else: 3.2 dB, not 10") {
		t.Errorf("%v, %q", err, doubts)
	}
	found, doubts, err := AttenuatorTest{of(20 * n), of(20 * n / 2), of(20 * n), 10, nil}.Linearity()
	if err != nil || len(found) != 2 || len(doubts) != 1 || !strings.Contains(doubts[0], "could not be checked") {
		t.Errorf("%+v, %q, %v", found, doubts, err)
	}
}

// Five strong carriers that fade by 3 dB (standard deviation of a visit's mean), floors that wander by 0.2 dB. An
// attenuator that does what was declared is never refused. One of 6 dB told as 10 is refused, or it is said that
// the carriers leave it open; with own noise known, floors tell.
func TestFadingCarriers(t *testing.T) {
	const trials = 300
	rng := rand.New(rand.NewPCG(1, 2))
	set := func(fall, own float64) SweepSet {
		wanders := 0.2 * rng.NormFloat64()
		var levels []survey.DBFS
		for range 5 {
			levels = append(levels, survey.DBFS(35-fall+3*rng.NormFloat64()))
		}
		return withCarriers(floorOnly(map[survey.Segment]float64{band31: 1e-12*math.Pow(10, (wanders-fall)/10) + own}), levels...)
	}
	for _, test := range []struct {
		pad, own                  float64
		leastRefused, mostRefused float64 // shares of trials
		mostAccepted              float64 // without a doubt
	}{
		{10, 0, 0, 0, 1},
		{10, 1e-13, 0, 0, 1},
		{6, 0, 0, 1, 0.01},
		{6, 1e-13, 0.97, 1, 0.01},
	} {
		refused, accepted := 0, 0
		for range trials {
			var earlier []survey.Calibration
			if test.own > 0 {
				earlier = ownNoiseOf(test.own)
			}
			_, doubts, err := AttenuatorTest{set(0, test.own), set(test.pad, test.own), set(0, test.own), 10, earlier}.Linearity()
			switch {
			case errors.Is(err, ErrAttenuation), errors.Is(err, ErrAttenuator):
				refused++
			case err == nil && !strings.Contains(strings.Join(doubts, "; "), "leaves open what the attenuator takes off"):
				accepted++
			}
		}
		of := func(n int) float64 { return float64(n) / trials }
		t.Logf("%g dB, own noise %g: refused %.3f, accepted without a doubt %.3f", test.pad, test.own, of(refused), of(accepted))
		if of(refused) < test.leastRefused || of(refused) > test.mostRefused || of(accepted) > test.mostAccepted {
			t.Errorf("%g dB, own noise %g: refused %.3f, accepted without a doubt %.3f", test.pad, test.own, of(refused), of(accepted))
		}
	}
}
