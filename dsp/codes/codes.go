// Package codes counts how samples fill a converter's range: the share of them that is
// clipped, also in stretches so short that the mean over a recording hides it, and whether
// so few codes move that levels err. In go samples as the receiver or the file gives them;
// shares and verdicts come out (METHODS.md 13).
package codes

import (
	"fmt"
	"math"
	"slices"
)

const (
	// codeBlock is the number of components in a block of Clipping.Time: 1024 samples, 0.3 to
	// 4.6 ms at the rates of the dongle. Chosen; TestClippingInPieces.
	codeBlock = 2048
	// largeLevel is the amplitude, over full scale, from which components count as large; the
	// tail between it and full scale shows how far signals overshoot. METHODS.md 13.2;
	// TestClippingNoiseOfGaussianSignal.
	largeLevel = 0.75
)

// A Counter counts how I and Q components fill a converter's range. It takes a stream
// and allocates nothing after NewCounter.
type Counter struct {
	bits   int
	counts [4][]int64 // by code, lowest first; four tables, so that counting equal neighbours does not wait for memory
	n      int64      // components

	top            float32 // of floats: from here on they are clipped, and from −1 down
	large, clipped int64   // floats: |x| ≥ largeLevel, clipped

	blockLeft     int   // components still to come in this block
	before        int64 // clippedCount when this block began
	blocks        int64 // blocks that are full
	blocksClipped int64
	clippedRuns   []Run // with room for mostRuns
}

// A Run is a stretch of samples, the first and the one behind the last.
type Run struct{ From, To int64 }

// mostRuns is how many runs of clipped blocks a Counter keeps apart: memory. The last one takes in what comes later.
const mostRuns = 4096

// NewCounter counts components of 8 or 16 bits, signed or not, or floats (bits is 32). Codes of
// 24 bits and more (24) are counted as floats, of which those are clipped that have the outermost
// code in their upper 16 bits: what a converter of fewer bits leaves of full scale.
func NewCounter(bits int) *Counter {
	c := &Counter{bits: bits, top: 1, blockLeft: codeBlock, clippedRuns: make([]Run, 0, mostRuns)}
	switch bits {
	case 8:
		for i := range c.counts {
			c.counts[i] = make([]int64, 1<<8)
		}
	case 16:
		c.counts[0] = make([]int64, 1<<16)
	case 24:
		c.top = 1 - 1.0/(1<<15)
	case 32:
	default:
		panic(fmt.Sprintf("codes: Counter of %d bits: not 8, 16, 24 or 32", bits))
	}
	return c
}

// Reset forgets all counts.
func (c *Counter) Reset() {
	counts := c.counts
	for _, t := range counts {
		clear(t)
	}
	*c = Counter{bits: c.bits, top: c.top, counts: counts, blockLeft: codeBlock, clippedRuns: c.clippedRuns[:0]}
}

// AddU8 counts unsigned bytes, the code as it stands.
func (c *Counter) AddU8(raw []byte) { c.add8(raw, 0) }

// AddI8 counts signed bytes in two's complement.
func (c *Counter) AddI8(raw []byte) { c.add8(raw, 0x80) }

// add8 counts bytes; flip is the byte of the lowest code.
func (c *Counter) add8(raw []byte, flip byte) {
	for len(raw) > 0 {
		n := min(len(raw), c.blockLeft)
		t0, t1, t2, t3 := (*[256]int64)(c.counts[0]), (*[256]int64)(c.counts[1]), (*[256]int64)(c.counts[2]), (*[256]int64)(c.counts[3])
		b := raw[:n]
		for ; len(b) >= 4; b = b[4:] {
			t0[b[0]^flip]++
			t1[b[1]^flip]++
			t2[b[2]^flip]++
			t3[b[3]^flip]++
		}
		for _, v := range b {
			t0[v^flip]++
		}
		c.endRun(n)
		raw = raw[n:]
	}
}

// AddI16 counts signed 16-bit codes, least significant byte first unless
// bigEndian. The length of raw is even.
func (c *Counter) AddI16(raw []byte, bigEndian bool) {
	low, high := 0, 1
	if bigEndian {
		low, high = 1, 0
	}
	t := (*[1 << 16]int64)(c.counts[0])
	for len(raw) > 0 {
		n := min(len(raw)/2, c.blockLeft)
		for b := raw[:2*n]; len(b) >= 2; b = b[2:] {
			t[(uint16(b[high])<<8|uint16(b[low]))^0x8000]++
		}
		c.endRun(n)
		raw = raw[2*n:]
	}
}

