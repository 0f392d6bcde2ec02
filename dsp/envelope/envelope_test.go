package envelope

import (
	"math"
	"slices"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/transient"
)

// hannSpectrogram transforms samples in half-overlapping Hann frames of n
// points and keeps the central two thirds.
func hannSpectrogram(x []complex64, rate float64, n int) *spectrum.Spectrogram {
	s := spectrum.NewSpectrogram(rate, n, 2*len(x)/n)
	fft.NewFramer(fft.Hann(s.N), n/2).Write(x, s.Append)
	return s
}

// allFree gives a mask without signals.
func allFree(s *spectrum.Spectrogram) []bool {
	free := make([]bool, s.Bins)
	for b := range free {
		free[b] = true
	}
	return free
}

// envelopeOf watches a signal for the given seconds in one stretch.
func envelopeOf(t *testing.T, s *dsptest.Signal, seconds float64) *bandEnvelope {
	t.Helper()
	sg := hannSpectrogram(s.Samples(int(seconds*s.Rate)), s.Rate, 8192)
	var e bandEnvelope
	if !e.add(sg, allFree(sg), nil) {
		t.Fatal("no channel free")
	}
	return &e
}

func TestChannelKeepsTone(t *testing.T) {
	// A tone 30.3 bins above the channel's first bin, in the flat part of its
	// response: constant amplitude, and 30.3/64 of a cycle a sample, for odd and even first bins.
	const rate, n = 1e6, 4096
	for _, first := range []int{301, 300, 2000} {
		c := NewFilter(64)
		sg := spectrum.NewSpectrogram(rate, n, 32)
		hz := (float64(sg.Lowest+first) + 30.3) * rate / n
		sg = hannSpectrogram(dsptest.New(1, rate, 0).Tone(hz, -20, 0).Samples(16*n), rate, n)
		re, im := c.Take(sg, first)
		if want := (sg.Frames - 1) * 32; len(re) != want {
			t.Fatalf("%d samples, want %d", len(re), want)
		}
		step := 2 * math.Pi * 30.3 / 64
		for i := range re {
			// Hann's side lobes beyond the 17 bins to the slopes hold under 1e-4.
			if a := math.Hypot(float64(re[i]), float64(im[i])); math.Abs(a-0.1) > 3e-5 {
				t.Fatalf("first bin %d, sample %d: amplitude %.5f, want 0.1", first, i, a)
			}
			if i == 0 {
				continue
			}
			turn := math.Atan2(float64(im[i]), float64(re[i])) - math.Atan2(float64(im[i-1]), float64(re[i-1])) - step
			if math.Abs(math.Remainder(turn, 2*math.Pi)) > 1e-3 {
				t.Fatalf("first bin %d, sample %d: turns %.4f too much", first, i, turn)
			}
		}
	}
}

func TestChannelNoisePower(t *testing.T) {
	// 182 bins of 73.24 Hz pass 10.0 kHz, the slopes' cos⁴ counted: noise of −100 dBFS/Hz gives
	// −60.00 dBFS. 40 channels of 0.4 s hold 160000 values: sigma 0.011 dB.
	const rate, n = 2.4e6, 32768
	sg := hannSpectrogram(dsptest.New(1, rate, 0).Noise(1e-10).Samples(1e6), rate, n)
	c := NewFilter(182)
	if w := c.Width(sg); math.Abs(w-182*0.75*73.242) > 15 {
		t.Errorf("width %.1f Hz, want 9997", w)
	}
	var sum, count float64
	for k := range 40 {
		re, im := c.Take(sg, 500+k*400)
		for i := range re {
			sum += float64(re[i])*float64(re[i]) + float64(im[i])*float64(im[i])
			count++
		}
	}
	if got := 10 * math.Log10(sum/count); math.Abs(got+60.00) > 0.045 {
		t.Errorf("%.3f dBFS, want −60.00 ± 0.045", got)
	}
}

