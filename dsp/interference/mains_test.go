package interference

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/envelope"
)

// One station's hum is in few channels, however strong: the spread between channels
// speaks against it. What swings in all, though weaker, stands.
func TestHumIsOneStations(t *testing.T) {
	dsptest.SkipIfShort(t)
	hum := func(swinging int, depth float64) *envelope.Channels {
		r := rand.New(rand.NewPCG(9, 9))
		c := &envelope.Channels{Rate: 18750, Length: 9375}
		c.Sum = make([]float64, c.Length)
		for k := range 24 {
			c.Density = append(c.Density, 1e-9)
			for i := range c.Length {
				p := r.ExpFloat64()
				if k < swinging {
					p *= 1 + depth*math.Cos(2*math.Pi*100*float64(i)/c.Rate)
				}
				c.Power = append(c.Power, float32(p))
				c.Sum[i] += p / 24
			}
		}
		return c
	}
	for _, test := range []struct {
		channels int
		depth    float64
		found    bool
	}{{1, 1, false}, {2, 1, false}, {24, 0.1, true}} {
		d := newMainsDetector(50)
		d.add(hum(test.channels, test.depth))
		p := float64(len(d.trials)) * d.pValue(d.nominal(50))
		if found := Confidence(p) >= 0.999; found != test.found {
			t.Errorf("depth %v in %d of 24 channels: P %.2g", test.depth, test.channels, p)
		}
	}
}
