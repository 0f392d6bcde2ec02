package calibrate

import (
	"math"
	"slices"
	"strings"
	"testing"

	"nightfloor/survey"
)

// What noise of so many codes rms reads once it is rounded, zero on a code or between two,
// against its own power plus 1/12, in squared codes. Half way down to silence both are off
// by what is stated; at 0.4 codes, where the doubt ends being large, by what is stated there.
func TestDoubtsOfRounding(t *testing.T) {
	const rate = 2.4e6
	rounded := func(sigma, zero float64) (power float64) {
		below := func(x float64) float64 { return math.Erfc(-x/sigma/math.Sqrt2) / 2 }
		for code := zero - 20; code <= 20; code++ {
			power += code * code * (below(code+0.5) - below(code-0.5))
		}
		return power
	}
	density := func(power float64) survey.DBFSPerHz { return survey.DensityOf(2 * power / (128 * 128) / rate) }
	for _, test := range []struct {
		sigma float64
		flags []string
	}{{0.25, []string{survey.FlagLowDrive}}, {0.4, nil}} {
		worst, stated := 0.0, 0.0
		for _, zero := range []float64{0, 0.5} {
			n := measuredNoise(survey.Reading{SampleRate: rate, Floor: &survey.Floor{Density: density(rounded(test.sigma, zero))}, Quality: survey.Quality{Flags: test.flags}}, rounded(test.sigma, zero))
			off := float64(n.Density.Over(density(test.sigma*test.sigma + 1.0/12)))
			worst, stated = max(worst, math.Abs(off)), float64(n.Sigma)
			if !n.Doubtful || (off > 0) != (zero > 0) {
				t.Errorf("%v codes, zero at %v: %+v, %.2f dB off", test.sigma, zero, n, off)
			}
		}
		if !(stated > 0.8*worst && stated < 1.25*worst) {
			t.Errorf("%v codes: a doubt of %v dB, and it is %.2f off", test.sigma, stated, worst)
		}
	}
	// Where it is not doubted the little that it is off is in the standard error.
	for _, sigma := range []float64{0.52, 0.56, 0.65} {
		n := measuredNoise(survey.Reading{SampleRate: rate, Floor: &survey.Floor{Density: density(rounded(sigma, 0.5))}}, rounded(sigma, 0.5))
		off := float64(n.Density.Over(density(sigma*sigma + 1.0/12)))
		if n.Doubtful || !(float64(n.Sigma) > 0.8*off && float64(n.Sigma) < 1.25*off) {
			t.Errorf("%v codes: %+v, and it is %.3f dB off", sigma, n, off)
		}
	}
}

// A carrier is of use where the noise in its bin changes its amplitude by a tenth at most.
func TestGeneratorOverNoise(t *testing.T) {
	floor := survey.Floor{Density: -105} // −85 dBFS in a bin of 100 Hz, and codes move
	noise := floor.Density.Linear() * 100
	for share, weak := range map[float64]bool{0.09: false, 0.11: true} {
		_, why := generator(survey.Reading{SampleRate: 2.4e6, Resolution: 100, Floor: &floor, Carriers: []survey.Carrier{{Power: noise / (share * share)}}})
		if strings.HasPrefix(why, ReasonWeak) != weak || weak == (why == "") {
			t.Errorf("noise of %v of the carrier's amplitude: %q", share, why)
		}
	}
}

// A plain crystal is off by 100 ppm at the most (PHYSICS.md 7.7): through an up-converter of
// 125 MHz that is 15.5 kHz at 30 MHz.
func TestGeneratorSegmentHoldsIt(t *testing.T) {
	s := GeneratorSegment(30e6)
	if off := survey.Hz(155e6 * 100e-6); s.High < 30e6+off || s.Low > 30e6-off {
		t.Errorf("%+v does not hold what is off by %v", s, off)
	}
}

// Gain that drifts by 2 dB, then and now, is no antenna; one that brings in four times the
// receiver's own noise is.
func TestAntennaSeen(t *testing.T) {
	s := survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}
	r := Run{settings: Settings{Earlier: []survey.Calibration{{Noise: []survey.SelfNoise{{Segment: s, Gain: 20, Density: -110}}}}}}
	for over, seen := range map[survey.DBFSPerHz]bool{-1: false, 5: false, 7: true} {
		if why := r.antennaSeen(MeasuredLines{Floors: []survey.SelfNoise{{Segment: s, Gain: 20, Density: -110 + over}}}); seen == (why == "") {
			t.Errorf("%v dB over: %q", over, why)
		}
	}
}

// Steps are gathered by why, whatever number stands in it, with what helps.
func TestByReason(t *testing.T) {
	got := ByReason([]survey.SkippedStep{{Gain: 48, Why: ReasonClips}, {Gain: -1, Why: ReasonWeak + ": 3 dB over the floor"}, {Gain: 49.6, Why: ReasonClips}, {Gain: 0.9, Why: ReasonFewCodes}, {Gain: 0, Why: ReasonWeak + ": 9 dB over the floor"}})
	want := []string{"it clips at 48.0, 49.6 dB; a second run at a lower level adds them: runs add up",
		"it drowns at −1.0, 0.0 dB",
		"too few codes for it to be measured at 0.9 dB; a second run at a higher level adds them: runs add up"}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}
