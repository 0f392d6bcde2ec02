package scene

import (
	"math"
	"math/bits"
)

// quantiles is the size of the table of the normal distribution.
const quantiles = 1 << 13

// A gauss draws normal numbers from a table of quantiles of equal probability,
// four for each 64 random bits. The table ends at 4 sigma; second and fourth
// moment are those of the normal distribution, so that powers scatter as they
// should, and the transform that follows adds up some hundred of them, which
// brings the tails back.
type gauss struct {
	state uint64
	table [quantiles]float32
}

func newGauss(seed uint64) *gauss {
	g := &gauss{state: seed}
	half := quantiles / 2
	var second, fourth float64
	x := make([]float64, half)
	for i := range x {
		x[i] = math.Sqrt2 * math.Erfinv((float64(i)+0.5)/float64(half))
		second += x[i] * x[i]
		fourth += math.Pow(x[i], 4)
	}
	// The outermost value takes up what the middles of the others miss of the
	// fourth moment, 3; then all are scaled to the second, 1.
	last := x[half-1]
	for range 20 {
		want := 3 * second * second / float64(half)
		next := math.Pow(max(1, want-fourth+math.Pow(last, 4)), 0.25)
		second += next*next - last*last
		fourth += math.Pow(next, 4) - math.Pow(last, 4)
		last = next
	}
	x[half-1] = last
	scale := math.Sqrt(float64(half) / second)
	for i, v := range x {
		g.table[i], g.table[half+i] = float32(scale*v), float32(-scale*v)
	}
	return g
}

// Multipliers of the generator: two odd numbers of irregular bits.
const (
	weylStep = 0x9e3779b97f4a7c15
	mixA     = 0xd1342543de82ef95
)

// fill sets re and im to normal numbers times the amplitudes. The generator is a
// Weyl sequence mixed by one wide multiplication.
func (g *gauss) fill(re, im, amplitude []float32) {
	im, amplitude = im[:len(re)], amplitude[:len(re)]
	state, table := g.state, &g.table
	for i := 0; i+1 < len(re); i += 2 {
		state += weylStep
		high, low := bits.Mul64(state, state^mixA)
		r := high ^ low
		a, b := amplitude[i], amplitude[i+1]
		re[i] = a * table[r&(quantiles-1)]
		im[i] = a * table[r>>16&(quantiles-1)]
		re[i+1] = b * table[r>>32&(quantiles-1)]
		im[i+1] = b * table[r>>48&(quantiles-1)]
	}
	g.state = state
}
