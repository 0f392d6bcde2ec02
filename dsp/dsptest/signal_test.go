package dsptest

import (
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// line gives the complex amplitude of x at hz (against the centre): the plain
// Fourier sum, tapered by a Hann window.
func line(x []complex64, rate, hz float64) complex128 {
	var sum complex128
	var weight float64
	for i, v := range x {
		w := 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(len(x)))
		sin, cos := math.Sincos(-2 * math.Pi * math.Mod(hz/rate*float64(i), 1))
		sum += complex128(v) * complex(w*cos, w*sin)
		weight += w
	}
	return sum / complex(weight, 0)
}

func power(x []complex64) float64 {
	var sum float64
	for _, v := range x {
		sum += float64(real(v))*float64(real(v)) + float64(imag(v))*float64(imag(v))
	}
	return sum / float64(len(x))
}

// samplesOf gives the samples that bytes stand for: (code − 127.5)/128.
func samplesOf(iq []byte) []complex64 {
	x := make([]complex64, len(iq)/2)
	for i := range x {
		x[i] = complex((float32(iq[2*i])-127.5)/128, (float32(iq[2*i+1])-127.5)/128)
	}
	return x
}

func dB(p float64) float64 { return 10 * math.Log10(p) }

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.4g, want %.4g ± %.2g", what, got, want, tolerance)
	}
}

func TestWhiteNoiseDensity(t *testing.T) {
	// 2^18 samples: the mean power's sigma is 4.34/512 = 0.0085 dB.
	const rate = 1.024e6
	s := New(1, rate, 10e6).Noise(1e-10)
	x := s.Samples(1 << 18)
	near(t, "density, dBFS/Hz", dB(power(x)/rate), -100, 0.035)
	near(t, "truth, dBFS/Hz", dB(s.Density(9.8e6, 10.2e6, 0)), -100, 1e-9)
	// Eight bits add 2·(1/128)²/12/1.024e6 = 9.93e-12: −110.03 dBFS/Hz (trade-notes 7.6: −110.0).
	near(t, "rounding, dBFS/Hz", dB(New(1, rate, 10e6).Density(9.8e6, 10.2e6, StepU8)), -110.03, 0.005)
	near(t, "with rounding, dBFS/Hz", dB(power(samplesOf(U8(nil, x)))/rate), dB(s.Density(9.8e6, 10.2e6, StepU8)), 0.035)
}

func TestToneLevel(t *testing.T) {
	const rate, centre = 2.4e6, 9.65e6
	x := New(1, rate, centre).Tone(9.7e6+123.4, -20, 0.5).Samples(48000)
	a := line(x, rate, 50e3+123.4)
	near(t, "level, dBFS", dB(real(a)*real(a)+imag(a)*imag(a)), -20, 1e-4)
	near(t, "phase", cmplx.Phase(a), 0.5, 1e-4)
}

func TestReadsDoNotMatter(t *testing.T) {
	make := func() *Signal {
		return New(7, 2.4e6, 9.65e6).Noise(1e-10).Tone(9.6e6, -20, 0).
			Station(Station{Hz: 9.7e6, Level: -20, Depth: 0.3, Doppler: 0.5}).Data(9.8e6, 10e3, -40).
			Gated(Gated{Mean: 1e-10, Mains: 50, Duty: 0.3, Between: -20}).
			Pulses(Pulses{Rate: 300, Length: 1e-5, Density: 1e-7, Poisson: true}).
			Comb(Comb{Spacing: 65e3, Drift: 10, Wobble: 1, Mains: 50, Level: -50, Low: 9e6, High: 10e6}).
			Shaped(func(float64) float64 { return 1e-11 })
	}
	whole := make().Samples(20000)
	s := make()
	var pieces []complex64
	for _, n := range []int{1, 2, 2047, 5000, 3, 11, 12936} {
		pieces = append(pieces, s.Samples(n)...)
	}
	for i := range whole {
		// The oscillators' recurrence restarts with each read: float32 rounding apart.
		if cmplx.Abs(complex128(whole[i]-pieces[i])) > 1e-6 {
			t.Fatalf("sample %d: %v in one read, %v in pieces", i, whole[i], pieces[i])
		}
	}
}

