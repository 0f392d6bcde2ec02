package iqfile

import (
	"bytes"
	"io"
	"slices"
	"testing"

	"github.com/mjibson/go-dsp/wav"
)

// Every split of a recording into reads gives the same samples.
func TestReadInAnyPortions(t *testing.T) {
	content := make([]byte, 200_003) // more than three blocks, and a byte over
	for i := range content {
		content[i] = byte(i * 7)
	}
	want := make([]complex64, len(content)/2)
	CU8.decode(want, content)
	r := openOne(t, put(t, t.TempDir(), "night.cu8", content), at31m)
	for _, portion := range []int{1, 3, 32_768, 65_537, 1_000_000} {
		reader, err := r.Open()
		if err != nil {
			t.Fatal(err)
		}
		var got []complex64
		for {
			x := make([]complex64, portion)
			n, err := reader.Read(x)
			if err == io.EOF && n == 0 {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			if n != portion && len(got)+n != len(want) {
				t.Fatalf("portions of %d: %d given in the middle", portion, n)
			}
			got = append(got, x[:n]...)
		}
		if !slices.Equal(got, want) {
			t.Errorf("portions of %d: samples differ", portion)
		}
		if n := reader.Codes().Components(); n != int64(2*len(want)) {
			t.Errorf("portions of %d: %d components counted, want %d", portion, n, 2*len(want))
		}
		if err := reader.Close(); err != nil {
			t.Error(err)
		}
	}
}

// One component in four at an outermost code is a share of 0.25, whatever the
// datatype; for floats |x| ≥ 1 counts, of 24 and 32 bits what a converter of 16 bits has outermost.
func TestCodesOfEachDatatype(t *testing.T) {
	for datatype, raw := range map[Datatype][]byte{
		CU8:    {0, 1, 254, 128},
		CI8:    {0x80, 0x81, 0x7E, 0},
		CI16LE: {0xFF, 0x7F, 0xFE, 0x7F, 1, 0x80, 0x80, 0},
		CI16BE: {0x7F, 0xFF, 0x7F, 0xFE, 0x80, 1, 0, 0x80},
		CI32LE: {0, 0, 0xFF, 0x7F, 0, 0xFF, 0xFE, 0x7F, 0, 0, 1, 0x80, 0, 0, 0, 0},
		CI32BE: {0x80, 0, 0, 0, 0x7F, 0xFE, 0xFF, 0, 0, 1, 0, 0, 0x80, 1, 0, 0},
		CF64LE: {0, 0, 0, 0, 0, 0, 0xF0, 0xBF, 0, 0, 0, 0, 0, 0, 0xE0, 0x3F, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0xE0, 0x3F},
		CF64BE: {0xBF, 0xF0, 0, 0, 0, 0, 0, 0, 0x3F, 0xE0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0x3F, 0xE0, 0, 0, 0, 0, 0, 0},
		CF32LE: {0, 0, 0x80, 0xBF, 0xFF, 0xFF, 0x7F, 0x3F, 0, 0, 0, 0, 0, 0, 0, 0x3F},
		CF32BE: {0xBF, 0x80, 0, 0, 0x3F, 0x7F, 0xFF, 0xFF, 0, 0, 0, 0, 0x3F, 0, 0, 0},
	} {
		meta := `{"global":{"core:datatype":"` + string(datatype) + `","core:sample_rate":2400000},"captures":[` + goodCapture + `]}`
		reader, err := openOne(t, putPair(t, t.TempDir(), "night", meta, raw), Options{}).Open()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := reader.Read(make([]complex64, 2)); err != nil {
			t.Fatal(err)
		}
		if got := reader.Codes().ClippedShare(); got != 0.25 {
			t.Errorf("%s: clipped share %g, want 0.25", datatype, got)
		}
		reader.Close() // was only read from
	}
}

// A recording of any length is read in the same memory.
func TestReadAllocatesNothing(t *testing.T) {
	r := openOne(t, put(t, t.TempDir(), "night.cs16", make([]byte, 4<<20)), at31m)
	reader, err := r.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	x := make([]complex64, 10_000)
	allocations := testing.AllocsPerRun(50, func() {
		if _, err := reader.Read(x); err != nil {
			t.Fatal(err)
		}
	})
	if allocations != 0 {
		t.Errorf("%g allocations a read", allocations)
	}
}

// Another reader of WAV finds the same codes in the files that our tests make.
func TestWAVAgreesWithAnotherReader(t *testing.T) {
	content := waveOf(wavePCM, 16, 48_000, known[CI16LE].raw).bytes()
	other, err := wav.New(bytes.NewReader(content))
	if err != nil {
		t.Fatal(err)
	}
	samples, err := other.ReadSamples(2 * len(known[CI16LE].x))
	if err != nil {
		t.Fatal(err)
	}
	ours := samplesOf(t, openOne(t, put(t, t.TempDir(), "night.wav", content), Options{Centre: 1}))
	for i, code := range samples.([]int16) {
		component := real(ours[i/2])
		if i%2 == 1 {
			component = imag(ours[i/2])
		}
		if component != float32(code)/32768 {
			t.Errorf("component %d: %g, want %d/32768", i, component, code)
		}
	}
	if other.SampleRate != 48_000 || other.NumChannels != 2 {
		t.Errorf("header: %+v", other.Header)
	}
}

func BenchmarkRead(b *testing.B) {
	for _, ending := range []string{".cu8", ".cs16", ".cf32"} {
		b.Run(ending[1:], func(b *testing.B) {
			r := openOne(b, put(b, b.TempDir(), "night"+ending, make([]byte, 16<<20)), at31m)
			x := make([]complex64, 16_384)
			for b.Loop() {
				reader, err := r.Open()
				if err != nil {
					b.Fatal(err)
				}
				for err == nil {
					_, err = reader.Read(x)
				}
				if err != io.EOF {
					b.Fatal(err)
				}
				reader.Close() // was only read from
			}
			b.ReportMetric(float64(r.Samples)*float64(b.N)/b.Elapsed().Seconds()/1e6, "MS/s")
		})
	}
}
