package capture_test

import (
	"encoding/binary"
	"io"
	"math"
	"testing"

	"nightfloor/capture"
	"nightfloor/dsp/codes"
	"nightfloor/dsp/dsptest"
	"nightfloor/survey"
)

// coded streams samples as codes of 16 bits, or as floats where bits is 32.
type coded struct {
	x     []complex64
	bits  int
	codes *codes.Counter
}

func (s *coded) Read(x []complex64) (int, error) {
	n := copy(x, s.x)
	if n == 0 {
		return 0, io.EOF
	}
	var raw []byte
	for _, v := range s.x[:n] {
		raw = binary.LittleEndian.AppendUint16(raw, uint16(int16(real(v)*32768)))
		raw = binary.LittleEndian.AppendUint16(raw, uint16(int16(imag(v)*32768)))
	}
	if s.x = s.x[n:]; s.bits == 16 {
		s.codes.AddI16(raw, false)
	} else {
		s.codes.AddFloat(x[:n])
	}
	return n, nil
}

func (s *coded) Codes() *codes.Counter { return s.codes }
func (s *coded) Close() error          { return nil }

// measuredCodes gives the readings of samples of so many bits at 250 kS/s about 216 kHz.
func measuredCodes(t *testing.T, x []complex64, bits int, segments ...survey.Segment) []survey.Reading {
	t.Helper()
	s := capture.Source{Centre: 216e3, Rate: 250e3, Samples: int64(len(x)),
		Open: func() (capture.Samples, error) { return &coded{x, bits, codes.NewCounter(bits)}, nil }}
	out, err := capture.Measure(t.Context(), s, segments, 1)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Where the receiver's filter is narrower than the passband the segments that it cuts are flagged, and findings are
// of what is heard.
func TestFilterEdgeIsFlagged(t *testing.T) {
	x := dsptest.New(1, 250e3, 216e3).Noise(3e-10).Pulses(dsptest.Pulses{Rate: 40, Length: 20e-6, Density: 3e-6, Poisson: true}).Samples(125e3)
	x = dsptest.LowPass(x, 250e3, 0, 50e3, 8e3)
	readings := measuredCodes(t, dsptest.Coded(x, 16), 16, survey.SegmentOf(140e3, 290e3), survey.SegmentOf(190e3, 240e3), survey.SegmentOf(275e3, 295e3))
	for i, want := range []bool{true, false, true} {
		r := readings[i]
		if r.Quality.Has(survey.FlagFilterEdge) != want || r.Quality.Has(survey.FlagCrowded) || (r.Floor == nil) != (i == 2) {
			t.Errorf("%v: flags %v, floor %v", r.Segment, r.Quality.Flags, r.Floor)
		}
		if (r.HeardLow > 165e3 && r.HeardLow < 175e3 && r.HeardHigh > 257e3 && r.HeardHigh < 267e3) != (i == 0) || i > 0 && r.HeardHigh != 0 {
			t.Errorf("%v: heard at %v to %v", r.Segment, r.HeardLow, r.HeardHigh)
		}
	}
	found := false
	for _, f := range readings[0].Findings {
		if f.Kind == survey.FindingImpulses {
			found = true
			if f.Low < 165e3 || f.High > 267e3 {
				t.Errorf("impulses from %v to %v", f.Low, f.High)
			}
		}
	}
	if !found {
		t.Error("no impulses where two thirds of the passband are heard")
	}
}

// No floor is under the rounding of its codes: noise of a fifth of a code, which moves few of them, reads 8 dB
// under it. Floats have none.
func TestNoFloorUnderRounding(t *testing.T) {
	const step = 1.0 / 32768
	rounding := 2 * step * step / 12 / 250e3
	x := dsptest.New(2, 250e3, 216e3).Noise(2 * 0.2 * step * 0.2 * step / 250e3).Samples(125e3)
	r := measuredCodes(t, dsptest.Coded(x, 16), 16, survey.SegmentOf(150e3, 280e3))[0]
	if r.Floor == nil {
		t.Fatal("no floor")
	}
	if off := r.Floor.Density.Over(survey.DensityOf(rounding)); off < -1e-9 || off > 0.05 || r.Floor.Quiet < r.Floor.Density-1e-9 || r.Floor.Sigma < 5 {
		t.Errorf("floor %.2f dB over rounding, standard error %.2f, quiet %v", off, r.Floor.Sigma, r.Floor.Quiet)
	}
	r = measuredCodes(t, x, 32, survey.SegmentOf(150e3, 280e3))[0] // 3.2 dB under the rounding of 16 bits
	if off := r.Floor.Density.Over(survey.DensityOf(rounding)); math.Abs(float64(off)+3.18) > 0.15 {
		t.Errorf("floats: floor %.2f dB over the rounding of 16 bits", off)
	}
}
