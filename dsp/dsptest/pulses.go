package dsptest

import (
	"math"
	"math/rand/v2"
)

// Pulses are short bursts of white noise.
type Pulses struct {
	Rate    float64 // a second
	Length  float64 // seconds, at least one sample
	Density float64 // within the pulse, FS²/Hz
	Poisson bool    // at random times; else evenly spaced
}

// Pulses adds them; their times are in Truth once they have been read.
func (s *Signal) Pulses(p Pulses) *Signal {
	src := &pulses{Pulses: p, r: s.random(), truth: &s.truth, rate: s.Rate,
		length: max(1, int64(math.Round(p.Length*s.Rate))), sd: math.Sqrt(p.Density * s.Rate / 2)}
	src.next = src.gap(0.5)
	s.sources = append(s.sources, src)
	return s
}

type pulses struct {
	Pulses
	r       *rand.Rand
	truth   *Truth
	rate    float64 // samples a second
	length  int64   // samples
	sd      float64
	n, next int64
}

// gap gives the samples to the next pulse; share of an even gap.
func (p *pulses) gap(share float64) int64 {
	if p.Poisson {
		share = p.r.ExpFloat64()
	}
	return int64(share * p.rate / p.Rate)
}

func (p *pulses) add(out []complex64) {
	for i := range out {
		if p.n >= p.next+p.length {
			p.next = max(p.next+p.gap(1), p.n)
		}
		if p.n >= p.next {
			if p.n == p.next {
				p.truth.Pulses = append(p.truth.Pulses, float64(p.n)/p.rate)
			}
			out[i] += complex(float32(p.sd*p.r.NormFloat64()), float32(p.sd*p.r.NormFloat64()))
		}
		p.n++
	}
}
