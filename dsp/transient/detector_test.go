package transient

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"nightfloor/dsp/spectrum"
)

// Chunks for tests: 64 frames 7 ms apart, 6400 columns of noise.
const (
	testFrames = 64
	testHop    = 7e-3
	testBins   = 6400
)

// judge gives the verdicts on a chunk of noise whose power goes by frame.
func judge(seed uint64, power func(frame int) float64) (verdicts []spectrum.Verdict, sigma float64) {
	r := rand.New(rand.NewPCG(seed, 1))
	d := NewDetector(testFrames, 300e3)
	re, im := make([]float32, testBins), make([]float32, testBins)
	for f := range testFrames {
		a := math.Sqrt(power(f) / 2)
		for i := range re {
			re[i], im[i] = float32(a*r.NormFloat64()), float32(a*r.NormFloat64())
		}
		d.Add(re, im)
	}
	verdicts, _ = d.Judge(testFrames, testHop, true)
	whole := d.passages[len(d.passages)-1]
	return verdicts, float64(whole.sigma)
}

// leftOut counts the frames that are not kept.
func leftOut(verdicts []spectrum.Verdict) (n int) {
	for _, v := range verdicts {
		if v != spectrum.Kept {
			n++
		}
	}
	return n
}

// between gives a power of up over 1 in the frames from…to.
func between(from, to int, up float64) func(frame int) float64 {
	return func(f int) float64 {
		if f >= from && f < to {
			return 1 + up
		}
		return 1
	}
}

// A frame of noise passes six standard deviations in 1e-9 of all, whichever passage is looked
// at; a pulse of twelve is found.
func TestRiseOfAPulse(t *testing.T) {
	frames := func(up float64) (out int) {
		for seed := range uint64(10) {
			verdicts, _ := judge(seed, between(30, 32, up))
			out += leftOut(verdicts)
		}
		return out
	}
	_, sigma := judge(1, between(0, 0, 0))
	if n := frames(0); n > 0 {
		t.Errorf("%d frames of noise left out", n)
	}
	if n := frames(12 * sigma); n < 18 {
		t.Errorf("%d frames of 20 with pulses left out", n)
	}
}

// A transmission of a tenth of a second is left out, one that is longer is noise.
func TestLongTransmissionsAreNoise(t *testing.T) {
	for _, test := range []struct{ frames, want int }{{14, 14}, {20, 0}} { // 98 and 140 ms
		verdicts, _ := judge(3, between(20, 20+test.frames, 1))
		// A frame of noise beside one is left out with it where it stands 2 sigma high.
		if n := leftOut(verdicts); n < test.want || n > test.want+test.want/7 {
			t.Errorf("%d frames of a transmission: %d left out, want %d", test.frames, n, test.want)
		}
	}
}

// A pulse differs from frame to frame, a transmission does not.
func TestPulsesAndTransmissions(t *testing.T) {
	for _, test := range []struct {
		low  float64 // of every other frame
		want spectrum.Verdict
	}{{0.5, spectrum.LeftLong}, {0.1, spectrum.LeftOut}} {
		verdicts, _ := judge(4, func(f int) float64 {
			switch {
			case f < 20 || f >= 30:
				return 1
			case f%2 == 0:
				return 4
			}
			return 1 + 3*test.low
		})
		if verdicts[25] != test.want {
			t.Errorf("every other frame %v as strong: verdict %v, want %v", test.low, verdicts[25], test.want)
		}
	}
}

// What comes often is noise: 22 pulses a second, 5.5 transmissions, a quarter of the time,
// seven tenths of the frames, or at even intervals. It is certain beyond a margin.
func TestPassages(t *testing.T) {
	irregular := []float64{0, 0.31, 0.42, 1.1, 1.17, 1.9}
	for _, test := range []struct {
		name               string
		s                  Passages
		transient, certain bool
	}{
		{"nothing", Passages{Seconds: 1}, true, true},
		{"21 pulses", Passages{Seconds: 1, leftOut: 0.3, pulses: 21}, true, true},
		{"23 pulses", Passages{Seconds: 1, leftOut: 0.3, pulses: 23}, false, true},
		{"69 % of the frames", Passages{Seconds: 1, leftOut: 0.69}, true, true},
		{"71 %", Passages{Seconds: 1, leftOut: 0.71}, false, true},
		{"4 transmissions a second", Passages{Seconds: 2, leftOut: 0.3, transmissions: 9, busy: 0.2}, true, true},
		{"5", Passages{Seconds: 2, leftOut: 0.3, transmissions: 11, busy: 0.2}, true, false},
		{"6", Passages{Seconds: 2, leftOut: 0.3, transmissions: 13, busy: 0.2}, false, false},
		{"10", Passages{Seconds: 2, leftOut: 0.3, transmissions: 21, busy: 0.2}, false, true},
		{"a fifth of the time", Passages{Seconds: 1, leftOut: 0.3, busy: 0.19}, true, true},
		{"more", Passages{Seconds: 1, leftOut: 0.3, busy: 0.23}, true, false},
		{"over a quarter", Passages{Seconds: 1, leftOut: 0.3, busy: 0.27}, false, false},
		{"over a third", Passages{Seconds: 1, leftOut: 0.4, busy: 0.36}, false, true},
		{"irregular", Passages{Seconds: 2, leftOut: 0.3, transmissions: 6, starts: irregular, hop: testHop}, true, true},
		{"regular", Passages{Seconds: 2, leftOut: 0.3, transmissions: 5, starts: []float64{0, 0.4, 0.81, 1.2, 1.6}, hop: testHop}, false, false},
	} {
		if transient, certain := test.s.Transient(); transient != test.transient || certain != test.certain {
			t.Errorf("%s: transient %v, certain %v", test.name, transient, certain)
		}
	}
}

