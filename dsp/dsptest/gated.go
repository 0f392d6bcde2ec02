package dsptest

import (
	"math"
	"math/rand/v2"
)

// Gated is noise in bursts at twice the mains frequency.
type Gated struct {
	Mean    float64 // density over time, FS²/Hz
	Mains   float64 // Hz
	Duty    float64 // share of the time in burst; 0: smooth, power follows 1 + Depth·cos
	Between float64 // dB, level between bursts against the level in bursts (square bursts)
	Depth   float64 // (max − min)/(max + min) of the power (smooth)
	Phase   float64 // cycles of twice the mains frequency
}

// Gated adds noise in bursts. White within the passband.
func (s *Signal) Gated(g Gated) *Signal {
	ratio := fromDB(g.Between) // of the density between bursts to that in bursts
	in := g.Mean / (g.Duty + (1-g.Duty)*ratio)
	s.sources = append(s.sources, &gated{Gated: g, r: s.random(), cycles: 2 * g.Mains / s.Rate,
		in: math.Sqrt(in * s.Rate / 2), between: math.Sqrt(in * ratio * s.Rate / 2), mean: math.Sqrt(g.Mean * s.Rate / 2)})
	s.truth.white += g.Mean
	return s
}

type gated struct {
	Gated
	r                 *rand.Rand
	cycles            float64 // a sample
	in, between, mean float64 // standard deviations of a component
	n                 int64
}

func (g *gated) add(out []complex64) {
	for i := range out {
		at := math.Mod(g.Phase+float64(g.n)*g.cycles, 1)
		g.n++
		var sd float64
		switch {
		case g.Duty == 0:
			sd = g.mean * math.Sqrt(1+g.Depth*math.Cos(2*math.Pi*at))
		case at < g.Duty:
			sd = g.in
		default:
			sd = g.between
		}
		out[i] += complex(float32(sd*g.r.NormFloat64()), float32(sd*g.r.NormFloat64()))
	}
}