func TestStation(t *testing.T) {
	if testing.Short() {
		t.Skip("long arithmetic of one goroutine; it runs without -short")
	}
	for _, rate := range []float64{225001, 1.024e6, 2.4e6} {
		const centre, hz = 9.65e6, 9.71e6 + 7.3
		// A tone of modulation m: each sideband m/2 of the carrier's amplitude.
		x := New(3, rate, centre).Station(Station{Hz: hz, Level: -10, Depth: 0.5, Tone: 1000}).Samples(int(rate / 5))
		x = x[2000:] // the interpolators fill
		for _, want := range []struct{ hz, level float64 }{{0, -10}, {1000, -22.04}, {-1000, -22.04}} {
			a := cmplx.Abs(line(x, rate, hz-centre+want.hz))
			near(t, "level, dBFS", 2*dB(a), want.level, 0.01)
		}
		// Everything together is 1 + m²/2 of the carrier; what is more would be images.
		near(t, "total, dBFS", dB(power(x)), -10+dB(1.125), 0.02)
	}
}

func TestStationImages(t *testing.T) {
	// An unmodulated station is a pure line: what is left after it is taken away
	// are the interpolators' images, at most −70 dB.
	const rate, centre, hz = 2.4e6, 9.65e6, 9.65e6 + 149e3
	x := New(3, rate, centre).Station(Station{Hz: hz, Level: 0}).Samples(1 << 16)[2000:]
	a := line(x, rate, hz-centre)
	for i := range x {
		sin, cos := math.Sincos(2 * math.Pi * math.Mod((hz-centre)/rate*float64(i), 1))
		x[i] -= complex64(a * complex(cos, sin))
	}
	if got := dB(power(x)); got > -70 {
		t.Errorf("images %.1f dBc, want under −70", got)
	}
}

func TestSpeechSidebands(t *testing.T) {
	if testing.Short() {
		t.Skip("long arithmetic of one goroutine; it runs without -short")
	}
	const rate, seconds = 24e3, 12
	var total, far, one, four float64
	x := New(5, rate, 0).Station(Station{Hz: 0, Level: 0, Depth: 0.3}).Samples(rate * seconds)
	// Power in 0.1 s stretches, carrier taken out by their means.
	n := int(rate / 10)
	for ; len(x) >= n; x = x[n:] {
		part := slices.Clone(x[:n])
		a := complex64(line(part, rate, 0))
		for i := range part {
			part[i] -= a
		}
		total += power(part) / (10 * seconds)
		for f := 5000.0; f < 10000; f += 200 { // each stands for 200/15 lines 15 Hz apart
			b := cmplx.Abs(line(part, rate, f))
			far += b * b * 200 / 15 / (10 * seconds)
		}
		for _, b := range []struct {
			at  float64
			sum *float64
		}{{1000, &one}, {1015, &one}, {4000, &four}, {4015, &four}} {
			a := cmplx.Abs(line(part, rate, b.at))
			*b.sum += a * a
		}
	}
	// m² = 0.09: −10.5 dB. The level varies by 6 dB with 2…6 Hz: 100 swings leave 1 dB.
	near(t, "sidebands, dBc", dB(total), dB(0.09), 1.5)
	// Two octaves at 9 dB; 240 values each, correlated through the level: sigma about 0.5 dB.
	near(t, "1 kHz over 4 kHz, dB", dB(one/four), 18, 2)
	if dB(far/total) > -50 {
		t.Errorf("beyond 5 kHz %.1f dB against the sidebands, want under −50", dB(far/total))
	}
}

func TestFadingPower(t *testing.T) {
	// 40 stations over 1 s: mean power 1, and the power's median is ln 2 of the mean (Rayleigh).
	var mean float64
	var all []float64
	for seed := range uint64(60) {
		x := New(seed, 30e3, 0).Station(Station{Hz: 0, Level: 0, Doppler: 3}).Samples(30e3)
		mean += power(x) / 60
		for i := 0; i < len(x); i += 3000 {
			all = append(all, power(x[i:i+1]))
		}
	}
	slices.Sort(all)
	// About 60·6 independent values: sigma of the mean 0.05, of the median 0.05.
	near(t, "mean power", mean, 1, 0.16)
	near(t, "median power", all[len(all)/2], math.Ln2, 0.16)
}

