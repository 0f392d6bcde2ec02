package iqfile

import (
	"encoding/binary"
	"math"
	"math/cmplx"
	"slices"
	"testing"
)

// known are samples as each datatype stores them, by hand from the full scales
// of the contract: cu8 (c − 127.5)/128, ci8 c/128, ci16 c/32768, ci24 c/2²³, ci32 c/2³¹, cf as it is.
var known = map[Datatype]struct {
	raw []byte
	x   []complex64
}{
	CU8: {[]byte{0, 255, 127, 128, 64, 192},
		[]complex64{complex(-127.5/128, 127.5/128), complex(-0.5/128, 0.5/128), complex(-63.5/128, 64.5/128)}},
	CI8: {[]byte{0x80, 0x7F, 0xFF, 0x01, 0, 64},
		[]complex64{complex(-1, 127.0/128), complex(-1.0/128, 1.0/128), complex(0, 0.5)}},
	CI16LE: {[]byte{0x00, 0x80, 0xFF, 0x7F, 0xFF, 0xFF, 0x00, 0x01},
		[]complex64{complex(-1, 32767.0/32768), complex(-1.0/32768, 256.0/32768)}},
	CI16BE: {[]byte{0x80, 0x00, 0x7F, 0xFF, 0xFF, 0xFF, 0x01, 0x00},
		[]complex64{complex(-1, 32767.0/32768), complex(-1.0/32768, 256.0/32768)}},
	CI24LE: {[]byte{0, 0, 0x80, 0xFF, 0xFF, 0x7F, 0xFF, 0xFF, 0xFF, 0, 0, 1},
		[]complex64{complex(-1, 8388607.0/8388608), complex(-1.0/8388608, 65536.0/8388608)}},
	CI32LE: {[]byte{0, 0, 0, 0x80, 0, 0xFF, 0xFF, 0x7F, 0xFF, 0xFF, 0xFF, 0xFF, 0, 0, 1, 0},
		[]complex64{complex(-1, 8388607.0/8388608), complex(-1.0/(1<<31), 65536.0/(1<<31))}},
	CI32BE: {[]byte{0x80, 0, 0, 0, 0x7F, 0xFF, 0xFF, 0, 0xFF, 0xFF, 0xFF, 0xFF, 0, 1, 0, 0},
		[]complex64{complex(-1, 8388607.0/8388608), complex(-1.0/(1<<31), 65536.0/(1<<31))}},
	CF32LE: {[]byte{0, 0, 0xC0, 0x3F, 0, 0, 0, 0xBE, 0, 0, 0, 0, 0, 0, 0x80, 0xBF},
		[]complex64{complex(1.5, -0.125), complex(0, -1)}},
	CF32BE: {[]byte{0x3F, 0xC0, 0, 0, 0xBE, 0, 0, 0, 0, 0, 0, 0, 0xBF, 0x80, 0, 0},
		[]complex64{complex(1.5, -0.125), complex(0, -1)}},
	CF64LE: {[]byte{0, 0, 0, 0, 0, 0, 0xF8, 0x3F, 0, 0, 0, 0, 0, 0, 0xC0, 0xBF},
		[]complex64{complex(1.5, -0.125)}},
	CF64BE: {[]byte{0x3F, 0xF8, 0, 0, 0, 0, 0, 0, 0xBF, 0xC0, 0, 0, 0, 0, 0, 0},
		[]complex64{complex(1.5, -0.125)}},
}

func TestFullScaleOfEachDatatype(t *testing.T) {
	for datatype, k := range known {
		if datatype == CI24LE { // which SigMF has not: TestWAV
			continue
		}
		meta := `{"global":{"core:datatype":"` + string(datatype) + `","core:version":"1.2.5","core:sample_rate":2400000},
			"captures":[{"core:sample_start":0,"core:frequency":9650000}],"annotations":[]}`
		r := openOne(t, putPair(t, t.TempDir(), "night", meta, k.raw), Options{})
		if got := samplesOf(t, r); !slices.Equal(got, k.x) { // exact: these levels are floats of few bits
			t.Errorf("%s: %v, want %v", datatype, got, k.x)
		}
		back := make([]byte, len(k.raw))
		if datatype.encode(back, k.x); !slices.Equal(back, k.raw) {
			t.Errorf("%s written: % x, want % x", datatype, back, k.raw)
		}
	}
}

