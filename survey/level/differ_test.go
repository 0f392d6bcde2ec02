package level

import (
	"testing"
	"time"

	"nightfloor/survey"
)

// A generator at −40 dBm that was told as −60 puts full scale 20 dB too low at all gains. Drift of some tenths is
// none of that, nor is another noise source that is as good as it is said to be.
func TestDiffers(t *testing.T) {
	levels := func(id int64, by survey.DBm, basis string) *survey.Calibration {
		c := run(time.Duration(id)*time.Hour, ref(9.65e6, 20, -40+by), ref(9.65e6, 30, -50+by), ref(9.65e6, 40, -60+by))
		c.ID = id
		for i := range c.Levels {
			c.Levels[i].Basis = basis
		}
		return c
	}
	own := func(id int64, by survey.DBFSPerHz, sigma survey.DB) *survey.Calibration {
		return &survey.Calibration{ID: id, Kind: survey.CalibrateNoise, At: evening, Noise: []survey.SelfNoise{{Segment: band, Gain: 20, Density: -100 + by, Sigma: sigma}}}
	}
	measured := func(c *survey.Calibration) *survey.Calibration { // with the passband
		c.Droop = []survey.Droop{{Offset: -8e5, Response: -3}, {}, {Offset: 8e5, Response: -2.5}}
		return c
	}
	generator, source := survey.BasisGenerator, survey.BasisSource
	higher := func(id int64, by survey.DBm) *survey.Calibration { // at other gains
		c := levels(id, by, generator)
		for i := range c.Levels {
			c.Levels[i].Gain += 25
			c.Levels[i].FullScale -= 25
		}
		return c
	}
	mixed := levels(7, 0, generator)
	mixed.Levels[2].FullScale -= 1.2
	for _, test := range []struct {
		name    string
		run     *survey.Calibration
		earlier []*survey.Calibration
		from    int64 // 0: they agree
		by      float64
		of      int
	}{
		{"told 20 dB too low", levels(7, -20, generator), []*survey.Calibration{levels(1, 0, generator)}, 1, -20, 3},
		{"drift of some tenths", levels(7, 0.9, generator), []*survey.Calibration{levels(1, 0, generator)}, 0, 0, 0},
		{"over 1 dB", levels(7, 1.1, generator), []*survey.Calibration{levels(1, 0, generator)}, 1, 1.1, 3},
		{"at one gain", mixed, []*survey.Calibration{levels(1, 0, generator)}, 1, -1.2, 3},
		{"the newest counts", levels(7, -20, generator), []*survey.Calibration{levels(3, -20, generator), levels(1, 0, generator)}, 0, 0, 0},
		{"another source", levels(7, 2.5, source), []*survey.Calibration{levels(1, 0, generator)}, 0, 0, 0}, // 1.96·√(1+1+0.25+0.25) is 3.1
		{"another source, far off", levels(7, 3.3, source), []*survey.Calibration{levels(1, 0, generator)}, 1, 3.3, 3},
		{"a figure that was told", levels(7, 9, survey.BasisFigure), []*survey.Calibration{levels(1, 0, generator)}, 0, 0, 0},
		{"at other gains, as labels have them within some dB", higher(7, 5.5), []*survey.Calibration{levels(1, 0, generator)}, 0, 0, 0},
		{"at other gains, told too high", higher(7, 20), []*survey.Calibration{levels(1, 0, generator)}, 1, 20, 3},
		{"at other gains, another figure", higher(7, 20), []*survey.Calibration{levels(1, 0, survey.BasisFigure)}, 0, 0, 0},
		{"at other gains, a little over", higher(7, -6.5), []*survey.Calibration{levels(1, 0, generator)}, 1, -6.5, 3},
		{"own noise", own(7, 1.2, 0.05), []*survey.Calibration{own(1, 0, 0.05)}, 1, 1.2, 1},
		{"own noise that drifted", own(7, 0.8, 0.05), []*survey.Calibration{own(1, 0, 0.05)}, 0, 0, 0},
		{"own noise that is a guess", own(7, 5, 0.05), []*survey.Calibration{own(1, 0, 2.5)}, 0, 0, 0},
		{"a guess", own(7, 5, 2.5), []*survey.Calibration{own(1, 0, 0.05)}, 0, 0, 0},
		{"own noise, and the passband for the first time", measured(own(7, 3.8, 0.05)), []*survey.Calibration{own(1, 0, 0.05)}, 0, 0, 0},
		{"an antenna, and the passband for the first time", measured(own(7, 4.2, 0.05)), []*survey.Calibration{own(1, 0, 0.05)}, 1, 4.2, 1},
		{"own noise, and the passband again", measured(own(7, 1.2, 0.05)), []*survey.Calibration{measured(own(1, 0, 0.05))}, 1, 1.2, 1},
		{"short readings", own(7, 1.2, 0.4), []*survey.Calibration{own(1, 0, 0.3)}, 0, 0, 0},
	} {
		d := Differs(*test.run, test.earlier)
		if test.from == 0 {
			if d != nil {
				t.Errorf("%s: %+v", test.name, d)
			}
			continue
		}
		if d == nil || d.Earlier.ID != test.from || d.Of != test.of || d.Gains < 1 || d.Level != (test.run.Kind == survey.CalibrateLevel) {
			t.Errorf("%s: %+v", test.name, d)
			continue
		}
		near(t, test.name, float64(d.By), test.by, 1e-6)
	}
}