// The level without transients, and by how much it swings, are the mean and the standard
// deviation that the lower half of normal values tells.
func TestUsualOfNormalFrames(t *testing.T) {
	const frames, sd = 400, 0.05
	d := NewDetector(frames, 300e3)
	for f := range frames {
		z := distuv.UnitNormal.Quantile((float64(f*37%frames) + 0.5) / frames)
		for range subBands {
			d.level = append(d.level, float32(math.Exp(sd*z)))
		}
	}
	d.Judge(frames, testHop, true)
	mean := sd * 0.5244 // over base, the quantile 30 %
	whole := d.passages[len(d.passages)-1]
	if math.Abs(float64(whole.sigma)/sd-1) > 0.05 || math.Abs(float64(whole.usual)-mean) > 0.1*sd {
		t.Errorf("usual %.4f, swings by %.4f, want %.4f and %.4f", whole.usual, whole.sigma, mean, sd)
	}
}

// A pulse is seen between carriers in every twelfth column, 20 kHz of noise in all.
func TestPulseBetweenCarriers(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 1))
	d := NewDetector(testFrames, 300e3)
	re, im := make([]float32, testBins), make([]float32, testBins)
	for f := range testFrames {
		a := math.Sqrt(between(30, 32, 1)(f) / 2)
		for i := range re {
			re[i], im[i] = float32(a*r.NormFloat64()), float32(a*r.NormFloat64())
			if i%12 == 0 {
				re[i] += 100
			}
		}
		d.Add(re, im)
	}
	// A frame of noise beside it may be left out with it.
	if verdicts, _ := d.Judge(testFrames, testHop, true); leftOut(verdicts) < 2 || leftOut(verdicts) > 3 {
		t.Errorf("%d frames left out, want 2", leftOut(verdicts))
	}
}

// What stands high in the last two frames of a recording is a pulse; of five even ones it is
// not known.
func TestRiseAtTheEnd(t *testing.T) {
	for frames, want := range map[int]int{2: 2, 5: 0} {
		verdicts, _ := judge(7, between(testFrames-frames, testFrames, 1))
		if n := leftOut(verdicts); n < want || n > want+1 { // one of noise beside it
			t.Errorf("%d frames raised: %d left out, want %d", frames, n, want)
		}
	}
}

// Beside a rise it is still within two standard deviations, or a tenth of the rise up to three.
func TestStillBesideARise(t *testing.T) {
	for _, test := range []struct {
		rise, beside float32 // standard deviations
		still        bool
	}{{10, 1.9, true}, {20, 2.5, false}, {50, 2.5, true}, {50, 3.5, false}} {
		d := Detector{rise: make([]float32, 40)}
		for i := range d.rise {
			d.rise[i] = test.beside
		}
		g := &passage{sigma: 1}
		if got := d.still(g, 20, -1, 8, []float32{test.rise}); got != test.still {
			t.Errorf("%v beside a rise of %v: still %v, want %v", test.beside, test.rise, got, test.still)
		}
	}
}

// A row of pulses at a recording's end is told as such: of its six frames two are hardly raised, as
// a transmission's would not be.
func TestPulsesAtTheEnd(t *testing.T) {
	verdicts, _ := judge(7, func(f int) float64 {
		switch f - (testFrames - 6) {
		case 0, 2, 4, 5:
			return 4
		case 1, 3:
			return 1.3
		}
		return 1
	})
	if n := leftOut(verdicts); n < 6 || n > 7 {
		t.Errorf("%d frames left out, want 6", n)
	}
}
