package calibrate_test

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/calibrate"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// calibrating opens a fake under a sky with an antenna, and a calibrator on it.
func calibrating(t *testing.T, sky capturetest.Sky, segments ...survey.Segment) (*capturetest.Fake, *calibrate.Calibrator) {
	t.Helper()
	f := capturetest.New(sky)
	setup := survey.Setup{Antenna: "loop", Placement: "attic"}
	p := plan.Plan{Segments: segments, Dwell: 100 * time.Millisecond, Setups: []survey.Setup{setup}}
	k, err := calibrate.New(f, f, p, setup)
	if err != nil {
		t.Fatal(err)
	}
	return f, k
}

var part31m = survey.Segment{Name: "31 m", Low: 9.62e6, High: 9.68e6}

func TestSelfNoise(t *testing.T) {
	// −120 dBm/Hz and a full scale of −10 dBm: −110 dBFS/Hz at 0 dB, which is
	// 0.02 squared codes in a component of 250 kS/s; 0.2 and more, from 10 dB on,
	// move enough codes.
	sky := capturetest.Sky{Floor: -120, Seed: 3}
	_, k := calibrating(t, sky, part31m, survey.Segment{Name: "49 m", Low: 6.05e6, High: 6.1e6})
	last := 0
	k.Progress = func(done, total int) {
		if last++; done != last || total != 2*17 {
			t.Errorf("passed %d of %d, want %d of 34", done, total, last)
		}
	}
	found, err := k.SelfNoise(t.Context())
	if err != nil || len(found) != 2*17 || last != 34 {
		t.Fatalf("%d figures, %d steps (%v), want 34", len(found), last, err)
	}
	for _, n := range found {
		want := sky.Density("", n.Gain)
		off := float64(n.Density.Over(want))
		low := n.Gain < 12
		if n.Doubtful != low {
			t.Errorf("%s at %v dB: %+v", n.Segment.Name, n.Gain, n)
		}
		switch {
		case low && (n.Sigma < 0.6 || math.Abs(off) > 2*float64(n.Sigma)):
			t.Errorf("%s at %v dB: %.2f ± %.2f, %.2f off; two sigmas are admitted", n.Segment.Name, n.Gain, n.Density, n.Sigma, off)
		// 0.1 s of 50 kHz: 5,000 independent values, 0.06 dB; the meter's own share doubles it at the most.
		case !low && (n.Sigma > 0.15 || math.Abs(off) > 4*float64(n.Sigma)+0.05):
			t.Errorf("%s at %v dB: %.2f ± %.2f, want %.2f", n.Segment.Name, n.Gain, n.Density, n.Sigma, want)
		}
	}
}

// Noise far under a code, with zero between two codes, reads a quarter of a squared code in
// a component, whatever it is: −99.14 dBFS/Hz at 250 kS/s. A converter that hears nothing at
// all has no floor.
func TestSelfNoiseOfSilence(t *testing.T) {
	_, k := calibrating(t, capturetest.Sky{Floor: -150, Gains: []survey.DB{0}}, part31m)
	found, err := k.SelfNoise(t.Context())
	if err != nil || len(found) != 1 || math.Abs(float64(found[0].Density)+99.14) > 0.1 || !found[0].Doubtful || found[0].Sigma < 1 {
		t.Errorf("%+v, %v", found, err)
	}
	_, k = calibrating(t, capturetest.Sky{Gains: []survey.DB{0}}, part31m)
	if found, err := k.SelfNoise(t.Context()); err != nil || len(found) != 0 {
		t.Errorf("%+v, %v", found, err)
	}
}