func TestVd(t *testing.T) {
	const rate, density = 1.024e6, 1e-10
	// Gaussian: 20·log10(2/√π). Square bursts of share d and level p between:
	// rms² = d + (1−d)p, mean = (√π/2)(d + (1−d)√p), in bursts of level 1; the
	// channel smooths the edges over 0.1 ms of the 10 ms, which takes a little.
	gaussian := 20 * math.Log10(2/math.Sqrt(math.Pi))
	gated := gaussian + 10*math.Log10((0.3+0.7*0.01)/math.Pow(0.3+0.7*0.1, 2))
	for _, test := range []struct {
		name            string
		make            func(s *dsptest.Signal) *dsptest.Signal
		want, tolerance float64
	}{
		{"Gaussian", func(s *dsptest.Signal) *dsptest.Signal { return s.Noise(density) }, gaussian, 0.02},
		{"sloping", func(s *dsptest.Signal) *dsptest.Signal {
			return s.Shaped(func(hz float64) float64 { return density * math.Pow(10, hz/rate) })
		}, gaussian, 0.02},
		{"gated", func(s *dsptest.Signal) *dsptest.Signal {
			return s.Gated(dsptest.Gated{Mean: density, Mains: 50, Duty: 0.3, Between: -20})
		}, gated, 0.12},
	} {
		e := envelopeOf(t, test.make(dsptest.New(4, rate, 0)), 0.5)
		got, width, ok := e.vd()
		if !ok || math.Abs(got-test.want) > test.tolerance {
			t.Errorf("%s: Vd %.3f dB, want %.3f ± %.2f", test.name, got, test.want, test.tolerance)
		}
		if math.Abs(width-10e3) > 100 {
			t.Errorf("%s: in %.0f Hz, want 10 kHz within 1 %%", test.name, width)
		}
	}
}

func TestVdOfPulses(t *testing.T) {
	// 200 pulses a second of 20 µs at 30 dB: in 10 kHz each gives an energy of
	// 1000·20 µs = 0.02 s of the noise's power a pulse: power 1 + 200·0.02 = 5,
	// within 0.1 ms each (2 % of the time). Mean amplitude rises by
	// 0.02·√(4/0.02)·√π/2 ≈ 0.25 at most: Vd over 4 dB.
	s := dsptest.New(4, 1.024e6, 0).Noise(1e-10).Pulses(dsptest.Pulses{Rate: 200, Length: 20e-6, Density: 1e-7, Poisson: true})
	if got, _, _ := envelopeOf(t, s, 0.5).vd(); got < 4 || got > 10 {
		t.Errorf("Vd %.2f dB, want 4…10", got)
	}
}

// TestQuietOfSteadyNoise: no bias. With 12 channels a block of a millisecond
// has a shape of about 120; the lowest fifth of 480 blocks is known to
// 1.2/√(120·96) = 1.1 %; 24 readings leave 0.23 %.
func TestQuietOfSteadyNoise(t *testing.T) {
	var sum, squares float64
	const trials = 24
	for seed := range uint64(trials) {
		got, ok := envelopeOf(t, dsptest.New(seed, 0.3e6, 0).Noise(1e-10), 0.5).quiet()
		if !ok {
			t.Fatal("unknown")
		}
		sum += got / trials
		squares += (got - 1) * (got - 1) / trials
	}
	t.Logf("mean %.4f, rms error %.4f", sum, math.Sqrt(squares))
	if math.Abs(sum-1) > 0.008 {
		t.Errorf("mean %.4f of the true level, want 1 ± 0.008", sum)
	}
	if math.Sqrt(squares) > 0.02 {
		t.Errorf("rms error %.4f, want at most 0.02", math.Sqrt(squares))
	}
}

func TestQuietOfNarrowSegment(t *testing.T) {
	// One channel alone: the correction is large (shape about 10: 0.6 of the
	// level) and must still be right.
	const rate, n, trials = 0.3e6, 8192, 24
	var sum float64
	for seed := range uint64(trials) {
		sg := hannSpectrogram(dsptest.New(seed, rate, 0).Noise(1e-10).Samples(rate/2), rate, n)
		free := make([]bool, sg.Bins)
		for b := 1000; b < 1400; b++ { // 14.6 kHz
			free[b] = true
		}
		var e bandEnvelope
		if !e.add(sg, free, nil) {
			t.Fatal("no channel free")
		}
		got, _ := e.quiet()
		sum += got / trials
	}
	// One reading: 1.2/√(10·96) = 4 %; 24: 0.8 %.
	if math.Abs(sum-1) > 0.03 {
		t.Errorf("mean %.4f of the true level, want 1 ± 0.03", sum)
	}
}

func TestQuietBetweenBursts(t *testing.T) {
	const rate = 1.024e6
	for _, g := range []dsptest.Gated{
		{Mean: 1e-10, Mains: 50, Duty: 0.3, Between: -20},
		{Mean: 1e-10, Mains: 59.95, Duty: 0.5, Between: -6, Phase: 0.3},
		{Mean: 1e-10, Mains: 50.02, Duty: 0.15, Between: -10},
	} {
		s := dsptest.New(5, rate, 0).Gated(g)
		// Of the mean, in·duty + in·ratio·(1 − duty), in·ratio stands between bursts.
		ratio := math.Pow(10, g.Between/10)
		want := 10 * math.Log10(ratio/(g.Duty+ratio*(1-g.Duty)))
		got, ok := envelopeOf(t, s, 0.5).quiet()
		if !ok || math.Abs(10*math.Log10(got)-want) > 0.15 {
			t.Errorf("%+v: %.2f dB, want %.2f ± 0.15", g, 10*math.Log10(got), want)
		}
	}
}