func TestGated(t *testing.T) {
	const rate = 200e3
	s := New(9, rate, 0).Gated(Gated{Mean: 1e-9, Mains: 50, Duty: 0.3, Between: -20})
	x := s.Samples(rate)
	near(t, "mean, dBFS/Hz", dB(power(x)/rate), -90, 0.1)
	// In burst p, between p/100: 0.3p + 0.7p/100 = 1e-9.
	p := 1e-9 / 0.307
	near(t, "in burst", dB(power(x[:600])/rate), dB(p), 0.9)
	near(t, "between", dB(power(x[600:2000])/rate), dB(p/100), 0.6)
	y := New(9, rate, 0).Gated(Gated{Mean: 1e-9, Mains: 50, Depth: 0.8}).Samples(rate)
	near(t, "smooth mean, dBFS/Hz", dB(power(y)/rate), -90, 0.1)
}

func TestShapedDensity(t *testing.T) {
	const rate, centre = 1e6, 5e6
	s := New(4, rate, centre).Shaped(func(hz float64) float64 {
		c := math.Cos(math.Pi * max(-0.5, min(0.5, (hz-5.1e6)/400e3)))
		return 1e-9 * c * c
	})
	x := s.Samples(1 << 18)
	// A raised cosine 400 kHz wide holds peak·200 kHz: 2e-4.
	near(t, "power, dBFS", dB(power(x)), dB(2e-4), 0.06)
	// At half the way down: mean of 64 lines of Hann's density.
	near(t, "truth at the peak", dB(s.Density(5.1e6, 5.1e6+1, 0)), -90, 0.02)
	near(t, "truth half way", dB(s.Density(5.2e6, 5.2e6+1, 0)), -93.01, 0.02)
	var sum float64
	const pieces, n = 64, 1 << 12
	for k := range pieces {
		a := cmplx.Abs(line(x[k*n:(k+1)*n], rate, 200e3))
		sum += a * a / pieces / (1.5 * rate / n)
	}
	near(t, "measured half way", dB(sum), -93.01, 4*4.34/8)
}

func TestPulsesAreWhereTruthSays(t *testing.T) {
	const rate = 1e6
	s := New(2, rate, 0).Pulses(Pulses{Rate: 50, Length: 20e-6, Density: 1e-7})
	x := s.Samples(rate)
	times := s.Truth().Pulses
	if len(times) != 50 {
		t.Fatalf("%d pulses in 1 s, want 50", len(times))
	}
	near(t, "spacing", times[10]-times[9], 0.02, 2e-5+1e-6)
	var in float64
	for _, at := range times {
		first := int(math.Round(at * rate))
		in += power(x[first:first+20]) * 20
	}
	near(t, "energy within pulses", in, power(x)*rate, in*1e-9)
	near(t, "density", dB(in/20/50/rate), -70, 0.6)
}

func TestCombLines(t *testing.T) {
	const rate, centre = 1e6, 5e6
	s := New(2, rate, centre).Comb(Comb{Spacing: 65.2e3, Level: -40, Low: 4.6e6, High: 5.4e6})
	x := s.Samples(1 << 16)
	for n := 71; n <= 82; n++ { // the multiples that lie between
		near(t, "line, dBFS", 2*dB(cmplx.Abs(line(x, rate, float64(n)*65.2e3-centre))), -40, 0.01)
	}
	near(t, "all, dBFS", dB(power(x)), -40+dB(12), 0.05)
}

func TestFaults(t *testing.T) {
	const rate = 1e6
	x := New(2, rate, 0).Tone(100e3, -6.0206, 0).Imbalance(0.02i).DC(0.1 - 0.05i).Samples(1 << 14)
	near(t, "image, dBc", 2*dB(cmplx.Abs(line(x, rate, -100e3))/0.5), 2*dB(0.02), 0.01)
	near(t, "offset", cmplx.Abs(line(x, rate, 0)-(0.1-0.05i)), 0, 1e-5)
}

func TestData(t *testing.T) {
	const rate = 500e3
	x := New(2, rate, 0).Data(20e3, 10e3, -30).Samples(rate)[5000:]
	// 1 s of 10 kHz: 1e4 independent values, sigma 0.043 dB.
	near(t, "power, dBFS", dB(power(x)), -30, 0.18)
	var in, out float64
	for k := range 400 {
		part := x[k*1000 : k*1000+1000]
		a, b := cmplx.Abs(line(part, rate, 22e3)), cmplx.Abs(line(part, rate, 28e3))
		in += a * a / 400 / (1.5 * rate / 1000)
		out += b * b / 400 / (1.5 * rate / 1000)
	}
	near(t, "density, dBFS/Hz", dB(in), -70, 0.9)
	if dB(out/in) > -40 {
		t.Errorf("3 kHz beyond the edge %.1f dB, want under −40", dB(out/in))
	}
}

