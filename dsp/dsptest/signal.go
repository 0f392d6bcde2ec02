package dsptest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// block is how many samples are made at once: small enough for the cache.
const block = 2048

// A source adds its next len(out) samples to out.
type source interface{ add(out []complex64) }

// A Signal is a sum of parts, received with a receiver's faults. Add parts,
// then take Samples; parts added after the first of them begin late.
type Signal struct {
	Rate, Centre float64 // samples a second, Hz

	seed    uint64
	parts   uint64
	sources []source
	groups  map[int]*upsampler
	truth   Truth

	// What the receiver does to the sum s, in the order of the hardware: s + gamma·conj(s) + dc.
	gamma, dc complex64
}

// New makes a silent signal. The same seed and the same parts in the same
// order give the same samples.
func New(seed uint64, rate, centre float64) *Signal {
	if !(rate > 0) {
		panic(fmt.Sprintf("dsptest: rate %v", rate))
	}
	return &Signal{Rate: rate, Centre: centre, seed: seed, groups: map[int]*upsampler{}}
}

// random gives each part a generator of its own, so that one part's length of
// work does not shift another's numbers.
func (s *Signal) random() *rand.Rand {
	s.parts++
	return rand.New(rand.NewPCG(s.seed, s.parts))
}

// Samples gives the next n samples. How the signal is cut into calls does not change it.
func (s *Signal) Samples(n int) []complex64 {
	out := make([]complex64, n)
	for b := range slices.Chunk(out, block) {
		for _, src := range s.sources {
			src.add(b)
		}
		for i, x := range b {
			b[i] = x + s.gamma*complex(real(x), -imag(x)) + s.dc
		}
	}
	return out
}

// Imbalance adds gamma times the conjugate: every line at offset f gets a mirror
// image at −f, 20·log10|gamma| dB against it. A relative gain error g and a
// phase error φ (radians) of the branches are gamma ≈ (g + iφ)/2.
func (s *Signal) Imbalance(gamma complex128) *Signal {
	s.gamma = complex64(gamma)
	return s
}

// DC adds an offset.
func (s *Signal) DC(offset complex128) *Signal {
	s.dc = complex64(offset)
	return s
}

func fromDB(db float64) float64 { return math.Pow(10, db/10) }
