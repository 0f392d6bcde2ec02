package droop_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"nightfloor/capture/droop"
	"nightfloor/survey"
	"nightfloor/survey/passband"
)

const (
	rate     = 2.4e6
	rounding = 2.0 / 12 / (128 * 128) / rate
	length   = 160_000 // samples of a look
)

// A filter of three taps. That of slanting falls to one side more than to the other.
type filter [3]complex128

var (
	flat     = filter{0, 1, 0}
	slanting = filter{0.12 - 0.05i, 1, 0.12 + 0.05i}
	narrow   = filter{0.5, 1, 0.5}
)

// power gives the filter's power response relative to the centre, dB.
func (f filter) power(offset float64) float64 {
	at := func(offset float64) complex128 {
		turn := cmplx.Rect(1, 2*math.Pi*offset/rate)
		return f[0]*turn + f[1] + f[2]/turn
	}
	return 20 * math.Log10(cmplx.Abs(at(offset))/cmplx.Abs(at(0)))
}

// noise gives the I/Q of noise of so many codes rms in a component behind the filter, with tones
// of an amplitude in codes at some offsets.
func noise(rng *rand.Rand, f filter, codes, amplitude float64, tones ...float64) []byte {
	var x [3]complex128
	iq := make([]byte, 2*length)
	for n := range length {
		x[0], x[1], x[2] = x[1], x[2], complex(rng.NormFloat64(), rng.NormFloat64())
		y := complex(codes, 0) * (f[2]*x[0] + f[1]*x[1] + f[0]*x[2])
		for _, offset := range tones {
			y += cmplx.Rect(amplitude, 2*math.Pi*offset/rate*float64(n))
		}
		iq[2*n] = byte(max(0, min(255, math.Round(real(y)+127.5))))
		iq[2*n+1] = byte(max(0, min(255, math.Round(imag(y)+127.5))))
	}
	return iq
}

// measured gives the curve of looks through a filter at some strengths in turn, or why there is none.
func measured(f filter, amplitude float64, tones []float64, codes ...float64) ([]survey.Droop, string) {
	rng := rand.New(rand.NewPCG(5, 7))
	p := droop.New(rate, rounding)
	for i := 0; i < 100 && !p.Done(); i++ {
		p.Look(noise(rng, f, codes[i%len(codes)], amplitude, tones...))
	}
	return p.Curve()
}

// worst gives how far a curve is off at the most within the usable passband, dB, and the greatest
// error that it claims.
func worst(f filter, curve []survey.Droop) (off, sigma float64) {
	response := passband.Response(curve)
	for offset := -rate / 3; offset <= rate/3; offset += rate / 300 {
		off = max(off, math.Abs(10*math.Log10(response(survey.Hz(offset)))-f.power(offset)))
	}
	for _, d := range curve {
		sigma = max(sigma, float64(d.Sigma))
	}
	return off, sigma
}

// Looks of 1.3 million samples in all: ± 0.027 dB a point by the root of bandwidth times time, a third
// more by the window and the median; of 35 points the worst is off by 2.5 to 3 of that.
func TestMeasuredDroop(t *testing.T) {
	for _, f := range []filter{flat, slanting} {
		curve, why := measured(f, 0, nil, 6, 12, 3)
		if why != "" || len(curve) != 35 || math.Abs(float64(curve[0].Offset)+17*rate/48) > 1e-3 {
			t.Fatalf("%d points: %s", len(curve), why)
		}
		off, sigma := worst(f, curve)
		if off > 0.13 || sigma < 0.02 || sigma > 0.08 {
			t.Errorf("falls by %.2f and %.2f dB at the edges: off by %.3f dB, claims ± %.3f", f.power(-rate/3), f.power(rate/3), off, sigma)
		}
		// No point claims much less than the root of bandwidth times time and the median leave, 0.036 dB. By its
		// own ten looks alone one claims 0.017.
		least := sigma
		for _, d := range curve {
			least = min(least, float64(d.Sigma))
		}
		if least < 0.020 {
			t.Errorf("claims ± %.3f dB at some point", least)
		}
	}
}

// A floor over five points of ± 0.04 dB is off by 0.04/√5 for theirs, and for the 0 dB by as much.
func TestUncertainCurve(t *testing.T) {
	var curve []survey.Droop
	for i := range 9 {
		curve = append(curve, survey.Droop{Offset: survey.Hz(50e3 * i), Sigma: 0.04})
	}
	if got := droop.Uncertain(curve, 100e3, 310e3); math.Abs(float64(got)-0.04*math.Sqrt(0.4)) > 1e-6 {
		t.Errorf("± %v dB", got)
	}
	if got := droop.Uncertain(nil, -1e6, 1e6); got != 0 {
		t.Errorf("± %v dB without a curve", got)
	}
}