func TestQuantisers(t *testing.T) {
	x := []complex64{complex(0, -2), complex(2, 0.5/128)}
	if got := U8(nil, x); !slices.Equal(got, []byte{128, 0, 255, 128}) {
		t.Errorf("u8 %v", got)
	}
}

func TestBroadcast(t *testing.T) {
	if testing.Short() {
		t.Skip("long arithmetic of one goroutine; it runs without -short")
	}
	const rate, centre = 1.024e6, 9.65e6
	s := Broadcast(11, rate, centre, 9.4e6, 9.9e6, 0.6)
	carriers := s.Truth().Carriers
	// 60 % of 500 kHz at 10 kHz each is 30; overlapping pairs need a few more.
	if len(carriers) < 30 || len(carriers) > 36 {
		t.Errorf("%d stations, want 30…36", len(carriers))
	}
	x := s.Samples(1 << 18)[4000:]
	for _, c := range carriers {
		got := 2 * dB(cmplx.Abs(line(x[:1<<17], rate, c.Hz-centre)))
		// Another's sidebands and the noise may add a little: −80+10 dBFS is the
		// weakest, noise in the 12 Hz of this window is −89 dBFS; a neighbour's
		// sidebands may drown a weak one, which is not the generator's fault.
		if c.Level > -50 {
			near(t, "carrier, dBFS", got, c.Level, 0.7)
		}
	}
}

func BenchmarkNoiseAndTones(b *testing.B) {
	s := New(1, 2.4e6, 9.65e6).Noise(1e-10).Tone(9.6e6, -20, 0).Tone(9.7e6, -20, 0).Tone(9.8e6, -30, 0)
	benchmark(b, s)
}

func BenchmarkBroadcast(b *testing.B) {
	benchmark(b, Broadcast(1, 2.4e6, 9.65e6, 9.4e6, 9.9e6, 0.6))
}

func benchmark(b *testing.B, s *Signal) {
	for b.Loop() {
		s.Samples(1 << 16)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/(1<<16), "ns/sample")
}

// A filter lets noise through within its edges and 60 dB less beyond them; codes of n bits err by 1/12 of a squared
// step in each component.
func TestLowPassAndCodes(t *testing.T) {
	const rate, n = 250e3, 1 << 14
	x := New(1, rate, 0).Noise(1e-7).Samples(n)
	y := LowPass(x, rate, 20e3, 30e3, 10e3)
	bins := make([]complex128, n)
	for i, v := range y {
		bins[i] = complex128(v) * complex(0.5-0.5*math.Cos(2*math.Pi*float64(i)/n), 0)
	}
	fourier.NewCmplxFFT(n).Coefficients(bins, bins)
	mean := func(low, high float64) (sum float64) {
		for k := int(low / rate * n); k < int(high/rate*n); k++ {
			v := bins[(k+n)%n]
			sum += real(v)*real(v) + imag(v)*imag(v)
		}
		return sum / ((high - low) / rate * n) / (3.0 / 8 * n * rate)
	}
	for _, b := range [][2]float64{{-4e3, 44e3}} {
		if db := 10 * math.Log10(mean(b[0], b[1])/1e-7); math.Abs(db) > 0.3 {
			t.Errorf("%v Hz: %.2f dB off", b, db)
		}
	}
	for _, b := range [][2]float64{{-80e3, -20e3}, {60e3, 100e3}} {
		if db := 10 * math.Log10(mean(b[0], b[1])/1e-7); db > -60 {
			t.Errorf("%v Hz: %.2f dB", b, db)
		}
	}
	power := 0.0
	for i, v := range Coded(x, 6) {
		d := v - x[i]
		power += float64(real(d)*real(d)+imag(d)*imag(d)) / n
	}
	if ratio := power / (2.0 / 12 / 32 / 32); math.Abs(ratio-1) > 0.05 {
		t.Errorf("codes err by %.3f times what they should", ratio)
	}
}
