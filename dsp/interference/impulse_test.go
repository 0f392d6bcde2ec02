package interference

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/dsp/envelope"
)

// impulsesIn looks for impulses in half a second of 24 channels of noise in which raised tells
// which channels are raised at 0.1, 0.2, 0.3 and 0.4 s, for so many samples, to over times
// their power.
func impulsesIn(channels, samples int, over float64, raised func(k int) bool) int {
	r := rand.New(rand.NewPCG(9, 9))
	c := &envelope.Channels{Rate: 18750, Length: 9375, Low: 0, High: 100}
	c.Sum = make([]float64, c.Length)
	for k := range channels {
		c.Density = append(c.Density, 1e-9)
		for i := range c.Length {
			p := r.ExpFloat64()
			if i >= 1875 && i < 9000 && i%1875 < samples && raised(k) {
				p *= over
			}
			c.Power = append(c.Power, float32(p))
			c.Sum[i] += p / float64(channels)
		}
	}
	var d impulseDetector
	d.reset()
	d.add(c, 100)
	return d.count
}

// Impulses raise nearly all channels, the lower and the upper third as well as the others, for
// about a millisecond at most, 19 samples; four channels are the fewest that tell.
func TestImpulsesAreEverywhere(t *testing.T) {
	all := func(int) bool { return true }
	for _, test := range []struct {
		name              string
		channels, samples int
		over              float64
		raised            func(k int) bool
		want              int
	}{
		{"all", 24, 5, 100, all, 4},
		{"nine tenths", 24, 5, 100, func(k int) bool { return k%10 != 5 }, 4},
		{"two thirds", 24, 5, 100, func(k int) bool { return k%3 != 1 }, 0},
		{"all but the upper fifth", 24, 5, 100, func(k int) bool { return k < 19 }, 0},
		{"all but three of the upper eight", 24, 5, 100, func(k int) bool { return k < 21 }, 4},
		{"0.9 ms", 24, 17, 100, all, 4},
		{"2 ms", 24, 40, 100, all, 0},
		{"four channels", 4, 5, 1000, all, 4},
		{"three", 3, 5, 1000, all, 0},
		{"noise", 24, 0, 1, all, 0},
	} {
		if got := impulsesIn(test.channels, test.samples, test.over, test.raised); got != test.want {
			t.Errorf("%s: %d impulses, want %d", test.name, got, test.want)
		}
	}
}

// Impulses that come with the mains' modulation are impulses only where they stand singly.
func TestImpulsesWithTheMains(t *testing.T) {
	for _, test := range []struct {
		name   string
		n      int
		off    float64 // periods by which every other comes late
		excess float64
		found  bool
	}{
		{"weak, in step", 8, 0, 5, false},
		{"strong, in step", 8, 0, 20, true},
		{"weak, but few", 7, 0, 5, true},
		{"weak, half of them in step", 8, 0.4, 5, true}, // coherence cos(0.4π) = 0.31
		{"weak, roughly in step", 8, 0.25, 5, false},    // cos(π/4) = 0.71
	} {
		d := impulseDetector{count: test.n, seconds: 0.5}
		for i := range test.n {
			at := float64(i*i) / 100
			if i%2 == 1 {
				at += test.off / 100
			}
			d.list = append(d.list, impulse{at: at, excess: test.excess})
		}
		if got := d.result(&MainsModulation{Envelope: 100}); (got != nil) != test.found {
			t.Errorf("%s: %+v", test.name, got)
		}
	}
}

// The level beside a sample is that of the 2 ms from 0.2 ms on, on either side: what fills over a
// quarter of them raises it.
func TestBesideAnImpulse(t *testing.T) {
	const rate, at = 20e3, 1000
	for _, test := range []struct {
		from, to float64 // ms from the sample, where the power is 100 instead of 1
		raised   bool
	}{{0.2, 0.9, true}, {1.5, 2.2, true}, {0.2, 0.6, false}, {2.3, 9, false}} {
		c := &envelope.Channels{Rate: rate, Length: 2 * at, Sum: make([]float64, 2*at)}
		for i := range c.Sum {
			c.Sum[i] = 1
			if away := math.Abs(float64(i-at)) / rate * 1e3; away >= test.from && away < test.to {
				c.Sum[i] = 100
			}
		}
		var d impulseDetector
		for _, direction := range []int{-1, +1} {
			if level := d.beside(c, at, direction, 24); (level > 10) != test.raised {
				t.Errorf("raised from %v to %v ms: level %.1f, want raised %v", test.from, test.to, level, test.raised)
			}
		}
	}
}

// One impulse in half a second tells no rate of 2 a second but one of 0.05 to 11; those with a period have no interval
// by chance.
func TestIntervalOfARate(t *testing.T) {
	d := impulseDetector{seconds: 0.5, count: 1, list: []impulse{{at: 0.2, excess: 100}}}
	if i := d.result(nil); i.Regular || math.Abs(i.Low-0.0253/0.5) > 1e-3 || math.Abs(i.High-5.572/0.5) > 1e-2 || i.Low > i.Rate || i.Rate > i.High {
		t.Errorf("%+v", i)
	}
	d = impulseDetector{seconds: 0.5, count: 6, list: []impulse{{at: 0.05}, {at: 0.1}, {at: 0.15}, {at: 0.2}, {at: 0.25}, {at: 0.3}}}
	if i := d.result(nil); !i.Regular || i.Low != 0 || i.High != 0 {
		t.Errorf("with a period: %+v", i)
	}
}

// Outside of spans of overload impulses are counted in what is left; in and beside them none are, and of under half
// of the time nothing is told.
func TestImpulsesOutsideOverload(t *testing.T) {
	i := &Impulses{Count: 5, seconds: 1, list: []impulse{{at: 0.05}, {at: 0.2985}, {at: 0.35}, {at: 0.404}, {at: 0.91}}}
	got := i.Outside([]Span{{0.3, 0.34}, {0.341, 0.4}})
	if got == nil || got.Count != 2 || math.Abs(got.Rate-2/(1-0.1088)) > 1e-9 {
		t.Errorf("%+v", got)
	}
	for _, spans := range [][]Span{{{0, 0.6}}, {{0, 0.41}, {0.9, 0.92}}} {
		if got := i.Outside(spans); got != nil {
			t.Errorf("%v: %+v", spans, got)
		}
	}
}
