package scene

import (
	"math"
	"math/rand/v2"
)

// Clicks of thermostats and switches: isolated bursts of some ten microseconds.
const (
	clickRate   = 0.4   // a second
	clickLength = 20e-6 // s, of the exponential decay
	clickLevel  = 26    // dB over the noise
)

// clicks adds clicks to the noise at random moments.
type clicks struct {
	random *rand.Rand
	level  float64 // rms amplitude of a component where a click begins, full scale
	next   int64   // index of the sample at which the next click begins
}

// shape sets the level for the view. It is over the noise that comes through the antenna,
// so that nothing clicks in a terminator.
func (c *clicks) shape(s *synth, t float64) {
	noise := s.world.noise(s.view.at, s.lo, t).total() - frontEndNoise
	c.level = math.Sqrt(fromDB(clickLevel) * noise / fullScalePower(s.view.gain) * s.rate / 2)
}

// add puts the clicks of the hop into the output.
func (c *clicks) add(s *synth) {
	for {
		if c.next < s.frameStart { // nothing is drawn yet, or time was slept through
			c.next = s.frameStart + int64(c.random.ExpFloat64()/clickRate*s.rate)
		}
		if c.next >= s.frameStart+hop {
			return
		}
		at := int(c.next - s.frameStart)
		for i := at; i < hop; i++ {
			decay := math.Exp(-float64(i-at) / (clickLength * s.rate))
			if decay < 0.01 {
				break
			}
			s.outRe[i] += float32(c.level * decay * c.random.NormFloat64())
			s.outIm[i] += float32(c.level * decay * c.random.NormFloat64())
		}
		c.next += 1 + int64(c.random.ExpFloat64()/clickRate*s.rate)
	}
}
