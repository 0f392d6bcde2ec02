package dsp

import (
	"flag"
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/spectrum"
)

var seeds = dsptest.FreshSeeds()

var trials = flag.Int("trials", 0, "simulated readings in the floor interval test, all scenes together; 0: a few a scene")

// A scene is a signal whose floor is known.
type scene struct {
	name      string
	rate      float64
	seconds   float64
	low, high float64 // kHz, the band

	u8        bool
	tolerance float64 // dB
	make      func(seed uint64, rate float64) *dsptest.Signal
}

// sceneCentre is where the receiver of all scenes is tuned, Hz.
const sceneCentre = 9.65e6

var scenes = []scene{
	{"empty", 1.024e6, 0.5, 9400, 9900, true, 0.1, func(seed uint64, rate float64) *dsptest.Signal {
		return dsptest.New(seed, rate, sceneCentre).Noise(1e-9)
	}},
	{"few lines", 1.024e6, 0.5, 9400, 9900, true, 0.1, func(seed uint64, rate float64) *dsptest.Signal {
		s := dsptest.New(seed, rate, sceneCentre).Noise(1e-10).DC(complex(0.01, -0.02))
		for i := range 8 {
			s.Tone(9.4123e6+float64(i)*61.7e3, -30-5*float64(i), float64(i))
		}
		return s
	}},
	{"broadcast 60 %", 1.024e6, 0.5, 9400, 9900, true, 0.3, func(seed uint64, rate float64) *dsptest.Signal {
		return dsptest.Broadcast(seed, rate, sceneCentre, 9.4e6, 9.9e6, 0.6)
	}},
	{"broadcast 60 %, 2.4 MS/s", 2.4e6, 0.5, 9400, 9900, true, 0.3, func(seed uint64, rate float64) *dsptest.Signal {
		return dsptest.Broadcast(seed, rate, sceneCentre, 9.4e6, 9.9e6, 0.6)
	}},
	{"broadcast 85 %", 1.024e6, 0.5, 9400, 9900, true, 0.3, func(seed uint64, rate float64) *dsptest.Signal {
		return dsptest.Broadcast(seed, rate, sceneCentre, 9.4e6, 9.9e6, 0.85)
	}},
	{"mains bursts", 1.024e6, 0.5, 9400, 9900, true, 0.1, func(seed uint64, rate float64) *dsptest.Signal {
		return dsptest.New(seed, rate, sceneCentre).Noise(1e-10).Gated(dsptest.Gated{Mean: 1e-9, Mains: 50, Duty: 0.3, Between: -20})
	}},
	{"hump", 1.024e6, 0.5, 9400, 9900, true, 0.1, func(seed uint64, rate float64) *dsptest.Signal {
		return addHump(dsptest.New(seed, rate, sceneCentre).Noise(3e-10), 9e-10, 9.6e6, 200e3)
	}},
	{"mains bursts at 60 Hz", 1.024e6, 0.5, 9400, 9900, true, 0.1, func(seed uint64, rate float64) *dsptest.Signal {
		// Frames come 125 times a second, bursts 120 times.
		return dsptest.New(seed, rate, sceneCentre).Noise(1e-10).Gated(dsptest.Gated{Mean: 1e-9, Mains: 60, Duty: 0.3, Between: -20, Phase: float64(seed%1000) * 0.13})
	}},
	{"tilt under stations", 1.024e6, 0.5, 9400, 9900, true, 0.3, func(seed uint64, rate float64) *dsptest.Signal {
		tilt := func(hz float64) float64 { return 1e-10 * math.Pow(10, 0.6*(9.9e6-hz)/0.5e6) }
		return dsptest.New(seed, rate, sceneCentre).Shaped(tilt).Stations(9.4e6, 9.65e6, 0.7, 2e-10)
	}},
	{"narrow", 225e3, 0.5, 9630, 9645, true, 0.3, func(seed uint64, rate float64) *dsptest.Signal {
		return dsptest.New(seed, rate, sceneCentre).Noise(1e-9).Tone(9.6371e6, -60, 1)
	}},
}

