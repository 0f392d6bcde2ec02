package series

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// BenchmarkMixture fits a series of a night, and of ninety, and makes its mixture ten times, as a ranking of
// ten setups does.
func BenchmarkMixture(b *testing.B) {
	for _, rounds := range []int{60, 5400} {
		b.Run(fmt.Sprint(rounds, " rounds"), func(b *testing.B) {
			random := rand.New(rand.NewPCG(1, 1))
			s := Series{}
			for i := range rounds {
				s.Values, s.Times, s.Stratum = append(s.Values, random.NormFloat64()), append(s.Times, float64(i)), append(s.Stratum, i/30%2)
			}
			for b.Loop() {
				f := Of(s)
				w := Pool([]*Fit{f}, 2)
				for range 10 {
					f.By(w, nil)
				}
			}
		})
	}
}