func TestLevelsByGenerator(t *testing.T) {
	for _, test := range []struct {
		name       string
		sky        capturetest.Sky
		level      survey.DBm
		low, high  survey.DB // gains that are of use
		below, why string    // why those below and above are not
	}{
		// −50 dBm stands at −40 dBFS at a gain of 0, so that 36 dB take it to −4 and
		// 39 dB to −1. Noise of −110 dBFS/Hz and rounding's −103.9 are −83 dBFS in a
		// bin of 160 Hz: never drowned, but the codes stand still below 12 dB.
		{"over noise", capturetest.Sky{Floor: -120}, -50, 12, 36, "too few codes", "it clips"},
		// Without noise only a carrier of −24 dBFS and more is measured: from 18 dB on.
		{"alone", capturetest.Sky{}, -50, 18, 36, "too few codes", "it clips"},
		// Noise of −120 dBm/Hz is −98 dBm in a bin: −95 dBm stand 3 dB over it at any gain.
		{"drowned", capturetest.Sky{Floor: -120}, -95, 99, 99, "", ""},
		// −70 dBm/Hz overdrive the converter from 12 dB on: codes at its ends are noise's.
		{"nothing there", capturetest.Sky{Floor: -70}, -200, 99, 99, "no carrier", ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			sky := test.sky
			sky.Carriers = []capturetest.Carrier{{At: 9.6501e6, Level: test.level}}
			_, k := calibrating(t, sky, calibrate.GeneratorSegment(9.65e6))
			found, left, _, err := k.Levels(t.Context(), 9.65e6, test.level, 0.75)
			if err != nil || len(found)+len(left) != 17 {
				t.Fatalf("%d and %d: %v", len(found), len(left), err)
			}
			for _, l := range found {
				// 0.15 dB is what rounding does to a carrier of 8 codes that nothing dithers.
				if want := capturetest.FullScale - survey.DBm(l.Gain); math.Abs(float64(l.FullScale-want)) > 0.15 {
					t.Errorf("at %v dB: full scale %.2f, want %.2f", l.Gain, l.FullScale, want)
				}
				if l.Gain < test.low || l.Gain > test.high || l.Frequency != 9.65e6 || l.Basis != survey.BasisGenerator || *l.Uncertainty != 0.75 || l.Sigma <= 0 || l.Sigma > 0.2 {
					t.Errorf("%+v; want gains of %v to %v", l, test.low, test.high)
				}
			}
			for _, l := range left {
				if l.Gain >= test.low && l.Gain <= test.high {
					t.Errorf("left out at %v dB: %s", l.Gain, l.Why)
				}
				if why := test.why; l.Gain > test.high && !strings.Contains(l.Why, why) {
					t.Errorf("at %v dB: %q, want %q", l.Gain, l.Why, why)
				}
				if l.Gain < test.low && !strings.Contains(l.Why, test.below) {
					t.Errorf("at %v dB: %q, want %q", l.Gain, l.Why, test.below)
				}
			}
		})
	}
}

func TestLevelsFromFigure(t *testing.T) {
	const rate = 2.4e6
	// A receiver of 10 dB is −163.975 dBm/Hz; full scale −70 dBm at that gain puts it
	// at −93.975 dBFS/Hz, and rounding adds −113.7.
	own := math.Pow(10, -9.3975)
	rounding := 2.0 / 12 / (128 * 128) / rate
	n := survey.MeasuredNoise{Rate: rate, SelfNoise: survey.SelfNoise{Segment: part31m, Gain: 30, Sigma: 0.05, Density: survey.DBFSPerHz(10 * math.Log10(own+rounding))}}
	hidden := n
	hidden.Gain, hidden.Density = 3, survey.DBFSPerHz(10*math.Log10(rounding*1.3))
	low, higher := n, n
	low.Gain, low.Doubtful, low.Sigma = 6, true, 0.6
	higher.Gain = 40
	found, left := calibrate.LevelsFromFigure([]survey.MeasuredNoise{n, hidden, low, higher}, 10, 2)
	if len(found) != 2 || len(left) != 2 {
		t.Fatalf("%+v, %+v", found, left)
	}
	if l := found[0]; math.Abs(float64(l.FullScale+70)) > 1e-6 || l.Basis != survey.BasisFigure || l.Gain != 30 || l.Frequency != 9.65e6 || l.Sigma < 0.05 || l.Sigma > 0.06 {
		t.Errorf("%+v", l)
	}
	// At full gain it is known as well as it was told; 10 dB lower it may be 0 to 5 dB higher.
	if full, lower := *found[1].Uncertainty, *found[0].Uncertainty; full != 2 || math.Abs(float64(lower)-math.Hypot(2, 5/math.Sqrt(3))) > 1e-3 {
		t.Errorf("known to %v and %v dB", full, lower)
	}
}

