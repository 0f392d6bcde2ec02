package density

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// TestDensityKeepsATwentiethOfADecibel: half a step of 0.1 dB, and what has no
// steps as it is.
func TestDensityKeepsATwentiethOfADecibel(t *testing.T) {
	nan, inf := float32(math.NaN()), float32(math.Inf(1))
	want := []float32{-98.26, nan, -inf, inf, -31.04, -3200, 3200, 0, nan, -140.05}
	rng := rand.New(rand.NewPCG(1, 2))
	for range 10000 {
		want = append(want, float32(-98+20*rng.NormFloat64()))
	}
	blob, err := Encode(want)
	if err != nil {
		t.Fatal(err)
	}
	got, err := Decode(blob)
	if err != nil || len(got) != len(want) {
		t.Fatalf("%d bins, %v, want %d", len(got), err, len(want))
	}
	// float32 near 3200 is exact to 0.00012: allow it beside the half step.
	const tol = 0.05 + 0.00025
	for i := range want {
		w, g := float64(want[i]), float64(got[i])
		same := w == g || math.IsNaN(w) && math.IsNaN(g) // the infinities and NaN
		if !same && !(math.Abs(g-w) <= tol) {
			t.Errorf("bin %d: %g, want %g ± %g", i, g, w, tol)
		}
	}
	again, err := Encode(got)
	if err != nil || !bytes.Equal(again, blob) {
		t.Errorf("packed again it differs (%v): something is lost each time", err)
	}
}

// TestHostileBlobs: a blob that lies is refused.
func TestHostileBlobs(t *testing.T) {
	blob, err := Encode(make([]float32, 1000))
	if err != nil {
		t.Fatal(err)
	}
	with := func(at int, b ...byte) []byte {
		c := bytes.Clone(blob)
		copy(c[at:], b)
		return c
	}
	for name, bad := range map[string][]byte{
		"empty": nil, "header alone": blob[:blobHeader], "cut": blob[:len(blob)-1], "later layout": with(0, 2),
		"step of 0": with(1, 0, 0), "one bin more": with(3, 0xe9, 3), "one bin less": with(3, 0xe7, 3),
		"4 billion bins": with(3, 255, 255, 255, 255), "turned bit": with(len(blob)-1, ^blob[len(blob)-1]),
		"no frame": with(blobHeader, 0, 0, 0, 0),
	} {
		if got, err := Decode(bad); !errors.Is(err, ErrUnreadable) {
			t.Errorf("%s: %d bins, %v, want ErrUnreadable", name, len(got), err)
		}
	}
}

// FuzzDecodeDensity: no blob makes the decoder panic or return more bins than
// the blob claims; what it reads can be packed and comes back the same.
func FuzzDecodeDensity(f *testing.F) {
	for _, density := range [][]float32{nil, {-98.2}, make([]float32, 300)} {
		blob, err := Encode(density)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(blob)
		f.Add(blob[:len(blob)/2])
	}
	f.Fuzz(func(t *testing.T, blob []byte) {
		blob = bytes.Clone(blob) // the fuzzer's own is not ours to change
		if len(blob) >= blobHeader {
			// Claims of up to 64 MB are the fuzzer's whole day otherwise.
			binary.LittleEndian.PutUint16(blob[5:], binary.LittleEndian.Uint16(blob[5:])%2)
		}
		density, err := Decode(blob)
		if err != nil {
			return
		}
		if claimed := int(binary.LittleEndian.Uint32(blob[3:])); len(density) != claimed {
			t.Fatalf("%d bins, claimed %d", len(density), claimed)
		}
		if binary.LittleEndian.Uint16(blob[1:]) != stepMilliDB {
			return // other steps need not fit ours
		}
		for _, d := range density {
			if math.Abs(float64(d)) > 3200 && !math.IsInf(float64(d), 0) {
				return // codes that Encode never writes
			}
		}
		again, err := Encode(density)
		if err != nil {
			t.Fatal(err)
		}
		back, err := Decode(again)
		if err != nil {
			t.Fatal(err)
		}
		for i := range density {
			if math.Float32bits(back[i]) != math.Float32bits(density[i]) {
				t.Fatalf("bin %d: %g, want %g", i, back[i], density[i])
			}
		}
	})
}

// BenchmarkDensity packs and unpacks the spectrum of one reading.
func BenchmarkDensity(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	values := make([]float32, 4700)
	for i := range values {
		values[i] = float32(-98 + 1.5*rng.NormFloat64())
	}
	blob, err := Encode(values)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("pack", func(b *testing.B) {
		for b.Loop() {
			if _, err := Encode(values); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(len(blob))/float64(len(values)), "bytes/bin")
	})
	b.Run("unpack", func(b *testing.B) {
		for b.Loop() {
			if _, err := Decode(blob); err != nil {
				b.Fatal(err)
			}
		}
	})
}