// middleOf gives the seconds into a signal of envelopeOf at which an event has its middle.
func middleOf(e *bandEnvelope, p Event) float64 {
	hop := float64(len(e.filter.workRe)) / 2 / e.rate // sample 0 stands so late
	return hop + float64(p.First+p.Last+1)/2/e.rate
}

func TestPulsesAreFound(t *testing.T) {
	// 5 pulses a second of 50 µs, 20 dB over the noise: in 10 kHz half of that
	// length passes, 14 dB or more over the noise. At 2.5 s five or so must all
	// be there, at their times within the filter's 0.1 ms.
	const rate = 0.3e6
	s := dsptest.New(6, rate, 0).Noise(1e-10).Pulses(dsptest.Pulses{Rate: 5, Length: 50e-6, Density: 1e-8})
	e := envelopeOf(t, s, 2)
	truth := s.Truth().Pulses
	if len(e.pulses) != len(truth) {
		t.Fatalf("%d pulses, want %d", len(e.pulses), len(truth))
	}
	for i, p := range e.pulses {
		if at := middleOf(e, p); math.Abs(at-truth[i]-25e-6) > 1.2e-4 {
			t.Errorf("pulse at %.5f s, want %.5f", at, truth[i])
		}
		if float64(p.Length()) > PulseLongest*e.rate || p.Over < 10 {
			t.Errorf("pulse of %d samples, %.1f times the noise", p.Length(), p.Over)
		}
	}
	// The pulses add 5·50 µs·100 = 2.5 % to the mean; left out, the quiet level
	// is the mean.
	if q, _ := e.quiet(); math.Abs(q-1) > 0.02 {
		t.Errorf("quiet %.3f of the mean, want 1 ± 0.02", q)
	}
}

func TestNoFalsePulses(t *testing.T) {
	// One false alarm in 1000 readings at most: none in 20.
	for seed := range uint64(20) {
		if e := envelopeOf(t, dsptest.New(seed, 0.3e6, 0).Noise(1e-10), 0.5); len(e.pulses) > 0 {
			t.Errorf("seed %d: %+v", seed, e.pulses)
		}
	}
	// Bursts with the mains are no isolated pulses: none, or so many that
	// they count as continuous noise.
	for _, duty := range []float64{0.06, 0.1, 0.2, 0.3, 0.4} {
		s := dsptest.New(7, 0.3e6, 0).Noise(1e-11).Gated(dsptest.Gated{Mean: 1e-10, Mains: 50, Duty: duty, Between: -20})
		e := envelopeOf(t, s, 0.5)
		if rate := float64(len(e.pulses)) / e.sums.seconds; rate > 0 && rate < transient.Continuous {
			t.Errorf("duty %.2f: %.1f pulses a second", duty, rate)
		}
	}
}

func TestPulseChances(t *testing.T) {
	// One channel, compared with a mean known exactly, is passed with exp(−x);
	// with the mean of k independent values, by integration of exp(−x·y) over
	// the gamma distribution of y, with (1 + x/k)^−k.
	const k, chance = 20, 1e-7
	x := ratioLimit(1, k, chance)
	if got := math.Pow(1+x/k, -k); math.Abs(got/chance-1) > 1e-3 {
		t.Errorf("limit %.2f is passed with %.3g, want %.3g", x, got, chance)
	}
	// And on noise: 12 channels, the 2 ms after a moment, one in 500.
	passed, moments := 0, 0
	for seed := range uint64(6) {
		e := envelopeOf(t, dsptest.New(seed+40, 0.3e6, 0).Noise(1e-10), 0.5)
		rate := float64(len(e.sum)) / e.sums.seconds
		limit := ratioLimit(float64(len(e.firsts)), e.filter.meanShape(BlockLength(rate, pulseBeside)), 0.002)
		guard, beside := int(pulseGuard*rate), BlockLength(rate, pulseBeside)
		for i := range len(e.sum) - guard - beside - 1 {
			moments++
			if e.sum[i] > limit*e.meanOf(i+guard+1, i+guard+1+beside) {
				passed++
			}
		}
	}
	// Some 55000 moments, of which every second is new: 55 independent passings.
	got := float64(passed) / float64(moments)
	t.Logf("%d of %d", passed, moments)
	if math.Abs(got/0.002-1) > 4/math.Sqrt(55) {
		t.Errorf("passed with %.4f, want 0.002", got)
	}
}