// Noise of 1.1 codes rms stands 11.6 dB over rounding, which is the same at the edges as at the
// centre: not subtracted, it would fill the −5.5 dB there up by 0.8 dB.
func TestRoundingIsNoDroop(t *testing.T) {
	f := filter{0.2, 1, 0.2}
	curve, why := measured(f, 0, nil, 1.1/math.Sqrt(1.08))
	if why != "" {
		t.Fatal(why)
	}
	if off, _ := worst(f, curve); off > 0.15 {
		t.Errorf("off by %.3f dB", off)
	}
	// 1 code is 10.8 dB over it, under 0.9 codes there are no 10 dB.
	if _, why := measured(flat, 0, nil, 1); why != "" {
		t.Error(why)
	}
	if _, why := measured(flat, 0, nil, 0.85); !strings.Contains(why, "10 dB") {
		t.Errorf("%q", why)
	}
}

// Lines of the receiver's own and the spike at the centre hardly move a point: one that stands 41 dB over
// the noise in a bin takes some 12 of the 85 bins, which moves their median by 6 of them, 0.03 dB.
func TestLinesInThePassband(t *testing.T) {
	curve, why := measured(slanting, 20, []float64{0, -612e3, 101e3, 133e3, 702e3}, 6)
	if why != "" {
		t.Fatal(why)
	}
	if off, _ := worst(slanting, curve); off > 0.13+0.03 {
		t.Errorf("off by %.3f dB", off)
	}
}

// There is no curve of looks that are few, that differ, or of a filter narrower than the passband.
func TestPoorLooks(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	few := droop.New(rate, rounding)
	for range 7 { // of 1.1 million samples
		few.Look(noise(rng, flat, 6, 0))
	}
	if curve, why := few.Curve(); curve != nil || why == "" {
		t.Errorf("%d points of seven looks", len(curve))
	}
	short := droop.New(rate, rounding)
	for range 8 {
		short.Look(noise(rng, flat, 6, 0)[:2*100_000])
	}
	if curve, _ := short.Curve(); curve != nil {
		t.Errorf("%d points of 0.8 million samples", len(curve))
	}
	differing := droop.New(rate, rounding)
	for i := range 8 {
		differing.Look(noise(rng, []filter{flat, slanting}[i%2], 6, 0))
	}
	if curve, why := differing.Curve(); curve != nil || !strings.Contains(why, "differ by ±") {
		t.Errorf("%d points of looks that differ: %q", len(curve), why)
	}
	// Filters 0.64 dB apart at the edge leave ± 0.12 dB in eight looks.
	close := droop.New(rate, rounding)
	for i := range 8 {
		close.Look(noise(rng, []filter{flat, {0.025, 1, 0.025}}[i%2], 6, 0))
	}
	if curve, why := close.Curve(); curve != nil || !strings.Contains(why, "differ by ±") {
		t.Errorf("%d points of looks that differ a little: %q", len(curve), why)
	}
	// Noise that is 3.4 dB stronger at the edges than at the centre is not white. A filter
	// whose own centre lies aside may make 2.2 dB of it.
	if curve, why := measured(filter{-0.12, 1, -0.12}, 0, nil, 6); curve != nil || !strings.Contains(why, "stronger than at the centre") {
		t.Errorf("%d points of a hump: %q", len(curve), why)
	}
	if curve, why := measured(filter{-0.08, 1, -0.08}, 0, nil, 6); curve == nil {
		t.Errorf("no curve of a filter that rises: %q", why)
	}
	// One that takes 10.6 dB off at the outermost point is too narrow, one of 9.1 dB is not.
	for taps, kept := range map[complex128]bool{0.39: false, 0.34: true} {
		f := filter{taps, 1, taps}
		if curve, why := measured(f, 0, nil, 20); (curve != nil) != kept || !kept && !strings.Contains(why, "weaker than at the centre") {
			t.Errorf("%d points of a filter that takes off %.1f dB: %q", len(curve), -f.power(17*rate/48), why)
		}
	}
	if curve, why := measured(narrow, 0, nil, 20); curve != nil || !strings.Contains(why, "from the centre") {
		t.Errorf("%d points of a narrow filter: %q", len(curve), why)
	}
}

func TestNewest(t *testing.T) {
	curve := []survey.Droop{{}}
	at := func(hour int) time.Time { return time.Date(2026, 11, 3, hour, 0, 0, 0, time.UTC) }
	all := []survey.Calibration{{ID: 1, Receiver: "a", Droop: curve, At: at(20)}, {ID: 2, Receiver: "a", Droop: curve, At: at(22)}, {ID: 3, Receiver: "b", Droop: curve, At: at(23)},
		{ID: 4, Receiver: "a", At: at(23)}, {ID: 5, Receiver: "a", Droop: curve, At: at(21)}, {ID: 6, Kind: survey.CalibratePassband, Receiver: "a", Droop: curve, At: at(23)}}
	if got := droop.Newest(all, "a"); got == nil || got.ID != 2 {
		t.Errorf("%+v", got)
	}
	if got := droop.Newest(all, "c"); got != nil {
		t.Errorf("%+v", got)
	}
}