// A tone of |x| = 0.9 stands at 20·lg 0.9 = −0.915 dBFS in every format, to 0.01 dB. Rounding to
// steps q adds noise of 2q²/12 to the power: 1e-5 of the tone at the 8 bits of cu8.
func TestLevelOfAToneInEachDatatype(t *testing.T) {
	x := make([]complex64, 20_000)
	for i := range x {
		sin, cos := math.Sincos(2 * math.Pi * 0.123456 * float64(i))
		x[i] = complex(float32(0.9*cos), float32(0.9*sin))
	}
	for d := range known {
		raw := make([]byte, int64(len(x))*d.Size())
		d.encode(raw, x)
		back, sum := make([]complex64, len(x)), complex128(0)
		d.decode(back, raw)
		for i, v := range back {
			sum += complex128(v) * cmplx.Rect(1, -2*math.Pi*0.123456*float64(i))
		}
		level := 20 * math.Log10(cmplx.Abs(sum)/float64(len(x)))
		if want := 20 * math.Log10(0.9); !(math.Abs(level-want) <= 0.01) {
			t.Errorf("%s: %.4f dBFS, want %.4f", d, level, want)
		}
	}
}

func TestEncodeRoundsAndClamps(t *testing.T) {
	// 0.3 stands between codes: 0.3·128 + 127.5 = 165.9 → 166. Beyond full scale
	// the outermost code stands.
	x := []complex64{complex(0.3, 7), complex(-7, float32(math.Inf(1)))}
	want := []byte{166, 255, 0, 255}
	got := make([]byte, 4)
	if CU8.encode(got, x); !slices.Equal(got, want) {
		t.Errorf("cu8 %v, want %v", got, want)
	}
	got16 := make([]byte, 8)
	CI16LE.encode(got16, x)
	// 0.3·32768 = 9830.4 → 9830
	for i, want := range []int16{9830, 32767, -32768, 32767} {
		if got := int16(binary.LittleEndian.Uint16(got16[2*i:])); got != want {
			t.Errorf("ci16 component %d: %d, want %d", i, got, want)
		}
	}
}

func TestBareFilesByEnding(t *testing.T) {
	endings := map[string]Datatype{".cu8": CU8, ".CU8": CU8, ".cs8": CI8, ".ci8": CI8, ".cs16": CI16LE, ".ci16": CI16LE, ".cf32": CF32LE}
	for ending, datatype := range endings {
		r := openOne(t, put(t, t.TempDir(), "night"+ending, known[datatype].raw), at31m)
		if r.Datatype != datatype || r.Centre != 9_650_000 || r.Rate != 2_400_000 || !r.Start.IsZero() || r.Gain.Known || r.Bearing.Known {
			t.Errorf("%s: %+v", ending, r)
		}
		if got := samplesOf(t, r); !slices.Equal(got, known[datatype].x) {
			t.Errorf("%s: %v, want %v", ending, got, known[datatype].x)
		}
	}
}