func TestPulsesOverBursts(t *testing.T) {
	// A fence over mains noise: one pulse of 100 µs, 30 dB over the bursts, in
	// 1.1 s each; the bursts themselves, 100 a second, are none.
	const rate = 0.3e6
	s := dsptest.New(6, rate, 0).Noise(1e-11).Gated(dsptest.Gated{Mean: 1e-10, Mains: 50, Duty: 0.2, Between: -20}).
		Pulses(dsptest.Pulses{Rate: 1 / 1.1, Length: 100e-6, Density: 5e-7})
	e := envelopeOf(t, s, 4)
	truth := s.Truth().Pulses
	if len(e.pulses) != len(truth) {
		t.Fatalf("%d pulses, want %d: %+v", len(e.pulses), len(truth), e.pulses)
	}
	for i, p := range e.pulses {
		if at := middleOf(e, p); math.Abs(at-truth[i]-50e-6) > 1.5e-4 {
			t.Errorf("pulse at %.5f s, want %.5f", at, truth[i])
		}
	}
}

func TestEnvelopeInStretches(t *testing.T) {
	// Four stretches of half a second give what one of two seconds gives, but
	// for the half frames at their ends.
	const rate, n = 0.3e6, 4096
	make := func() *dsptest.Signal {
		return dsptest.New(8, rate, 0).Gated(dsptest.Gated{Mean: 1e-10, Mains: 50, Duty: 0.4, Between: -10})
	}
	var whole, parts bandEnvelope
	sg := hannSpectrogram(make().Samples(2*rate), rate, n)
	whole.add(sg, allFree(sg), nil)
	s := make()
	for range 4 {
		sg := hannSpectrogram(s.Samples(rate/2), rate, n)
		parts.add(sg, allFree(sg), nil)
	}
	vd, _, _ := whole.vd()
	vd4, _, _ := parts.vd()
	quiet, _ := whole.quiet()
	quiet4, _ := parts.quiet()
	if math.Abs(vd-vd4) > 0.02 || math.Abs(quiet/quiet4-1) > 0.02 {
		t.Errorf("Vd %.3f and %.3f, quiet %.3f and %.3f", vd, vd4, quiet, quiet4)
	}
	parts.reset()
	if _, _, ok := parts.vd(); ok {
		t.Error("Vd known after Reset")
	}
}

func TestChooseChannels(t *testing.T) {
	chosen := func(free []bool) (bins int, firsts []int) {
		var c channelChoice
		c.choose(free, 100, 1)
		return c.bins, spread(c.firsts, mostChannels)
	}
	mask := func(runs ...int) []bool { // taken, free, taken, …
		var free []bool
		for i, n := range runs {
			for range n {
				free = append(free, i%2 == 1)
			}
		}
		return free
	}
	for _, test := range []struct {
		name  string
		free  []bool
		bins  int
		wants []int
	}{
		{"nothing free", mask(1000), 0, nil},
		// 10 kHz of noise bandwidth, slopes included, are 133 bins; 7 kHz 93; 5 kHz 67.
		{"a gap of 13.3 kHz, one of twice that", mask(50, 133, 70, 270, 20), 133, []int{50, 255, 388}},
		{"gaps of 10 kHz only", mask(50, 100, 70, 100), 93, []int{53, 223}},
		{"a gap of 1 kHz", mask(50, 10, 70), 0, nil},
	} {
		bins, got := chosen(test.free)
		if bins != test.bins || !slices.Equal(got, test.wants) {
			t.Errorf("%s: %d bins at %v, want %d at %v", test.name, bins, got, test.bins, test.wants)
		}
	}
	if _, got := chosen(mask(0, 10000)); len(got) != mostChannels || got[0] > 600 || got[mostChannels-1] < 9400 {
		t.Errorf("of 100 places %v", got)
	}
}

func TestEnvelopeAllocatesNothing(t *testing.T) {
	const rate = 0.3e6
	sg := hannSpectrogram(dsptest.New(1, rate, 0).Noise(1e-10).Samples(rate/2), rate, 4096)
	free := allFree(sg)
	var e bandEnvelope
	if n := testing.AllocsPerRun(5, func() { e.reset(); e.add(sg, free, nil) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func BenchmarkEnvelope(b *testing.B) {
	const rate, seconds = 1.024e6, 0.5
	sg := hannSpectrogram(dsptest.New(1, rate, 0).Noise(1e-10).Samples(rate*seconds), rate, 16384)
	free := allFree(sg)
	var e bandEnvelope
	for b.Loop() {
		e.reset()
		e.add(sg, free, nil)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/(rate*seconds), "ns/sample")
}