// An attenuator of 10 dB takes 10 off noise and carriers from outside. Noise that
// is the same through both stands for the receiver's own; carriers that fall by 25
// for products of the second and third order.
func TestLinearity(t *testing.T) {
	at := []survey.Hz{9.630e6, 9.645e6, 9.660e6, 9.670e6}
	for _, test := range []struct {
		noise, carriers survey.DB // by how much each falls
		verdict         string
	}{{10, 10, survey.VerdictExternal}, {0, 10, survey.VerdictLimited}, {5, 10, survey.VerdictMixed}, {10, 25, survey.VerdictProducts}} {
		sky := capturetest.Sky{Floor: -115, Antennas: map[string]survey.DB{"attenuated": -test.noise}}
		for i, f := range at {
			level := survey.DBm(-55 - 2*i)
			sky.Carriers = append(sky.Carriers, capturetest.Carrier{At: f, Level: level, Through: "loop"},
				capturetest.Carrier{At: f, Level: level - survey.DBm(test.carriers) + survey.DBm(test.noise), Through: "attenuated"})
		}
		f, k := calibrating(t, sky, part31m)
		heard := func(antenna string) calibrate.SweepSet {
			if _, err := f.Change(t.Context(), survey.Setup{Antenna: antenna}); err != nil {
				t.Fatal(err)
			}
			h, err := k.Sweeps(t.Context(), 4)
			if err != nil {
				t.Fatal(err)
			}
			return h
		}
		found, doubts, err := calibrate.AttenuatorTest{Before: heard("loop"), With: heard("attenuated"), After: heard("loop"), Attenuation: 10}.Linearity()
		if err != nil || len(doubts) != 0 || len(found) != 1 || found[0].FloorDrop == nil || found[0].CarrierDrop == nil {
			t.Fatalf("%+v", found)
		}
		l := found[0]
		want := float64(sky.Density("loop", l.Gain).Over(sky.Density("attenuated", l.Gain)))
		// 0.4 s of 50 kHz: 0.03 dB a floor.
		if math.Abs(float64(*l.FloorDrop)-want) > 0.15 || l.Verdict != test.verdict {
			t.Errorf("%+v: %+v, floor fell by %.2f, want %.2f", test, l, *l.FloorDrop, want)
		}
		if math.Abs(float64(*l.CarrierDrop-test.carriers)) > 0.5 || l.Carriers != 4 {
			t.Errorf("%+v: carriers fell by %.2f: %+v", test, *l.CarrierDrop, l)
		}
	}
}

func TestOwnLines(t *testing.T) {
	sky := capturetest.Sky{Floor: -133, Gains: []survey.DB{30}, Carriers: []capturetest.Carrier{
		{At: 9.64e6, Level: -90}, {At: 9.65e6, Level: -80, From: 2 * time.Second}}}
	_, k := calibrating(t, sky, part31m)
	found, err := k.OwnLines(t.Context(), 6, 0) // 0.14 s each: over before the second comes
	if err != nil || len(found.Lines) != 1 || len(found.Doubtful) != 0 || found.Broadcasters != 0 {
		t.Fatalf("%+v (%v), want one", found, err)
	}
	if want := sky.Density("", 30); len(found.Floors) != 1 || math.Abs(float64(found.Floors[0].Density.Over(want))) > 0.2 || found.Floors[0].Gain != 30 {
		t.Errorf("%+v, want %.2f", found.Floors, want) // 0.6 s of 50 kHz: 0.03 dB
	}
	// −90 dBm at 30 dB over a full scale of −10 dBm.
	if l := found.Lines[0]; math.Abs(float64(l.Frequency)-9.64e6) > 5 || math.Abs(float64(l.Level)+50) > 0.3 || l.Gain != 30 {
		t.Errorf("%+v", l)
	}
	// From now on the second is there.
	if found, err = k.OwnLines(t.Context(), 20, 0); err != nil || len(found.Lines) != 2 {
		t.Errorf("%+v (%v), want two", found.Lines, err)
	}
}