func TestWAV(t *testing.T) {
	list := chunkOf("LIST", []byte("INFOISFT\x01\x00\x00\x00x\x00\x00")) // odd length: padded
	sizes := make([]byte, 28)
	binary.LittleEndian.PutUint64(sizes[8:], uint64(len(known[CI16LE].raw)))
	ofType := func(d Datatype, tag uint16) wave { return waveOf(tag, uint16(d.Bits()), 2_400_000, known[d].raw) }
	extensible := func(d Datatype, sub uint16) wave {
		w := ofType(d, waveExtensible)
		w.sub = sub
		return w
	}
	chunks := ofType(CI16LE, wavePCM)
	chunks.before, chunks.after = list, list
	rf64 := ofType(CI16LE, wavePCM)
	rf64.form, rf64.riff, rf64.length, rf64.before, rf64.after = "RF64", waveUnknown, waveUnknown, chunkOf("ds64", sizes), list
	for name, test := range map[string]struct {
		file wave
		want Datatype
	}{
		"8 bit":             {ofType(CU8, wavePCM), CU8},
		"16 bit":            {ofType(CI16LE, wavePCM), CI16LE},
		"24 bit":            {ofType(CI24LE, wavePCM), CI24LE},
		"32 bit":            {ofType(CI32LE, wavePCM), CI32LE},
		"float":             {ofType(CF32LE, waveFloat), CF32LE},
		"float of 64 bit":   {ofType(CF64LE, waveFloat), CF64LE},
		"extensible 24 bit": {extensible(CI24LE, wavePCM), CI24LE},
		"extensible double": {extensible(CF64LE, waveFloat), CF64LE},
		"extensible 16 bit": {extensible(CI16LE, wavePCM), CI16LE},
		"extensible float":  {extensible(CF32LE, waveFloat), CF32LE},
		"other chunks":      {chunks, CI16LE},
		"RF64":              {rf64, CI16LE},
	} {
		r := openOne(t, put(t, t.TempDir(), "night.wav", test.file.bytes()), Options{Centre: 9_650_000})
		if r.Datatype != test.want || r.Rate != 2_400_000 || r.Centre != 9_650_000 || len(r.Doubts) > 0 {
			t.Errorf("%s: %+v", name, r)
		}
		if got := samplesOf(t, r); !slices.Equal(got, known[test.want].x) {
			t.Errorf("%s: %v, want %v", name, got, known[test.want].x)
		}
	}
}

// A recorder that is killed leaves a header without length, or one that
// promises more than there is. What is there is read, with a doubt.
func TestWAVCutOff(t *testing.T) {
	for name, test := range map[string]struct {
		spoil func(*wave)
		doubt string
	}{
		"length never written": {func(w *wave) { w.riff, w.length = 0, 0 },
			"the WAV header gives no length: the recording was cut off, and is read to the end of the file"},
		"length unknown": {func(w *wave) { w.riff, w.length = waveUnknown, waveUnknown },
			"the WAV header gives no length: the recording was cut off, and is read to the end of the file"},
		"shorter than promised": {func(w *wave) { w.length += 4000 },
			"4,000 bytes promised by the WAV header are missing: the recording was cut off"},
	} {
		w := waveOf(wavePCM, 16, 2_400_000, known[CI16LE].raw)
		test.spoil(&w)
		r := openOne(t, put(t, t.TempDir(), "night.wav", w.bytes()), Options{Centre: 9_650_000})
		if !slices.Equal(r.Doubts, []string{test.doubt}) {
			t.Errorf("%s: doubts %q, want %q", name, r.Doubts, test.doubt)
		}
		if got := samplesOf(t, r); !slices.Equal(got, known[CI16LE].x) {
			t.Errorf("%s: %v", name, got)
		}
	}
}

// Whole samples are read, what remains of the last is named.
func TestOddTrailingBytes(t *testing.T) {
	r := openOne(t, put(t, t.TempDir(), "night.cf32", append(slices.Clone(known[CF32LE].raw), 1, 2, 3)), at31m)
	want := []string{"3 bytes after the last whole sample left out: the recording was cut off"}
	if r.Samples != 2 || !slices.Equal(r.Doubts, want) {
		t.Errorf("%d samples, doubts %q; want 2, %q", r.Samples, r.Doubts, want)
	}
	if got := samplesOf(t, r); !slices.Equal(got, known[CF32LE].x) {
		t.Errorf("%v", got)
	}
}

// What the command line says wins over the file.
func TestFlagsWin(t *testing.T) {
	r := openOne(t, put(t, t.TempDir(), "night.wav", waveOf(wavePCM, 8, 48_000, known[CU8].raw).bytes()), at31m)
	if r.Rate != 2_400_000 {
		t.Errorf("WAV: rate %v, want that of the flag", r.Rate)
	}
	meta := `{"global":{"core:datatype":"cu8","core:sample_rate":250000},"captures":[{"core:sample_start":0,"core:frequency":6075000}]}`
	r = openOne(t, putPair(t, t.TempDir(), "night", meta, known[CU8].raw), at31m)
	if r.Rate != 2_400_000 || r.Centre != 9_650_000 {
		t.Errorf("SigMF: %v at %v, want those of the flags", r.Rate, r.Centre)
	}
}
