package codes

import (
	"encoding/binary"
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
)

// i8 gives x as signed bytes: code = round(128·x), kept within −128…127.
func i8(x []complex64) (raw []byte) {
	for _, v := range x {
		raw = append(raw, byte(code(real(v), 128)), byte(code(imag(v), 128)))
	}
	return raw
}

// i16 gives x as signed 16-bit little-endian: code = round(32768·x).
func i16(x []complex64) (raw []byte) {
	for _, v := range x {
		raw = binary.LittleEndian.AppendUint16(raw, uint16(code(real(v), 32768)))
		raw = binary.LittleEndian.AppendUint16(raw, uint16(code(imag(v), 32768)))
	}
	return raw
}

func code(v float32, scale float64) int16 {
	return int16(max(-scale, min(scale-1, math.Round(float64(v)*scale))))
}

func TestClippedShareOfEachFormat(t *testing.T) {
	// Components: 2 of 8 at the limits, the other values one code inside them.
	x := []complex64{complex(1, -1), complex(126.4/128, -126.6/128), 0, complex(0.5, 0.1)}
	for _, test := range []struct {
		name string
		bits int
		add  func(c *Counter)
	}{
		{"u8", 8, func(c *Counter) { c.AddU8(dsptest.U8(nil, x)) }},
		{"i8", 8, func(c *Counter) { c.AddI8(i8(x)) }},
		{"i16", 16, func(c *Counter) { c.AddI16(i16(x), false) }},
		{"i16 big-endian", 16, func(c *Counter) {
			raw := i16(x)
			for i := 0; i < len(raw); i += 2 {
				raw[i], raw[i+1] = raw[i+1], raw[i]
			}
			c.AddI16(raw, true)
		}},
		{"float", 32, func(c *Counter) { c.AddFloat(x) }},
		{"i24", 24, func(c *Counter) { // in full-scale units; the last but one code of 16 bits is none
			c.AddFloat([]complex64{complex(32767.0/32768, -1), complex(32766.99/32768, -32766.99/32768), 0, complex(0.5, 0.1)})
		}},
	} {
		c := NewCounter(test.bits)
		test.add(c)
		if got := c.ClippedShare(); got != 0.25 || c.Components() != 8 {
			t.Errorf("%s: share %v of %d, want 0.25 of 8", test.name, got, c.Components())
		}
		c.Reset()
		if c.ClippedShare() != 0 || c.Components() != 0 {
			t.Errorf("%s: not empty after Reset", test.name)
		}
	}
}

func TestClippingInPieces(t *testing.T) {
	// Blocks of 2048 components; one clipped code in the third of five, fed in
	// pieces that do not fit the blocks.
	raw := make([]byte, 5*codeBlock)
	for i := range raw {
		raw[i] = 128
	}
	raw[2*codeBlock+77] = 255
	c := NewCounter(8)
	for len(raw) > 0 {
		n := min(len(raw), 999)
		c.AddU8(raw[:n])
		raw = raw[n:]
	}
	if got := c.Clipping(); got.Time != 0.2 || got.Share != 1.0/(5*codeBlock) {
		t.Errorf("%+v, want a fifth of the time, one component", got)
	}
	if got := c.ClippedRuns(); len(got) != 1 || got[0] != (Run{2 * 1024, 3 * 1024}) {
		t.Errorf("clipped in samples %v", got)
	}
	if c.Reset(); len(c.ClippedRuns()) > 0 {
		t.Error("clipped before anything was counted")
	}
	// Every other block clips: the last run that is kept apart reaches to the end.
	x := make([]complex64, 4*mostRuns*1024)
	for i := 0; i < len(x); i += 2048 {
		x[i] = 1
	}
	f := NewCounter(32)
	f.AddFloat(x)
	if got := f.ClippedRuns(); len(got) != mostRuns || got[1] != (Run{2048, 3072}) || got[mostRuns-1].To != int64(len(x))-1024 {
		t.Errorf("%d runs, the last %v", len(got), got[len(got)-1])
	}
}