// What was heard without an antenna tells whether there was one: broadcasters stand
// on the raster, at whatever clock error; lines of one clock are spaced evenly.
func TestOwnLinesOfAnAntenna(t *testing.T) {
	for _, test := range []struct {
		name string
		ppm  float64
		at   []survey.Hz
		want int
	}{
		{"a band", 80, []survey.Hz{9.625e6, 9.63e6, 9.645e6, 9.665e6, 9.6512e6}, 4},
		{"a band through a corrected clock", 0, []survey.Hz{9.625e6, 9.64e6 + 8, 9.645e6, 9.675e6}, 4},
		{"three", 0, []survey.Hz{9.625e6, 9.63e6, 9.645e6}, 0},
		{"a comb", 0, []survey.Hz{9.45e6, 9.5e6, 9.6e6, 9.65e6}, 0},
		// Four of a raster of 30 kHz, a sixth of the channels, in one of 6³ cases.
		{"a band spaced by chance", 0, []survey.Hz{9.45e6, 9.48e6, 9.54e6, 9.63e6}, 4},
		{"here and there", 0, []survey.Hz{9.6261e6, 9.6329e6, 9.6483e6, 9.6557e6, 9.6672e6}, 0},
		{"most off it", 0, []survey.Hz{9.625e6, 9.63e6, 9.645e6, 9.665e6, 9.6261e6, 9.6329e6, 9.6483e6, 9.6557e6}, 0},
	} {
		sky := capturetest.Sky{Floor: -125, Gains: []survey.DB{30}, Rate: 1.2e6}
		for _, f := range test.at {
			sky.Carriers = append(sky.Carriers, capturetest.Carrier{At: heardAt(f, 0, test.ppm), Level: -70})
		}
		_, k := calibrating(t, sky, survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.68e6})
		found, err := k.OwnLines(t.Context(), 2, 0)
		if err != nil || found.Broadcasters != test.want || len(found.Lines) != len(test.at) {
			t.Errorf("%s: %d of %d lines (%v), want %d of %d", test.name, found.Broadcasters, len(found.Lines), err, test.want, len(test.at))
		}
	}
}

// Where neither floor nor strong carriers fall there was no attenuator. A receiver
// that hears its own noise only is told by its carriers, if it hears any.
func TestLinearityWithoutAttenuator(t *testing.T) {
	for _, test := range []struct {
		name        string
		carriers    int
		level       survey.DBm
		noise, drop survey.DB // by how much each falls
		missing     bool
	}{
		{"nothing fell", 4, -60, 0, 0, true},
		{"carriers fell", 4, -60, 0, 10, false},
		{"the floor fell", 4, -60, 10, 0, false},
		{"two carriers", 2, -60, 0, 0, false},
		{"none", 0, 0, 0, 0, false},
		// −115 dBm/Hz are −93 dBm in a bin of 160 Hz.
		{"weak ones", 4, -84, 0, 0, false},
	} {
		sky := capturetest.Sky{Floor: -115, Antennas: map[string]survey.DB{"attenuated": -test.noise}}
		for i := range test.carriers {
			at := survey.Hz(9.63e6 + 10e3*float64(i))
			sky.Carriers = append(sky.Carriers, capturetest.Carrier{At: at, Level: test.level, Through: "loop"},
				capturetest.Carrier{At: at, Level: test.level - survey.DBm(test.drop) + survey.DBm(test.noise), Through: "attenuated"})
		}
		f, k := calibrating(t, sky, part31m)
		var heard []calibrate.SweepSet
		for _, antenna := range []string{"loop", "attenuated", "loop"} {
			if _, err := f.Change(t.Context(), survey.Setup{Antenna: antenna}); err != nil {
				t.Fatal(err)
			}
			h, err := k.Sweeps(t.Context(), 3)
			if err != nil {
				t.Fatal(err)
			}
			heard = append(heard, h)
		}
		found, _, err := calibrate.AttenuatorTest{Before: heard[0], With: heard[1], After: heard[2], Attenuation: 10}.Linearity()
		if test.missing != errors.Is(err, calibrate.ErrAttenuator) || test.missing != (len(found) == 0) || err != nil && !test.missing {
			t.Errorf("%s: %+v, %v", test.name, found, err)
		}
	}
}

