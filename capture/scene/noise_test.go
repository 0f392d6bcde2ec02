package scene

import (
	"math"
	"testing"
	"time"

	"nightfloor/survey"
)

// What is measured at the output, with a plain transform, is the density that
// Truth states. Over 1 s and 100 kHz, a third of it cut out around comb lines, the
// standard error is 4.34/√67,000 = 0.017 dB; 0.1 dB is the scene's target.
func TestDensityOutIsDensityIn(t *testing.T) {
	o := listening{seed: seedOf(t)}
	tests := []struct {
		name   string
		setup  survey.Setup
		at     time.Time
		centre survey.Hz
		gain   float64
		rate   survey.Hz // 0: the usual
	}{
		{"terminator", setupOf("terminator", "", -1), at(17, 30), 8.4e6, 49.6, 0},
		{"whip, evening, all supplies but one", setupOf("whip", "study", -1), at(18, 30), 8.4e6, 33.8, 0},
		{"the same at less gain", setupOf("whip", "study", -1), at(18, 30), 8.4e6, 29.7, 0},
		{"whip, low in frequency", setupOf("whip", "study", -1), at(22, 0), 5.4e6, 22.9, 0},
		{"loop, supplies off", setupOf("loop", "loft", 40), at(3, 22), 8.4e6, 38.6, 0},
		{"dipole, noon", setupOf("dipole", "loft", -1), at(12, 0), 14.6e6, 36.4, 0},
		{"whip at 2.4 MS/s", setupOf("whip", "loft", -1), at(1, 0), 8.4e6, 36.4, 2.4e6},
	}
	if testing.Short() { // the race detector takes ten times as long
		tests = tests[:2]
	}
	for _, test := range tests {
		o.setup, o.gain, o.Start, o.Rate, o.noOvers = test.setup, test.gain, test.at, test.rate, true
		h := listen(t, o, test.centre)
		rate, centre := float64(h.info.SampleRate), float64(test.centre)
		p := spectrumOf(samplesOf(read(t, h, int(rate))), 16384, rate, centre)
		for _, offset := range []float64{-330e3, -150e3, 30e3, 230e3} {
			low, high := centre+offset, centre+offset+100e3
			got := p.mean(low, high, h.offCombs()) / h.info.Droop(survey.Hz(offset+50e3))
			want := meanTruth(t, h, test.setup, low, high, survey.DB(test.gain), test.at)
			within(t, test.name+", dBFS/Hz", toDB(got), toDB(want), 0.1)
		}
	}
}

// offCombs tells whether a frequency is 4 kHz from every supply's lines, which
// drift by less than that after the first half hour.
func (h *House) offCombs() func(f float64) bool {
	return func(f float64) bool {
		for _, s := range h.world.supplies {
			spacing := s.spacing
			if long, on := s.since(h.world.timeOfDay(0)); on {
				spacing = s.frequency(long)
			}
			if math.Abs(math.Remainder(f, spacing)) < 4e3 {
				return false
			}
		}
		return true
	}
}

func meanTruth(t *testing.T, h *House, setup survey.Setup, low, high float64, gain survey.DB, when time.Time) float64 {
	t.Helper()
	var sum float64
	for i := range 5 {
		d, err := h.Truth().Density(setup, survey.Hz(low+(high-low)*(float64(i)+0.5)/5), gain, when)
		if err != nil {
			t.Fatal(err)
		}
		sum += d.Linear() / 5
	}
	return sum
}

// Successive samples of white noise are independent, and their powers
// exponential: the power of 1024 of them scatters by 1/√1024 of its mean. If
// blocks repeated each other or had their power fixed, it would not.
func TestNoisePowerScatters(t *testing.T) {
	h := listen(t, listening{seed: seedOf(t)}, 8.4e6)
	const n, chunks = 1024, 3000
	var sum, square float64
	for range chunks * n / block / (hop / block) {
		h.synth.next()
		for at := 0; at+n <= hop; at += n {
			var p float64
			for i := at; i < at+n; i++ {
				p += float64(h.synth.outRe[i])*float64(h.synth.outRe[i]) + float64(h.synth.outIm[i])*float64(h.synth.outIm[i])
			}
			sum += p
			square += p * p
		}
	}
	count := float64(chunks * n / block / (hop / block) * (hop / n))
	mean := sum / count
	variance := (square/count - mean*mean) / (mean * mean)
	// The droop colours the noise: Σ S²/(Σ S)² over the band is the expected
	// variance times n. The variance itself is known to √(2/2500) = 2.8 %.
	var s1, s2 float64
	for k := range block {
		s := h.synth.blocks.steady[k]
		s1 += s
		s2 += s * s
	}
	within(t, "variance of power over that of independent samples", variance*n/(block*s2/(s1*s1)), 1, 0.12)
}