// AddFloat counts samples in full-scale units.
func (c *Counter) AddFloat(x []complex64) {
	top := c.top
	for len(x) > 0 {
		n := min(len(x), (c.blockLeft+1)/2)
		for _, v := range x[:n] {
			for _, component := range [2]float32{real(v), imag(v)} {
				if component >= largeLevel || component <= -largeLevel {
					c.large++
				}
				if component >= top || component <= -1 {
					c.clipped++
				}
			}
		}
		c.endRun(2 * n)
		x = x[n:]
	}
}

// endRun adds a run of n components to the block, and closes the block when it is full.
func (c *Counter) endRun(n int) {
	c.n += int64(n)
	if c.blockLeft -= n; c.blockLeft > 0 {
		return
	}
	now := c.clippedCount()
	if now > c.before {
		c.blocksClipped++
		c.noteRun(Run{c.blocks * codeBlock / 2, (c.blocks + 1) * codeBlock / 2})
	}
	c.blocks, c.before, c.blockLeft = c.blocks+1, now, codeBlock
}

// noteRun notes a block that clipped.
func (c *Counter) noteRun(r Run) {
	if n := len(c.clippedRuns); n > 0 && (c.clippedRuns[n-1].To == r.From || n == mostRuns) {
		c.clippedRuns[n-1].To = r.To
		return
	}
	c.clippedRuns = append(c.clippedRuns, r)
}

// ClippedRuns gives where samples clipped, in whole blocks of 1024, in order. It is valid until the next samples.
func (c *Counter) ClippedRuns() []Run { return c.clippedRuns }

// clippedCount gives the components at the lowest or highest code.
func (c *Counter) clippedCount() int64 {
	sum := c.clipped
	for _, t := range c.counts {
		if len(t) > 0 {
			sum += t[0] + t[len(t)-1]
		}
	}
	return sum
}

// largeCount gives the components beyond largeLevel.
func (c *Counter) largeCount() int64 {
	sum := c.large
	for _, t := range c.counts {
		edge := int(math.Round(float64(len(t)) / 2 * (1 - largeLevel)))
		for code := range edge {
			sum += t[code] + t[len(t)-1-code]
		}
	}
	return sum
}

// Components gives the number of components counted.
func (c *Counter) Components() int64 { return c.n }

// Counts gives how often each code was counted, the lowest first; none for floats.
func (c *Counter) Counts() []int64 {
	sum := slices.Clone(c.counts[0])
	for _, t := range c.counts[1:] {
		for code := range t {
			sum[code] += t[code]
		}
	}
	return sum
}

// ClippedShare gives the share of components at the lowest or highest code, of
// floats those with |x| ≥ 1; 0 where nothing has been counted.
func (c *Counter) ClippedShare() float64 {
	if c.n == 0 {
		return 0
	}
	return float64(c.clippedCount()) / float64(c.n)
}

// Rounding gives the power that rounding to the codes adds to each sample, FS²: 1/12 of a squared step in either
// component [Bennett:1948, pp. 446-472]; 0 for floats.
func (c *Counter) Rounding() float64 {
	if c.bits == 32 {
		return 0
	}
	step := math.Ldexp(1, 1-c.bits)
	return 2 * step * step / 12
}

// LowDrive reports whether fewer than four codes hold 99.9 % of the components. The
// converter's steps are then coarse against the noise, under about 0.49 codes rms between
// two codes, and levels are not linear. It is false for floats. METHODS.md 13.1; TestLowDrive.
func (c *Counter) LowDrive() bool {
	if c.n == 0 || c.bits > 16 {
		return false
	}
	var most [3]int64 // falling
	for _, v := range c.Counts() {
		for i := range most {
			if v > most[i] {
				v, most[i] = most[i], v
			}
		}
	}
	return float64(most[0]+most[1]+most[2]) >= 0.999*float64(c.n)
}

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
	out := Clipping{Share: c.ClippedShare(), Time: 1} // in less than a block
	if out.Share == 0 {
		return Clipping{}
	}
	if c.blocks > 0 {
		out.Time = float64(c.blocksClipped) / float64(c.blocks)
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