// heardAt tells where a clock that is off by ppm puts a frequency.
func heardAt(f, offset survey.Hz, ppm float64) survey.Hz {
	return (f+offset)/survey.Hz(1+ppm*1e-6) - offset
}

func TestClockError(t *testing.T) {
	band49, band31 := survey.Segment{Name: "49 m", Low: 6.05e6, High: 6.11e6}, part31m
	for _, test := range []struct {
		name     string
		ppm      float64
		offset   survey.Hz
		known    survey.Hz
		at       []survey.Hz
		segments []survey.Segment
		stations int    // 0: refused
		why      string // of the refusal
	}{
		{"raster", 37.5, 0, 0, []survey.Hz{6.06e6, 6.075e6, 6.09e6 + 4, 9.65e6, 9.665e6 - 3}, []survey.Segment{band49, band31}, 5, ""},
		{"slow, with an amateur", -21, 0, 0, []survey.Hz{9.625e6, 9.635e6, 9.645e6, 9.655e6, 9.6693e6}, []survey.Segment{band31}, 4, ""},
		{"up-converter, two bands", 37.5, 125e6, 0, []survey.Hz{6.06e6, 6.075e6, 6.09e6, 9.635e6, 9.65e6, 9.665e6}, []survey.Segment{band49, band31}, 6, ""},
		// One turn of the raster is 5 kHz of 134.6 MHz, 37.1 ppm: in one band both fit.
		{"up-converter, one band", 37.5, 125e6, 0, []survey.Hz{9.635e6, 9.65e6, 9.665e6, 9.675e6}, []survey.Segment{band31}, 0, "other bands"},
		{"up-converter, station", 37.5, 125e6, 9.65e6, []survey.Hz{9.65e6}, []survey.Segment{calibrate.ClockSegment(9.65e6, 125e6)}, 1, ""},
		{"too few", 37.5, 0, 0, []survey.Hz{6.06e6, 6.075e6}, []survey.Segment{band49}, 0, "2 steady carriers"},
		{"no broadcasters", 0, 0, 0, []survey.Hz{9.6261e6, 9.6329e6, 9.6483e6, 9.6557e6, 9.6672e6}, []survey.Segment{band31}, 0, "agree"},
		{"not heard", 0, 0, 9.65e6, nil, []survey.Segment{calibrate.ClockSegment(9.65e6, 0)}, 0, "no steady carrier"},
		{"two of a kind", 0, 0, 9.65e6, []survey.Hz{9.65e6, 9.651e6}, []survey.Segment{calibrate.ClockSegment(9.65e6, 0)}, 0, "stands alone"},
	} {
		t.Run(test.name, func(t *testing.T) {
			sky := capturetest.Sky{Floor: -120, Gains: []survey.DB{24}}
			for _, f := range test.at {
				sky.Carriers = append(sky.Carriers, capturetest.Carrier{At: heardAt(f, test.offset, test.ppm), Level: -65})
			}
			_, k := calibrating(t, sky, test.segments...)
			e, err := k.ClockError(t.Context(), 2*time.Second, test.known, test.offset)
			if test.stations == 0 {
				if !errors.Is(err, calibrate.ErrClock) || !strings.Contains(err.Error(), test.why) {
					t.Errorf("%+v, %v; want a refusal with %q", e, err, test.why)
				}
				return
			}
			// 4 Hz off the raster are 0.7 ppm at 6 MHz, which a median passes over.
			if err != nil || math.Abs(e.PPM-test.ppm) > 0.2 || e.Stations != test.stations || e.Sigma <= 0 || e.Sigma > 0.4 {
				t.Errorf("%+v (%v), want %.1f ppm of %d stations", e, err, test.ppm, test.stations)
			}
		})
	}
}

