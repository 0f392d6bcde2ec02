package main

import (
	"encoding/binary"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// wavFile gives a WAV file of 48,000 samples a second by the standards: a broadcast extension
// chunk that says a start, and the samples in two chunks of data.
func wavFile(x []complex64, tag, bits int, start string) []byte {
	le := binary.LittleEndian
	chunk := func(id string, content []byte) []byte {
		return slices.Concat([]byte(id), le.AppendUint32(nil, uint32(len(content))), content)
	}
	format := le.AppendUint16(le.AppendUint16(nil, uint16(tag)), 2)
	format = le.AppendUint32(le.AppendUint32(format, 48_000), uint32(48_000*bits/4))
	format = le.AppendUint16(le.AppendUint16(format, uint16(bits/4)), uint16(bits))
	bext := make([]byte, 602)
	copy(bext[320:], start)
	var raw []byte
	for _, v := range x {
		for _, c := range [2]float64{float64(real(v)), float64(imag(v))} {
			switch code := uint32(int32(math.Round(c * (1<<31 - 1)))); {
			case tag == 3 && bits == 64:
				raw = le.AppendUint64(raw, math.Float64bits(c))
			case tag == 3:
				raw = le.AppendUint32(raw, math.Float32bits(float32(c)))
			case bits == 8:
				raw = append(raw, byte(math.Round(c*128+127.5)))
			default: // the upper bits
				raw = append(raw, le.AppendUint32(nil, code)[4-bits/8:]...)
			}
		}
	}
	half := len(x) / 2 * bits / 4
	all := slices.Concat([]byte("WAVE"), chunk("bext", bext), chunk("fmt ", format), chunk("data", raw[:half]), chunk("own ", []byte("abcd")), chunk("data", raw[half:]))
	return chunk("RIFF", all)
}

// The way of a WAV file: a tone of −6.02 dBFS stands there in every format, to 0.01 dB, and the
// start is that of the broadcast extension chunk, by the local clock, and said back.
func TestMeasureWAV(t *testing.T) {
	zone := time.Local
	time.Local = time.FixedZone("CET", 3600)
	defer func() { time.Local = zone }()
	rng := rand.New(rand.NewPCG(3, 1))
	x := make([]complex64, 48_000)
	for i := range x { // noise 60 dB under the tone
		sin, cos := math.Sincos(2 * math.Pi * 4_003.3 / 48_000 * float64(i))
		x[i] = complex64(complex(0.5*cos+0.00035*rng.NormFloat64(), 0.5*sin+0.00035*rng.NormFloat64()))
	}
	for _, format := range []struct {
		name      string
		tag, bits int
	}{{"8", 1, 8}, {"16", 1, 16}, {"24", 1, 24}, {"32", 1, 32}, {"float", 3, 32}, {"double", 3, 64}} {
		path := filepath.Join(t.TempDir(), format.name+" 9650kHz.wav")
		if err := os.WriteFile(path, wavFile(x, format.tag, format.bits, "2026-11-0322:04:10"), 0o644); err != nil {
			t.Fatal(err)
		}
		status, out, errOut := command(t, "measure", path, "--json", "--segment", "9640-9660")
		var got struct {
			Recordings []struct {
				Start    *time.Time
				Duration float64 `json:"duration_s"`
				Segments []struct {
					Carriers []struct {
						Frequency float64 `json:"frequency_hz"`
						Level     float64 `json:"level_dbfs"`
					}
				}
			}
		}
		if err := json.Unmarshal([]byte(out), &got); err != nil || status != 0 {
			t.Fatalf("%s: status %d, %v: %s", format.name, status, err, errOut)
		}
		r := got.Recordings[0]
		if r.Start == nil || !r.Start.Equal(time.Date(2026, 11, 3, 21, 4, 10, 0, time.UTC)) || math.Abs(r.Duration-1) > 0.01 {
			t.Errorf("%s: start %v, %g s; want 21:04:10 UTC, 1 s", format.name, r.Start, r.Duration)
		}
		said := "nightfloor: read from the bext chunk of " + path + ": start 3 Nov 2026 22:04:10 CET\n"
		if !strings.Contains(errOut, said) || !strings.Contains(errOut, "read from the name of "+path+": centre 9.65 MHz\n") {
			t.Errorf("%s says %q, not %q", format.name, errOut, said)
		}
		level := math.NaN()
		for _, c := range r.Segments[0].Carriers {
			if math.Abs(c.Frequency-9_654_003.3) < 5 {
				level = c.Level
			}
		}
		if want := 20 * math.Log10(0.5); !(math.Abs(level-want) <= 0.01) {
			t.Errorf("%s: %.3f dBFS, want %.3f", format.name, level, want)
		}
	}
}
