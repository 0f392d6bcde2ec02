package dsptest

import "math"

// Comb is a switching supply's lines: whole multiples of one frequency.
type Comb struct {
	Spacing float64 // Hz at the start
	Drift   float64 // Hz a second, of the spacing
	Wobble  float64 // Hz, peak, of the spacing, at twice the mains frequency
	Mains   float64 // Hz, for wobble and depth
	Depth   float64 // of the lines' amplitude at twice the mains frequency, 0…1
	Level   float64 // dBFS of each line at its mean amplitude
	Low     float64 // Hz, the lines lie in Low…High
	High    float64
}

// Comb adds the multiples of the spacing that lie between Low and High.
func (s *Signal) Comb(c Comb) *Signal {
	first := int(math.Ceil(c.Low / c.Spacing))
	last := int(math.Floor(c.High / c.Spacing))
	src := &comb{Comb: c, first: first, rate: s.Rate, centre: s.Centre, amplitude: math.Sqrt(fromDB(c.Level))}
	r := s.random()
	for range last - first + 1 {
		sin, cos := math.Sincos(2 * math.Pi * r.Float64())
		src.phases = append(src.phases, complex(cos, sin))
	}
	s.sources = append(s.sources, src)
	return s
}

type comb struct {
	Comb
	first        int
	phases       []complex128 // of each line
	rate, centre float64
	amplitude    float64
	n            int64
}

// add turns the fundamental's phase φ and takes e^{i·k·φ} of the neighbouring
// multiples by one product each.
func (c *comb) add(out []complex64) {
	for i := range out {
		t := float64(c.n) / c.rate
		c.n++
		swing := 2 * math.Pi * 2 * c.Mains
		cycles := c.Spacing*t + c.Drift*t*t/2
		amplitude := c.amplitude
		if c.Mains > 0 {
			cycles += c.Wobble * (1 - math.Cos(swing*t)) / swing
			amplitude *= 1 + c.Depth*math.Sin(swing*t)
		}
		sin, cos := math.Sincos(2 * math.Pi * math.Mod(float64(c.first)*cycles-c.centre*t, 1))
		w := complex(cos, sin)
		sin, cos = math.Sincos(2 * math.Pi * math.Mod(cycles, 1))
		step := complex(cos, sin)
		var sum complex128
		for _, phase := range c.phases {
			sum += phase * w
			w *= step
		}
		out[i] += complex64(complex(amplitude, 0) * sum)
	}
}