// A station that is heard in a third of the sweeps fades; one in a sixth is none.
func TestStationsThatFade(t *testing.T) {
	sky := capturetest.Sky{Floor: -120, Gains: []survey.DB{24}}
	from := []time.Duration{0, 0, 0, 0, 2700 * time.Millisecond, 3350 * time.Millisecond} // of 4 s
	for i, f := range []survey.Hz{9.625e6, 9.63e6, 9.645e6, 9.65e6, 9.665e6, 9.675e6} {
		sky.Carriers = append(sky.Carriers, capturetest.Carrier{At: f, Level: -65, From: from[i]})
	}
	_, k := calibrating(t, sky, part31m)
	if e, err := k.ClockError(t.Context(), 4*time.Second, 0, 0); err != nil || e.Stations != 5 {
		t.Errorf("%+v (%v), want 5 stations", e, err)
	}
}

// A dozen lines in 60 kHz are stations; a receiver's own are fewer.
func TestAntennaInPlaceOfATerminator(t *testing.T) {
	for lines, doubted := range map[int]bool{7: false, 12: true} {
		sky := capturetest.Sky{Floor: -120, Gains: []survey.DB{30}}
		for i := range lines {
			sky.Carriers = append(sky.Carriers, capturetest.Carrier{At: survey.Hz(9.623e6 + 4.7e3*float64(i)), Level: -85})
		}
		_, k := calibrating(t, sky, part31m)
		r := calibrate.NewRun(k, plan.Plan{}, survey.Calibration{Kind: survey.CalibrateNoise}, calibrate.Settings{})
		if err := r.Measure(t.Context()); err != nil || strings.Contains(strings.Join(r.Doubts, " "), "is a terminator connected") != doubted {
			t.Errorf("%d lines: %q, %v", lines, r.Doubts, err)
		}
	}
}

// A receiver that goes away, and an interrupt, end a calibration.
func TestCalibrationEnds(t *testing.T) {
	_, k := calibrating(t, capturetest.Sky{Floor: -120, Faults: map[int]error{9: capture.ErrUnplugged}}, part31m)
	if _, err := k.SelfNoise(t.Context()); !errors.Is(err, capture.ErrUnplugged) {
		t.Errorf("%v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	_, k = calibrating(t, capturetest.Sky{Floor: -120}, part31m)
	k.Progress = func(done, _ int) {
		if done == 3 {
			cancel()
		}
	}
	if _, err := k.SelfNoise(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

// Surveys and calibrations of one receiver name it the same, before and after its
// clock error is known; another front end is another receiver.
func TestDescribe(t *testing.T) {
	dongle := func(fe survey.FrontEnd) string {
		i := capture.Info{URI: "rtlsdr:serial=7", Name: "Generic", Serial: "7", Tuner: "R820T", Library: "librtlsdr.so.0", SampleRate: survey.Hz(2.4e6 * (1 + fe.PPM*1e-6))}
		if fe.Direct() {
			i.Tuner = fe.Way
		}
		return capture.Describe(i, fe)
	}
	seen := map[string]survey.FrontEnd{}
	for _, fe := range []survey.FrontEnd{{Way: survey.WayTuner}, {Way: survey.WayDirectQ}, {Way: survey.WayDirectI}, {Way: survey.WayBuiltIn},
		{Way: survey.WayUp, Offset: 125e6}, {Way: survey.WayUp, Offset: 120e6}} {
		text := dongle(fe)
		if other, ok := seen[text]; ok {
			t.Errorf("%+v and %+v are both %q", fe, other, text)
		}
		seen[text] = fe
		corrected := fe
		corrected.PPM = 37.5
		if got := dongle(corrected); got != text {
			t.Errorf("%q with a clock error, %q without", got, text)
		}
	}
	if got, want := dongle(survey.FrontEnd{Way: survey.WayUp, Offset: 125e6}), "Generic, R820T, up-converter of 125 MHz, serial 7, 2400000 samples/s (rtlsdr:serial=7)"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
