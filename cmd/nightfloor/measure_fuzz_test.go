package main

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"nightfloor/cmd/nightfloor/console"
)

// mostFuzzed bounds a recording's samples, so that one takes some milliseconds.
const mostFuzzed = 1 << 13

// A fuzzed is a recording of any kind, and what is asked for of it.
type fuzzed struct {
	format, content uint8
	rate, centre    float64 // Hz
	samples         uint16
	level           float64 // amplitude, full-scale units
	at              float64 // of a tone, and of the segment's middle: offset from the centre over the rate
	wide            float64 // of the segment, over the rate; 0: none is asked for
	seed            uint64
}

// contents make sample i of a recording. noise is a complex Gaussian value of power 1.
var contents = []func(f *fuzzed, i int, noise complex128) complex128{
	func(f *fuzzed, _ int, noise complex128) complex128 { return complex(f.level, 0) * noise },
	func(*fuzzed, int, complex128) complex128 { return 0 }, // silence
	func(f *fuzzed, _ int, _ complex128) complex128 { return complex(f.level, f.level/2) },
	func(_ *fuzzed, i int, _ complex128) complex128 { s := 1 - 2*float64(i&1); return complex(s, -s) }, // full scale
	func(f *fuzzed, i int, _ complex128) complex128 { return tone(f.level, f.at*float64(i)) },
	func(f *fuzzed, i int, noise complex128) complex128 {
		return tone(f.level, f.at*float64(i)) + 0.01*noise
	},
	func(f *fuzzed, i int, noise complex128) complex128 { return oneOf(f, i, noise, math.NaN()) },
	func(f *fuzzed, i int, noise complex128) complex128 { return oneOf(f, i, noise, math.Inf(-1)) },
	func(_ *fuzzed, _ int, noise complex128) complex128 { return 1e-42 * noise }, // float32 has it as a subnormal
	func(f *fuzzed, i int, _ complex128) complex128 { // pulses in silence
		if i%997 < 3 {
			return complex(f.level, 0)
		}
		return 0
	},
	func(f *fuzzed, i int, noise complex128) complex128 { // a comb about the centre
		return complex(f.level*float64(1-min(1, i%16)), 0) + complex(f.level/10, 0)*noise
	},
	func(f *fuzzed, i int, noise complex128) complex128 { // half of it is missing
		if i < int(f.samples)/2 {
			return 0
		}
		return complex(f.level, 0) * noise
	},
}

// tone gives a tone's sample after so many turns.
func tone(level, turns float64) complex128 {
	sin, cos := math.Sincos(2 * math.Pi * math.Mod(turns, 1))
	return complex(level*cos, level*sin)
}

// oneOf gives noise with one other value in it.
func oneOf(f *fuzzed, i int, noise complex128, value float64) complex128 {
	if i == int(f.seed%uint64(max(1, f.samples))) {
		return complex(0, value)
	}
	return complex(f.level, 0) * noise
}