func TestLowDrive(t *testing.T) {
	// Gaussian noise of sd s (in codes) between codes 127 and 128: three codes
	// hold 99.9 % if the fourth (beyond 1.5 codes on one side, 2 on the other)
	// gets under 0.1 %: s under about 0.49. At 1.4 codes six codes are needed.
	for _, test := range []struct {
		sd   float64
		want bool
	}{{0.3, true}, {0.8, false}, {1.4, false}} {
		density := 2 * test.sd * test.sd / 128 / 128 / 1e6
		x := dsptest.New(1, 1e6, 0).Noise(density).Samples(1 << 16)
		c := NewCounter(8)
		c.AddU8(dsptest.U8(nil, x))
		if got := c.LowDrive(); got != test.want {
			t.Errorf("sd %.1f codes: low drive %v, want %v", test.sd, got, test.want)
		}
	}
	c := NewCounter(16)
	c.AddI16(make([]byte, 400), false)
	if !c.LowDrive() {
		t.Error("silence in 16 bits is not low drive")
	}
}

func TestClippingNoiseOfGaussianSignal(t *testing.T) {
	// Noise of sd s in each component cut at 1: the mean square cut off is
	// 2s²[(1 + z²)Q(z) − zφ(z)] a component, z = 1/s. The estimate rests on the
	// shares beyond ¾ and beyond 127/128, where the last code begins.
	const rate = 1e6
	for _, s := range []float64{0.3, 0.36} {
		share := func(a float64) float64 { return math.Erfc(a / s / math.Sqrt2) }
		lambda := 0.25 / math.Log(share(0.75)/share(127.0/128))
		expect := 4 * share(127.0/128) * lambda * lambda
		c := NewCounter(8)
		c.AddU8(dsptest.U8(nil, dsptest.New(1, rate, 0).Noise(2*s*s/rate).Samples(1<<20)))
		got := c.Clipping().Noise
		// Of 2^21 components some 2000 clip: 2.2 %, and the estimate goes with
		// their share to the power 1.8: one sigma is 4 %.
		if math.Abs(got/expect-1) > 0.12 {
			t.Errorf("sd %.2f: %.3g, want %.3g ± 12 %%", s, got, expect)
		}
		z := 1 / s
		q, phi := math.Erfc(z/math.Sqrt2)/2, math.Exp(-z*z/2)/math.Sqrt(2*math.Pi)
		limiter := 2 * 2 * s * s * ((1+z*z)*q - z*phi)
		if d := 10 * math.Log10(got/limiter); d < 0 || d > 3 {
			t.Errorf("sd %.2f: %.3g, %.1f dB from the limiter's %.3g; want 0…3 dB over it", s, got, d, limiter)
		}
	}
}

func TestOverload(t *testing.T) {
	const rate, floor = 1.024e6, 1e-10
	for _, test := range []struct {
		name string
		make func() *dsptest.Signal
		want bool
	}{
		{"noise alone", func() *dsptest.Signal { return dsptest.New(1, rate, 0).Noise(floor) }, false},
		{"one carrier 1 dB over full scale", func() *dsptest.Signal {
			return dsptest.New(1, rate, 0).Noise(floor).Tone(10e3, 1, 0)
		}, true},
		{"three pulses a second at ten times full scale, 50 µs", func() *dsptest.Signal {
			return dsptest.New(1, rate, 0).Noise(floor).Pulses(dsptest.Pulses{Rate: 3, Length: 50e-6, Density: 100 / rate})
		}, false},
		// Ten carriers of −19 dBFS: components of sd 0.25 pass full scale at
		// 4 sigma, one in 16000, and by little.
		{"many carriers that add up at times", func() *dsptest.Signal { return tenCarriers(rate, floor, -19) }, false},
		{"the same 6 dB stronger", func() *dsptest.Signal { return tenCarriers(rate, floor, -13) }, true},
	} {
		c := NewCounter(8)
		c.AddU8(dsptest.U8(nil, test.make().Samples(1<<20)))
		if got := c.Clipping(); got.Overload(floor, rate) != test.want {
			t.Errorf("%s: overload %v, want %v (%+v)", test.name, !test.want, test.want, got)
		}
	}
}