// measureScene makes and measures one reading of a scene.
func measureScene(t testing.TB, sc scene, seed uint64) (m Measurement, truth float64) {
	s := sc.make(seed, sc.rate)
	n := int(sc.rate * sc.seconds)
	x := s.Samples(n)
	meter, err := NewMeter(MeterOptions{Rate: sc.rate, Centre: sceneCentre, Samples: int64(n), Bands: []spectrum.Band{{Low: sc.low * 1e3, High: sc.high * 1e3}}})
	if err != nil {
		t.Fatal(err)
	}
	step := 0.0
	if sc.u8 {
		meter.WriteU8(dsptest.U8(nil, x))
		step = dsptest.StepU8
	} else {
		meter.Write(x)
	}
	m, err = meter.Finish()
	if err != nil {
		t.Fatal(err)
	}
	return m, s.Density(sc.low*1e3, sc.high*1e3, step)
}

// sceneScore sums up what readings of one scene gave.
type sceneScore struct{ n, in, sum, pulls, sigma, worst float64 }

// scoreScene measures a scene several times.
func scoreScene(t *testing.T, sc scene, first uint64, readings int) (s sceneScore) {
	for i := range readings {
		m, truth := measureScene(t, sc, first+uint64(i))
		f := m.Bands[0].Floor
		if f == nil {
			t.Errorf("%s, seed %d: no floor", sc.name, first+uint64(i))
			continue
		}
		e := 10 * math.Log10(f.Density/truth)
		if math.Abs(e) > sc.tolerance {
			t.Errorf("%s, seed %d: floor %.3f dB off, sigma %.3f", sc.name, first+uint64(i), e, f.Sigma)
		}
		s.n++
		s.sum += e
		s.pulls += e * e / (f.Sigma * f.Sigma)
		s.sigma += f.Sigma
		s.worst = max(s.worst, math.Abs(e))
		if math.Abs(e) < 1.96*f.Sigma {
			s.in++
		}
	}
	return s
}

// TestFloorInterval asks for the floor of known scenes: each reading within the
// scene's tolerance, and the interval of ±1.96 sigma around the truth as often as
// it says. With few readings (the suite) the pulls' mean square is asked for,
// with -trials the coverage: 92…98 %, and what chance adds (two standard
// deviations of a binomial share).
func TestFloorInterval(t *testing.T) {
	dsptest.SkipIfShort(t)
	first, readings := uint64(1), 3
	if *trials > 0 {
		readings = (*trials + len(scenes) - 1) / len(scenes)
	} else if testing.Short() {
		readings = 1
	}
	if fresh := seeds(); fresh != 0 {
		first = fresh >> 1
		t.Logf("first seed %d", first)
	}
	var n, in, pulls float64
	for i, sc := range scenes {
		s := scoreScene(t, sc, first+uint64(10000*i), readings) // noise of its own
		t.Logf("%-26s error %+.4f dB mean, %.3f worst; sigma %.4f; rms pull %.2f; coverage %.3f of %.0f",
			sc.name, s.sum/s.n, s.worst, s.sigma/s.n, math.Sqrt(s.pulls/s.n), s.in/s.n, s.n)
		n, in, pulls = n+s.n, in+s.in, pulls+s.pulls
	}
	coverage := in / n
	t.Logf("coverage %.3f of %.0f readings, rms pull %.2f", coverage, n, math.Sqrt(pulls/n))
	if *trials == 0 {
		// Of n normal pulls the mean square is 1 ± √(2/n); three of those.
		if pulls/n > 1+3*math.Sqrt(2/n) {
			t.Errorf("rms pull %.2f of %.0f readings: sigma is too small", math.Sqrt(pulls/n), n)
		}
		return
	}
	if chance := 2 * math.Sqrt(0.05*0.95/n); coverage < 0.92-chance || coverage > 0.98+chance {
		t.Errorf("coverage %.3f of %.0f readings, want 0.92…0.98", coverage, n)
	}
}