// write writes the recording into a folder and gives the arguments that name it.
func (f *fuzzed) write(t *testing.T, folder string) []string {
	rng := rand.New(rand.NewPCG(f.seed, 1))
	var raw []byte
	code := func(v float64, top float64) int { return int(max(-top, min(top-1, math.Round(v*top)))) }
	for i := range int(f.samples) {
		noise := complex(rng.NormFloat64(), rng.NormFloat64()) * complex(math.Sqrt(0.5), 0)
		x := contents[int(f.content)%len(contents)](f, i, noise)
		for _, v := range [2]float64{real(x), imag(x)} {
			switch f.format % 5 {
			case 0:
				raw = append(raw, byte(code(v, 128)+128))
			case 1:
				raw = append(raw, byte(code(v, 128)))
			case 2:
				raw = binary.LittleEndian.AppendUint16(raw, uint16(code(v, 32768)))
			case 3:
				raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(float32(v)))
			default:
				raw = binary.BigEndian.AppendUint32(raw, math.Float32bits(float32(v)))
			}
		}
	}
	put := func(name string, content []byte) string {
		path := filepath.Join(folder, name)
		if err := os.WriteFile(path, content, 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	if f.format%5 == 4 {
		put("any.sigmf-data", raw)
		return []string{put("any.sigmf-meta", fmt.Appendf(nil, `{"global":{"core:datatype":"cf32_be","core:sample_rate":%g,"core:version":"1.2.5","antenna:model":"wire"},
			"captures":[{"core:sample_start":0,"core:frequency":%g,"core:datetime":"2026-11-03T21:04:10Z"}],"annotations":[]}`, f.rate, f.centre))}
	}
	ending := []string{".cu8", ".cs8", ".cs16", ".cf32"}[f.format%5]
	return []string{"--rate", fmt.Sprint(f.rate), "--center", fmt.Sprint(f.centre), put("any"+ending, raw)}
}

// segment gives the arguments that ask for the segment.
func (f *fuzzed) segment() []string {
	if f.wide == 0 {
		return nil
	}
	middle, half := f.centre+f.at*f.rate, f.wide*f.rate/2
	return []string{"--segment", fmt.Sprintf("%.3fHz-%.3fHz", middle-half, middle+half)}
}

// anyDocument is what is asked of every measurement.
type anyDocument struct {
	Schema     string
	Recordings []struct {
		Rate     float64 `json:"sample_rate_hz"`
		Bin      float64 `json:"bin_hz"`
		Segments []struct {
			Low        float64  `json:"low_hz"`
			High       float64  `json:"high_hz"`
			Floor      *float64 `json:"floor_dbfs_hz"`
			FloorSigma *float64 `json:"floor_sigma_db"`
			Quiet      *float64 `json:"quiet_dbfs_hz"`
			Vd         *float64 `json:"vd_db"`
			Occupancy  float64
			Carriers   []struct {
				Frequency float64  `json:"frequency_hz"`
				SNR       *float64 `json:"snr_db"`
			}
		}
		Findings []measuredFinding
	}
}

// still tells whether the recording holds nothing but a constant or what alternates, in the
// middles of bins: no noise, not even that of a converter's steps, and no skirts.
func (f *fuzzed) still() bool {
	content := int(f.content) % len(contents)
	return content >= 1 && content <= 3
}

// most is over any density of what the recording can hold, dBFS/Hz: codes stop at full scale.
func (f *fuzzed) most() float64 {
	if f.format%5 < 3 {
		return 10*math.Log10(2/f.rate) + 3
	}
	return 10*math.Log10(20*max(1, f.level*f.level)/f.rate) + 3
}

// errorLine is the form of an error.
var errorLine = regexp.MustCompile(`^nightfloor: [^\n]+: [^\n]+; [^\n]+\n$`)

// check tells what a measurement of the recording must not say.
func (f *fuzzed) check(t *testing.T, out string) {
	t.Helper()
	var d anyDocument
	if err := json.Unmarshal([]byte(out), &d); err != nil || d.Schema != "nightfloor/measure/1" || len(d.Recordings) != 1 {
		t.Fatalf("%v: %s", err, out)
	}
	r := d.Recordings[0]
	if !(r.Bin > 0) || len(r.Segments) == 0 {
		t.Fatalf("no spectrum: %s", out)
	}
	for _, s := range r.Segments {
		switch {
		case !(s.Low < s.High) || s.Occupancy < 0 || s.Occupancy > 1:
			t.Errorf("segment: %+v", s)
		case (s.Floor == nil) != (s.FloorSigma == nil) || (s.Floor == nil) != (s.Quiet == nil):
			t.Errorf("half a floor: %+v", s)
		case s.Floor != nil && (*s.FloorSigma < 0 || *s.Floor > f.most() || *s.Quiet > f.most()):
			t.Errorf("floor %v ± %v, quiet %v", *s.Floor, *s.FloorSigma, *s.Quiet)
		case s.Vd != nil && (*s.Vd < 0 || s.Floor == nil):
			t.Errorf("Vd %v", *s.Vd)
		case f.still() && (s.Floor != nil || s.Vd != nil):
			t.Errorf("a floor where there is no noise: %s", out)
		}
		for _, c := range s.Carriers {
			if c.Frequency < s.Low-r.Bin || c.Frequency > s.High+r.Bin {
				t.Errorf("carrier at %v outside %v–%v", c.Frequency, s.Low, s.High)
			}
		}
	}
	if f.still() && len(r.Findings) > 0 {
		t.Errorf("findings where there is no noise: %+v", r.Findings)
	}
	for _, x := range r.Findings {
		if x.Confidence < 0.999 || x.Confidence > 1 || x.Low != nil && !(*x.Low < *x.High) {
			t.Errorf("finding: %+v", x)
		}
	}
}

// FuzzMeasure measures any recording, from the file to the document: either it gives
// figures that can be, or one line that says why not.
func FuzzMeasure(f *testing.F) {
	for content := range contents {
		for format := range uint8(5) {
			f.Add(format, uint8(content), 48e3, 9.65e6, uint16(8000), 0.1, 0.11, 0.0, uint64(content))
		}
	}
	for i, rate := range []float64{1, 7, 100, 1e3, 3e3, 5120, 7.4e3, 7.6e3, 8e3, 11025, 22050, 250e3, 2.4e6, 1e8} {
		f.Add(uint8(i%5), uint8(0), rate, 9.65e6, uint16(mostFuzzed-1), 0.1, 0.2, 0.1*float64(i%3), uint64(i))
	}
	for i, centre := range []float64{0, 1, 1e3, 80e3, 65e6, 1e12} {
		for _, content := range []uint8{0, 5, 10} {
			f.Add(uint8(4), content, 250e3, centre, uint16(mostFuzzed-1), 0.1, 0.2, 0.0, uint64(i))
		}
	}
	folder := f.TempDir()
	f.Fuzz(func(t *testing.T, format, content uint8, rate, centre float64, samples uint16, level, at, wide float64, seed uint64) {
		in := fuzzed{format, content, rate, centre, samples % mostFuzzed, level, at, wide, seed}
		args := append(in.write(t, folder), in.segment()...)
		forms := [][]string{{"measure", "--json"}, {"measure"}}
		for _, form := range forms[:1+seed%2] { // the table takes as long, and has the same figures
			var out, errOut bytes.Buffer
			switch status := run(t.Context(), console.New(strings.NewReader(""), &out, &errOut), append(form, args...)); {
			case status != 0:
				last := errOut.String()
				last = last[strings.LastIndex(strings.TrimSuffix(last, "\n"), "\n")+1:]
				if out.Len() > 0 || !errorLine.MatchString(last) {
					t.Fatalf("status %d, %q is not one line of WHAT: WHY; WHAT TO DO", status, errOut.String())
				}
				return
			case len(form) == 2:
				in.check(t, out.String())
			case out.Len() == 0:
				t.Fatal("nothing printed")
			}
		}
	})
}