func TestTableOfNormalNumbers(t *testing.T) {
	g := newGauss(1)
	var second, fourth float64
	for _, x := range g.table {
		second += float64(x) * float64(x) / quantiles
		fourth += math.Pow(float64(x), 4) / quantiles
	}
	// Moments of the normal distribution; the table's are made to fit.
	within(t, "second moment", second, 1, 1e-4)
	within(t, "fourth moment", fourth, 3, 1e-2)
	// What is drawn: 1e6 values know the second moment to √(2/1e6) = 0.0014, the
	// correlation of neighbours to 0.001.
	const n = 1 << 19
	re, im, ones := make([]float32, n), make([]float32, n), make([]float32, n)
	for i := range ones {
		ones[i] = 1
	}
	g.fill(re, im, ones)
	var power, neighbours, across float64
	for i := range n - 1 {
		power += float64(re[i]*re[i]+im[i]*im[i]) / 2 / n
		neighbours += float64(re[i]*re[i+1]) / n
		across += float64(re[i]*im[i]) / n
	}
	within(t, "power drawn", power, 1, 0.007)
	within(t, "correlation of neighbours", neighbours, 0, 0.007)
	within(t, "correlation of parts", across, 0, 0.007)
}

// The mains' envelope, folded at half a mains period, is what density says:
// 1 + swing/total·c.
func TestMainsEnvelope(t *testing.T) {
	setup := setupOf("whip", "study", -1)
	h := listen(t, listening{Options: Options{Start: at(19, 30)}, seed: seedOf(t), setup: setup, gain: 22.9}, 5.4e6)
	s := h.synth
	var folded, n [swingSteps]float64
	for range 280 { // 1 s, of noise alone
		clear(s.outRe)
		clear(s.outIm)
		s.blocks.make(s)
		for i := range hop {
			k := envelopeStep(mains(s.seconds(s.frameStart + int64(i))))
			folded[k] += float64(s.outRe[i]*s.outRe[i] + s.outIm[i]*s.outIm[i])
			n[k]++
		}
		s.frameStart += hop
	}
	var mean float64
	for k := range folded {
		folded[k] /= n[k]
		mean += folded[k] / swingSteps
	}
	var steady, swing float64
	for k := range block {
		steady += s.blocks.steady[k]
		swing += s.blocks.swing[k]
	}
	// 16,000 samples in each place: 0.8 %; a block lasts 1.6 places, which
	// smears the steepest slope by some per cent.
	for k := 0; k < swingSteps; k += 8 {
		within(t, "envelope over its mean", folded[k]/mean, 1+envelopeSteps[k]*swing/steady, 0.08)
	}
	depth := (folded[0] - folded[swingSteps/2]) / (folded[0] + folded[swingSteps/2])
	if depth < 0.5 {
		t.Errorf("depth of the mains modulation beside the lamp driver: %.2f, want a strong one", depth)
	}
}

// Residential noise at 10 MHz is 44.80 dB over kT0 [P.372], En in 9 kHz 8.8
// dBµV/m for the short monopole (PHYSICS.md 4.3); a bandwidth of 9 kHz is
// 39.54 dB.
func TestFieldOfResidentialNoise(t *testing.T) {
	within(t, "Fa", residential(10e6), 44.80, 0.01)
	within(t, "En in 9 kHz", toDB(fieldOf(residential(10e6), 10e6))+39.54, 8.8, 0.05)
	// From Fa to a reading at the whip's terminals, whose antenna factor is 12.5 dB(1/m), and back (PHYSICS.md 5.6).
	reading := func(figure float64) float64 { return toDB(fieldOf(figure, 10e6) * mounted{kind: whip}.terminalPower()) }
	within(t, "residential through the whip, dBm/Hz", reading(residential(10e6)), -150.19, 0.01)
	within(t, "a reading of −140 dBm/Hz", reading(54.99), -140, 0.01)
	// Night exceeds day by 28 dB at 5 MHz and is under it at 15 MHz (PHYSICS.md 4.5).
	within(t, "night over day at 5 MHz", atmospheric(5e6, 0)-atmospheric(5e6, 1), 28, 0.01)
	within(t, "night over day at 15 MHz", atmospheric(15e6, 0)-atmospheric(15e6, 1), -5, 0.01)
}

// Clicks come as often as stated, one by one, and stand over the noise by the
// level stated.
func TestClicks(t *testing.T) {
	setup := setupOf("whip", "study", -1)
	h := listen(t, listening{seed: seedOf(t), setup: setup, gain: 29.7}, 8.4e6)
	s := h.synth
	const seconds = 400
	first, count, energy := s.frameStart, 0, 0.0
	for s.clicks.add(s); ; count++ { // nothing is due yet
		s.frameStart = s.clicks.next - 100 // it and nothing else, in what is made next
		if s.seconds(s.frameStart-first) > seconds {
			break
		}
		clear(s.outRe)
		clear(s.outIm)
		s.clicks.add(s)
		for i, x := range s.outRe {
			energy += float64(x*x + s.outIm[i]*s.outIm[i])
		}
	}
	// 160 expected, Poisson: sigma 12.6, so 4 sigma are 51.
	within(t, "clicks", float64(count), clickRate*seconds, 51)
	// A decay of amplitude over 20 µs has the energy of 10 µs at the level; in 20
	// samples times 160 clicks it is known to 5 %, the decay in steps adds 3 %.
	noise := (h.world.noise(h.view.at, s.lo, 0).total() - frontEndNoise) / fullScalePower(h.view.gain) * s.rate
	got := energy / float64(count) / (noise * clickLength / 2 * s.rate)
	within(t, "level of a click, dB", toDB(got), clickLevel, 1)
}
