package calibrate

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"nightfloor/survey"
)

// heardFor makes lines that are heard every second, about so many hertz off, by a clock whose error rises by so many ppm a
// minute, through an up-converter of some offset.
func heardFor(seed uint64, length time.Duration, off survey.Hz, rise float64, offset survey.Hz) (lines []steadyLine) {
	rng, start := rand.New(rand.NewPCG(seed, 3)), time.Date(2026, 11, 3, 20, 0, 0, 0, time.UTC)
	for _, f := range []survey.Hz{5.95e6, 9.615e6, 9.7e6} {
		var l steadyLine
		for at := time.Duration(0); at < length; at += time.Second {
			e := 1e-6 * rise * at.Minutes()
			l = append(l, observed{Carrier: survey.Carrier{Frequency: (f+offset)/survey.Hz(1+e) - offset + off*survey.Hz(rng.NormFloat64())}, at: start.Add(at)})
		}
		lines = append(lines, l)
	}
	return lines
}

// 40 ppm that settle in ten minutes are 4 ppm in the first. A clock that keeps its error is believed to, whatever
// its lines are heard with.
func TestClockTrend(t *testing.T) {
	for _, offset := range []survey.Hz{0, 125e6} {
		for seed := range uint64(100) {
			for rise, want := range map[float64]struct{ least, most float64 }{0: {0, doubtedClock}, 0.05: {0, doubtedClock}, 0.4: {doubtedClock, refusedClock}, -4: {refusedClock, 60}} {
				c := trend(clockErrors(heardFor(seed, 3*time.Minute, 2, rise, offset), offset))
				if math.Abs(c.by-rise*c.took.Minutes()) > 5*c.sigma+1e-6*math.Abs(rise) || c.toCome() < want.least || c.toCome() >= want.most {
					t.Errorf("%v ppm a minute: %+v, %.1f ppm to come, want %v", rise, c, c.toCome(), want)
				}
			}
		}
	}
	if c := trend(nil); c != (change{}) {
		t.Errorf("%+v of nothing", c)
	}
}

// 3 dB that settle in ten minutes are 0.13 dB in 25 s. What is less than four standard errors says nothing, and what is still
// to come counts, not what has come.
func TestSteady(t *testing.T) {
	for _, test := range []struct {
		c     change
		clock bool
		want  string
	}{
		{change{0.13, 0.01, 25 * time.Second}, false, "refused"},
		{change{-0.13, 0.01, 25 * time.Second}, false, "refused"},
		{change{0.13, 0.028, 25 * time.Second}, false, "doubted"}, // 0.02 dB of it surely
		{change{0.13, 0.035, 25 * time.Second}, false, ""},
		{change{0.13, 0.01, 2 * time.Minute}, false, "doubted"},
		{change{0.045, 0, time.Minute}, false, "doubted"},
		{change{0.025, 0, time.Minute}, false, ""}, // 1.5 dB an hour
		{change{0.3, 0.01, 3 * time.Minute}, true, ""},
		{change{1, 0.01, 3 * time.Minute}, true, "doubted"},
		{change{-4, 0.01, 3 * time.Minute}, true, "refused"},
	} {
		k := &Calibrator{changes: []change{test.c, {}}}
		if test.clock {
			k = &Calibrator{clockMoved: []change{test.c}}
		}
		r := &Run{calibrator: k}
		got := ""
		if err := r.steady(); err != nil {
			got = "refused"
		} else if len(r.Doubts) > 0 {
			got = "doubted"
		}
		if got != test.want {
			t.Errorf("%+v: %q, want %q", test.c, got, test.want)
		}
	}
}
