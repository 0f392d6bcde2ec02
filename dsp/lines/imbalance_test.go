package lines

import (
	"math"
	"math/cmplx"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
)

// hannSpectrogram transforms samples in half-overlapping Hann frames of n
// points and keeps the central two thirds.
func hannSpectrogram(x []complex64, rate float64, n int) *spectrum.Spectrogram {
	w := fft.Hann(n)
	s := spectrum.NewSpectrogram(rate, n, 2*len(x)/n)
	fft.NewFramer(w, n/2).Write(x, s.Append)
	return s
}

func TestImbalanceOfScenes(t *testing.T) {
	dsptest.SkipIfShort(t)
	const rate, centre = 1.024e6, 9.65e6
	for _, test := range []struct {
		name  string
		gamma complex128
		make  func(seed uint64) *dsptest.Signal
		sigma float64 // of one component, at most
	}{
		// On noise alone 1/(2n) is shared by two components, two thirds of the
		// band are used: √(1/(4·0.66·2^17)) = 1.7e-3.
		{"noise", 0.01 + 0.01i, func(seed uint64) *dsptest.Signal { return dsptest.New(seed, rate, centre).Noise(1e-10) }, 1.8e-3},
		// In bursts of 0.3 duty the variance is 1/0.3 times that of steady noise.
		{"bursts", 0.01i, func(seed uint64) *dsptest.Signal {
			return dsptest.New(seed, rate, centre).Gated(dsptest.Gated{Mean: 1e-10, Mains: 50, Duty: 0.3, Between: -30})
		}, 3.6e-3},
		// A line 60 dB over the noise in a bin: the image at −46 dBc is 14 dB out
		// of the noise of a frame.
		{"tone", 0.005i, func(seed uint64) *dsptest.Signal {
			return dsptest.New(seed, rate, centre).Noise(1e-10).Tone(centre+123456, -20, 1)
		}, 3e-4},
		// On the raster about the centre, stations face each other within 20 Hz.
		{"band", -0.004 + 0.003i, func(seed uint64) *dsptest.Signal {
			return dsptest.Broadcast(seed, rate, centre, 9.4e6, 9.9e6, 0.5)
		}, 1e-3},
	} {
		var pull, worst float64
		const trials = 8
		for seed := range uint64(trials) {
			x := test.make(seed + 100).Imbalance(test.gamma).Samples(1 << 17)
			var m imbalanceMeter
			m.Add(hannSpectrogram(x, rate, 8192))
			b, ok := m.Imbalance()
			if !ok {
				t.Fatalf("%s: no estimate", test.name)
			}
			d := b.Gamma - test.gamma
			pull += real(d*cmplx.Conj(d)) / (b.Sigma * b.Sigma) / (2 * trials)
			worst = max(worst, b.Sigma)
		}
		t.Logf("%s: pull variance %.2f, sigma %.2g", test.name, pull, worst)
		// 16 components: chi-square/16 stays within 0.25…2.45 in 99.8 %. Sixty trials
		// gave 0.89, 0.88 and 1.12.
		if pull < 0.25 || pull > 2.45 {
			t.Errorf("%s: variance of error over sigma %.2f, want 1", test.name, pull)
		}
		if worst > test.sigma {
			t.Errorf("%s: sigma %.2g, want at most %.2g", test.name, worst, test.sigma)
		}
	}
}

// The imbalance is told by a line 12 bins from the centre; within 8 the DC spike is its own image.
func TestImbalanceOfLineNearCentre(t *testing.T) {
	const rate, n = 75e3, 1024
	for _, test := range []struct {
		bins float64
		told bool
	}{{12, true}, {5, false}} {
		signal := dsptest.New(4, rate, 0).Noise(1e-10).Tone(test.bins*rate/n, -20, 0).Imbalance(0.01)
		var m imbalanceMeter
		m.Add(hannSpectrogram(signal.Samples(n/2*73), rate, n))
		if b, _ := m.Imbalance(); (b.Sigma < 5e-4) != test.told {
			t.Errorf("line %v bins from the centre: sigma %.2g", test.bins, b.Sigma)
		}
	}
}

