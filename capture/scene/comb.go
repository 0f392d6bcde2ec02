package scene

import "math"

// A comb is the lines of a supply within the sample rate.
type comb struct {
	supply      *supply
	lookedAt    float64 // s: when it was found to be on
	onFor       float64 // s for which it had been on then
	first, last int     // multiples in view
	amplitude   [mostLines]float32
}

// mostLines bounds the lines of one supply in view: 3.2 MHz of 48.6 kHz.
const mostLines = 72

// tuneCombs finds the supplies that are on and the multiples in view.
func (s *synth) tuneCombs(t float64) {
	s.combs = s.combs[:0]
	m := s.view.at
	for i := range s.world.supplies {
		u := &s.world.supplies[i]
		long, on := u.since(s.world.timeOfDay(t))
		if !on {
			continue
		}
		f := u.frequency(long)
		c := comb{supply: u, lookedAt: t, onFor: long}
		c.first = int(math.Ceil((s.lo - s.rate/2) / f))
		c.last = min(int(math.Floor((s.lo+s.rate/2)/f)), c.first+mostLines-1)
		for n := c.first; n <= c.last; n++ {
			at := float64(n) * f
			c.amplitude[n-c.first] = float32(s.scale(u.linePower(at)*u.coupling(m, at)*m.terminalPower(), at-s.lo))
		}
		s.combs = append(s.combs, c)
	}
}

// fillComb adds a supply's lines to the frame. Line n has n times the phase of
// the fundamental, so that drift and wobble grow with n.
//
//go:norace
func (s *synth) fillComb(c *comb) {
	f := s.follow(c)
	n := &s.narrow
	for k := c.first; k <= c.last; k++ {
		a := c.amplitude[k-c.first]
		if a == 0 {
			continue
		}
		multiple := phase(k)
		middle := int(math.Round((float64(k)*f - s.lo) / s.rate * frame))
		back := phaseOf(float64(middle) / points)
		for i := range points {
			cos, sin := s.turns.at(multiple*s.fundamental[i] - s.centre[i] - back*phase(i))
			b := a * s.burst[i]
			n.re[i] = b * cos
			n.im[i] = b * sin
		}
		n.addTo(s.re, s.im, middle&(frame-1))
	}
}

// follow sets the phases and the envelope of a supply at the frame's instants,
// and gives the fundamental's frequency. Within a frame, 4 ms, the frequencies of
// supply and mains are taken as steady: for line 300 that is wrong by less than
// 1e-4 cycles. The modulation of the power, 1 + depth·c, has the mean 1.
//
//go:norace
func (s *synth) follow(c *comb) (f float64) {
	t := s.seconds(s.frameStart)
	onFor := c.onFor + t - c.lookedAt
	f = c.supply.frequency(onFor)
	begin := c.supply.cycles(t, onFor)
	cycle, perPoint := mains(t), (mains(t+frame/s.rate)-mains(t))/points
	_, turnsPerSample := math.Modf(s.lo / s.rate)
	wobble := c.supply.wobbleCycles()
	for i := range points {
		_, wave := s.turns.at(phaseOf(2 * cycle))
		s.fundamental[i] = phaseOf(begin + f*float64(i)*pointSpacing/s.rate + wobble*float64(wave))
		s.centre[i] = phaseOf(turnsPerSample * float64(s.frameStart+int64(i)*pointSpacing))
		s.burst[i] = s.narrow.window[i] * float32(math.Sqrt(max(0, 1+c.supply.depth*envelopeSteps[envelopeStep(cycle)])))
		cycle += perPoint
	}
	return f
}
