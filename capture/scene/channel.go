package scene

import (
	"math"

	"nightfloor/dsp/fft"
)

// A channelMaker makes one channel of a frame. It transforms the envelope of a line,
// sampled every pointSpacing samples, into the line's spectrum around the channel's
// middle bin.
type channelMaker struct {
	fft    *fft.FFT
	re, im []float32
	window []float32 // the frame's ramps at the instants, over points
}

func newChannelMaker() channelMaker {
	n := channelMaker{fft: fft.New(points), re: make([]float32, points), im: make([]float32, points)}
	n.window = make([]float32, points)
	rising := risingHalf(ramp)
	for i := range n.window {
		switch at := i * pointSpacing; {
		case at < ramp:
			n.window[i] = rising[at]
		case at >= hop:
			n.window[i] = rising[frame-1-at]
		default:
			n.window[i] = 1
		}
		n.window[i] /= points // for the transform's length
	}
	return n
}

// addTo adds the channel in n's arrays to a frame, around the middle bin.
//
//go:norace
func (n *channelMaker) addTo(re, im []float32, middle int) {
	const half = points / 2
	n.fft.Transform(n.re, n.im)
	for i := range points {
		from, to := (i+half)&(points-1), (middle-half+i)&(frame-1) // wraps around the ends of the frame's array
		re[to] += n.re[from]
		im[to] += n.im[from]
	}
}

func addUp(to, x []float32) {
	x = x[:len(to)]
	for i := range to {
		to[i] += x[i]
	}
}

// A phase is an angle in 2⁻⁶⁴ of a turn: sums and whole multiples wrap by
// themselves.
type phase uint64

// phaseOf gives the phase of an angle in turns.
func phaseOf(turns float64) phase {
	_, part := math.Modf(turns)
	return phase(int64(part*(1<<62))) << 2
}

// The table of sines has 2¹⁴ angles: the error, 2⁻¹⁵ of a turn at most, is −74 dB
// of the line.
const (
	sineBits = 14
	sineSize = 1 << sineBits
)

// sineTable holds the cosine and sine of angles in steps of 1/sineSize of a turn.
type sineTable [sineSize][2]float32

func newSineTable() *sineTable {
	t := new(sineTable)
	for i := range t {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / sineSize)
		t[i] = [2]float32{float32(cos), float32(sin)}
	}
	return t
}

// at gives cosine and sine of the table's angle that is nearest to p.
func (t *sineTable) at(p phase) (cos, sin float32) {
	const half = 1 << (63 - sineBits)
	e := &t[(p+half)>>(64-sineBits)]
	return e[0], e[1]
}

// A channel is a station within the sample rate.
type channel struct {
	station  *station
	response response   // amplitudes at full scale
	offset   float64    // Hz from the centre as realised
	middle   int        // bin, −frame/2 ≤ middle < frame/2
	now      complex128 // fading times response, at the last look
	perHop   complex128 // change of it in one hop
}

func (s *synth) tuneChannels(t float64) {
	s.channels = s.channels[:0]
	m := s.view.at
	add := func(st *station) {
		offset := st.frequency - s.lo
		if a := s.scale(s.world.field(st, t)*m.terminalPower(), offset); a > 0 {
			c := channel{station: st, offset: offset, response: m.response(st.azimuth, st.elevation).times(a)}
			c.middle = int(math.Round(offset / s.rate * frame))
			c.now = c.fade(t)
			s.channels = append(s.channels, c)
		}
	}
	for i := range s.world.stations {
		add(&s.world.stations[i])
	}
	on := s.overs.find(s.world, s.lo-s.rate/2, s.lo+s.rate/2, t)
	for i := range on {
		add(&on[i])
	}
	s.setFading(t)
}

// setFading sets the change of fading per hop so that it reaches its true value
// fadingHops later.
func (s *synth) setFading(t float64) {
	ahead := t + fadingHops*hop/s.rate
	for i := range s.channels {
		c := &s.channels[i]
		c.perHop = (c.fade(ahead) - c.now) / fadingHops
	}
}

// fade gives the carrier's complex amplitude at time t, without the phase of the carrier itself.
func (c *channel) fade(t float64) (sum complex128) {
	for i, a := range c.response {
		if a != 0 {
			sum += complex(a, 0) * c.station.fading[i].at(t)
		}
	}
	return sum
}

// fillStation adds a station's carrier and sidebands to the frame and moves its
// fading on by a hop.
//
//go:norace
func (s *synth) fillStation(c *channel) {
	angle := phaseOf(c.offset * s.seconds(s.frameStart))
	step := phaseOf((c.offset/s.rate - float64(c.middle)/frame) * pointSpacing)
	const share = 1.0 / (hop / pointSpacing) // of a hop, from one instant to the next
	re, im, dre, dim := float32(real(c.now)), float32(imag(c.now)), float32(real(c.perHop)*share), float32(imag(c.perHop)*share)
	depth := float32(c.station.depth)
	at := c.station.audio + int(s.frameStart/pointSpacing)
	n := &s.narrow
	for i := range points {
		cos, sin := s.turns.at(angle)
		if c.station.voice {
			v := s.voice[(at+i)&(speechLength-1)]
			cos, sin = cos*real(v)-sin*imag(v), cos*imag(v)+sin*real(v)
		} else {
			a := 1 + depth*s.speech[(at+i)&(speechLength-1)]
			cos, sin = a*cos, a*sin
		}
		n.re[i] = n.window[i] * (re*cos - im*sin)
		n.im[i] = n.window[i] * (re*sin + im*cos)
		re += dre
		im += dim
		angle += step
	}
	n.addTo(s.re, s.im, c.middle&(frame-1))
	c.now += c.perHop
}