// Clipping counts as overload from one block in 100 on, if it then hits one component in
// 1000 or adds a quarter to the floor, 1 dB.
func TestOverloadBounds(t *testing.T) {
	const rate, floor = 1e6, 1e-10
	for _, test := range []struct {
		time, share, added float64 // added over the floor
		want               bool
	}{
		{0.008, 1, 1, false}, {0.012, 1, 1, true},
		{0.5, 0.8e-3, 0, false}, {0.5, 1.2e-3, 0, true},
		{0.5, 1e-5, 0.2, false}, {0.5, 1e-5, 0.3, true},
	} {
		c := Clipping{Time: test.time, Share: test.share, Noise: test.added * floor * rate}
		if got := c.Overload(floor, rate); got != test.want {
			t.Errorf("%+v: overload %v, want %v", c, got, test.want)
		}
	}
	// What a Gaussian signal adds that clips 1e-3 of its components, 3.29 standard
	// deviations within full scale, stands 4 dB over the rounding of 8 bits.
	const sd = 1 / 3.2905
	z := 1 / sd
	q, phi := math.Erfc(z/math.Sqrt2)/2, math.Exp(-z*z/2)/math.Sqrt(2*math.Pi)
	added := 2 * 2 * sd * sd * ((1+z*z)*q - z*phi)
	if over := 10 * math.Log10(added/(2.0/12/128/128)); math.Abs(over-4) > 1 {
		t.Errorf("clipping adds %.1f dB over rounding, want 4 ± 1", over)
	}
}

func tenCarriers(rate, floor, level float64) *dsptest.Signal {
	s := dsptest.New(1, rate, 0).Noise(floor)
	for k := range 10 {
		s.Tone(float64(k*k)*4013-200e3, level, float64(k))
	}
	return s
}

// TestClippingOfRealRecordings reads the shares that the recordings' own
// description gives: 0.078741 % and 0.572252 %. In the first the receiver noise
// stands at −84 dBFS/Hz and clipping, in short peaks of bursts, adds 17 dB less;
// in the second whole bursts are cut to half their components.
func TestClippingOfRealRecordings(t *testing.T) {
	for _, test := range []struct {
		file        string
		rate, share float64
		overload    bool
	}{
		{"adsb_1090M_2M0_rtl.cu8", 2e6, 0.00078741, false},
		{"wmbus_868.950M_1M6_rtl.cu8", 1.6e6, 0.00572252, true},
	} {
		raw := dsptest.RealRecording(t, test.file)
		c := NewCounter(8)
		c.AddU8(raw)
		got := c.Clipping()
		if math.Abs(got.Share-test.share) > 5e-9 {
			t.Errorf("%s: share %.8f, want %.8f", test.file, got.Share, test.share)
		}
		if floor := math.Pow(10, -8.4); got.Overload(floor, test.rate) != test.overload {
			t.Errorf("%s: overload %v, want %v (%+v)", test.file, !test.overload, test.overload, got)
		}
	}
}

func TestCounterAllocatesNothing(t *testing.T) {
	c, raw := NewCounter(8), make([]byte, 10000)
	if n := testing.AllocsPerRun(10, func() { c.AddU8(raw) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func BenchmarkCounterU8(b *testing.B) {
	raw := dsptest.U8(nil, dsptest.New(1, 1e6, 0).Noise(1e-10).Samples(1<<16))
	c := NewCounter(8)
	for b.Loop() {
		c.AddU8(raw)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/(1<<16), "ns/sample")
}

// Rounding to 8 bits adds −110.0 dBFS/Hz at 1.024 MS/s (METHODS.md 1.1), to 16 bits 48.2 dB less, to floats nothing.
func TestRounding(t *testing.T) {
	for bits, want := range map[int]float64{8: -110.0 + 60.1, 16: -110.0 + 60.1 - 48.2, 32: math.Inf(-1)} {
		if got := 10 * math.Log10(NewCounter(bits).Rounding()); got != want && !(math.Abs(got-want) < 0.1) {
			t.Errorf("%d bits: %.2f dBFS, want %.2f", bits, got, want)
		}
	}
}
