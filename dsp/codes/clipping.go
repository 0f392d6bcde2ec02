package codes

import "math"

// A Clipping is what the counts of a Counter say of saturation.
type Clipping struct {
	Share float64 // of the components at the lowest or highest code
	Time  float64 // share of the blocks of codeBlock in which any was
	Noise float64 // estimate of the power that clipping adds, full-scale units
}

// Clipping gives what the counts so far say of saturation.
//
// What was cut off is gone, but its size shows in the tail that is left. If amplitudes fall
// exponentially, P(|x| > a) ∝ exp(−a/λ), then λ = (1 − ¾)/ln(P(|x| ≥ ¾)/P(|x| ≥ 1)), and
// the mean square of the overshoot is 2λ² in each clipped component, twice that in a sample.
// λ is held to 1. Gaussian signals fall faster, so that the estimate is 2 to 3 dB high for
// them; for strong bursts, which hardly fall, it is large, as it should be. METHODS.md 13.2.
func (c *Counter) Clipping() Clipping {
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

// Bounds of overload, METHODS.md 13.3. TestOverloadBounds fails when one moves.
const (
	// overloadTime is the share of blocks with clipping under which it is isolated pulses: the
	// floor leaves those out, and a carrier loses under 1 % of its power, 0.09 dB. Chosen.
	overloadTime = 0.01
	// overloadShare is a share of components. For Gaussian signals 1e-3 clipped adds 2.4e-5 of
	// full-scale power, 4 dB over the rounding noise of 8 bits, 2/12/128² [Bennett:1948,
	// pp. 446-472].
	overloadShare = 1e-3
	// overloadRise is the added density over the floor; one raised by a quarter reads 1 dB high.
	overloadRise = 0.25
)

// Overload reports whether clipping makes levels wrong. It must be spread over time, and
// either clip many components or add more than overloadRise of the floor, its noise spread
// over rate samples a second. floor is in FS²/Hz, NaN or 0 where none is known.
func (c Clipping) Overload(floor, rate float64) bool {
	if c.Time < overloadTime {
		return false
	}
	return c.Share >= overloadShare || (floor > 0 && c.Noise/rate >= overloadRise*floor)
}
