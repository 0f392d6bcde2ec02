package spectrum

import "math"

// Clipping is what the counts of a CodeCounter say of saturation.
type Clipping struct {
	Share float64 // of the components at the lowest or highest code
	Time  float64 // share of the blocks of 1024 samples in which any was
	Noise float64 // power that clipping has put elsewhere, full-scale units; an estimate
}

// Clipping sums up what has been counted.
//
// What a limiter cuts off is gone, but its size can be told from the tail that
// is left: if amplitudes fall exponentially, P(|x| > a) ∝ exp(−a/λ), then
// λ = (1 − ¾)/ln(P(|x| ≥ ¾)/P(|x| ≥ 1)), and the overshoot's mean square is
// 2λ² in each clipped component, twice that in a sample. Gaussian signals fall
// faster, so that the estimate is 2…3 dB high for them; strong bursts,
// which fall hardly at all, come out large, as they should (λ is held to 1).
func (c *CodeCounter) Clipping() Clipping {
	out := Clipping{Share: c.ClippedShare()}
	if out.Share == 0 {
		return out
	}
	if c.blocks > 0 {
		out.Time = float64(c.blocksClipped) / float64(c.blocks)
	} else {
		out.Time = 1
	}
	lambda := 1.0
	if large := float64(c.largeCount()) / float64(c.n); large > out.Share {
		lambda = min(1, (1-largeLevel)/math.Log(large/out.Share))
	}
	out.Noise = 2 * out.Share * 2 * lambda * lambda
	return out
}

// Bounds of overload.
const (
	// Clipping in fewer blocks than this is a few isolated pulses: the floor
	// leaves them out, and a carrier loses under 1 %, 0.09 dB.
	overloadTime = 0.01
	// For Gaussian signals one component in 1000 clipped adds 2.4e-5 of
	// full-scale power, 4 dB over the rounding noise of 8 bits (2/12/128²).
	overloadShare = 1e-3
	// A floor raised by a quarter reads 1 dB high.
	overloadRise = 0.25
)

// Overload tells whether clipping makes levels wrong: it is spread in time, and
// either frequent or, spread as noise over the rate (samples a second), more
// than a quarter of the floor (FS²/Hz; NaN or 0 where none is known).
func (c Clipping) Overload(floor, rate float64) bool {
	if c.Time < overloadTime {
		return false
	}
	return c.Share >= overloadShare || (floor > 0 && c.Noise/rate >= overloadRise*floor)
}