// A pair of bins with a squared error of 20 variances is left out, one of 5 is not. All others
// say 0.01 for sure: of equal powers S and T in so many frames the variance is
// |S|²·|T|²/(frames·(|S|² + |T|²)²), a fourth of OverlapLoss/frames.
func TestImbalanceLeavesOutPairs(t *testing.T) {
	const frames, pairs = 72, 100
	variance := fft.OverlapLoss / frames / 4
	for _, test := range []struct {
		pull float64
		out  bool
	}{{5, false}, {20, true}} {
		m := imbalanceMeter{frames: frames}
		for range pairs {
			m.above = append(m.above, imbalancePair{re: 0.02, upper: 1, lower: 1})
		}
		m.above[0].re += 2 * math.Sqrt(test.pull*variance)
		b, _ := m.Imbalance()
		if moved := math.Abs(real(b.Gamma)-0.01) > 1e-6; moved == test.out {
			t.Errorf("pull %v: γ %.5f, want it left out: %v", test.pull, real(b.Gamma), test.out)
		}
	}
}

func TestImbalanceDBc(t *testing.T) {
	if got, known := (Imbalance{Gamma: 0.01i, Sigma: 1e-4}).DBc(); !known || math.Abs(got+40) > 1e-9 {
		t.Errorf("%v %v, want −40 dBc", got, known)
	}
	// 1e-4 with an error of 1e-3 is at most 3.1e-3: −50.2 dBc.
	if got, known := (Imbalance{Gamma: 1e-4, Sigma: 1e-3}).DBc(); known || math.Abs(got+50.17) > 0.01 {
		t.Errorf("%v %v, want a bound of −50.17 dBc", got, known)
	}
}

func TestMirrorImageOf(t *testing.T) {
	const rate, n, gamma = 1.024e6, 16384, 0.02i // −34 dBc
	for _, test := range []struct {
		name     string
		offset   float64 // of a station at the mirror image's place
		level    float64
		doppler  float64 // of the strong one
		image    bool
		coherent bool
	}{
		{"image alone", 0, -200, 0, true, true},
		{"image of a fading station", 0, -200, 1, true, true},
		{"station of its own, 3 Hz off", 3, -40, 0, false, false},
		{"station of its own at the very place", 0, -40, 0, false, true},
	} {
		s := dsptest.New(3, rate, 0).Noise(1e-10).
			Tone(150e3, -30, 0). // another line by which the imbalance is known
			Station(dsptest.Station{Hz: 100e3, Level: -20, Doppler: test.doppler}).
			Tone(-100e3+test.offset, test.level, 1).Imbalance(gamma)
		sg := hannSpectrogram(s.Samples(1<<19), rate, n)
		var m imbalanceMeter
		m.Add(sg)
		b, _ := m.Imbalance()
		column := int(math.Round(-100e3/rate*n)) - sg.Lowest
		got := mirrorImageOf(sg, column, b)
		if got.isImage(b) != test.image {
			t.Errorf("%s: image %v, want %v (%+v, %+v)", test.name, !test.image, test.image, got, b)
		}
		if (got.coherence > 0.75) != test.coherent {
			t.Errorf("%s: coherence %.2f", test.name, got.coherence)
		}
	}
}

func BenchmarkImbalance(b *testing.B) {
	const rate, seconds = 1.024e6, 0.5
	sg := hannSpectrogram(dsptest.New(1, rate, 0).Noise(1e-10).Samples(rate*seconds), rate, 16384)
	var m imbalanceMeter
	for b.Loop() {
		m.Reset()
		m.Add(sg)
		m.Imbalance()
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/(rate*seconds), "ns/sample")
}
