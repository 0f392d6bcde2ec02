package iqfile

import (
	"crypto/sha512"
	"errors"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"nightfloor/survey"
)

// checkedPair writes a pair with a checksum, as a receiving program may: sine and cosine
// in the codes of a datatype.
func checkedPair(t *testing.T, d Datatype, x []complex64) (path string) {
	t.Helper()
	raw := make([]byte, int64(len(x))*d.Size())
	d.encode(raw, x)
	return putPair(t, t.TempDir(), "night", fmt.Sprintf(`{
  "global": {"core:datatype": %q, "core:version": "1.2.5", "core:sample_rate": 2400000, "core:sha512": "%x",
    "antenna:model": "whip", "nightfloor:placement": "attic", "nightfloor:simulated": true},
  "captures": [{"core:sample_start": 0, "core:frequency": 9650000, "core:datetime": "2026-11-03T21:04:10.123456789Z", "capture_details:gain": 32.8}],
  "annotations": [{"core:sample_start": 0, "core:sample_count": %d, "antenna:azimuth_angle": 40}]
}`, string(d), sha512.Sum512(raw), len(x)), raw)
}

// What was written is read as it was, to half a code, whatever the datatype.
func TestSamplesAreReadAsTheyWere(t *testing.T) {
	x := make([]complex64, 20_000) // more than one block of every datatype
	for i := range x {
		x[i] = complex(float32(0.9*math.Cos(float64(i))), float32(0.9*math.Sin(float64(i))))
	}
	for datatype, tolerance := range map[Datatype]float64{CU8: 0.5 / 128, CI8: 0.5 / 128, CI16LE: 0.5 / 32768, CI16BE: 0.5 / 32768, CF32LE: 0, CF32BE: 0} {
		path := checkedPair(t, datatype, x)
		r := openOne(t, path, Options{})
		want := Recording{File: path, Datatype: datatype, Centre: 9_650_000, Rate: 2_400_000, Samples: int64(len(x)),
			Start:   time.Date(2026, 11, 3, 21, 4, 10, 123456789, time.UTC),
			Antenna: "whip", Placement: "attic", Bearing: survey.BearingOf(40), Gain: survey.Gain{DB: 32.8, Known: true, Exact: true}, Simulated: true}
		if !sameRecording(r, want) {
			t.Errorf("%s:\n got %+v\nwant %+v", datatype, r, want)
		}
		for i, v := range samplesOf(t, r) {
			// 1e-7: the codes' levels are exact, x itself is rounded to float32
			if d := v - x[i]; math.Abs(float64(real(d))) > tolerance+1e-7 || math.Abs(float64(imag(d))) > tolerance+1e-7 {
				t.Fatalf("%s: sample %d is %v, want %v ± %g", datatype, i, v, x[i], tolerance)
			}
		}
	}
}

// One bit that turns over is noticed, by every capture, before a sample is
// given out.
func TestChecksum(t *testing.T) {
	path := checkedPair(t, CU8, make([]complex64, 100_000))
	data := strings.TrimSuffix(path, metaEnding) + dataEnding
	raw, err := os.ReadFile(data)
	if err != nil {
		t.Fatal(err)
	}
	raw[150_001] ^= 4
	if err := os.WriteFile(data, raw, 0o644); err != nil {
		t.Fatal(err)
	}
	r := openOne(t, path, Options{})
	for range 2 {
		reader, err := r.Open()
		if reader != nil || !errors.Is(err, ErrChecksum) {
			t.Fatalf("reader %v, error %v; want none and %v", reader, err, ErrChecksum)
		}
		if _, _, err := r.Digest(r.Start); !errors.Is(err, ErrChecksum) {
			t.Fatalf("digest: %v, want %v", err, ErrChecksum)
		}
	}
}
