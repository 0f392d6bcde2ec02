package strata

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/reports/reporttest"
)

// A device of 18 dB that was found through the one setup that hears it is as good as one that
// nobody knows: whether it was on while the other setup was measured matters to no round.
func TestDeviceFoundThroughOneSetup(t *testing.T) {
	seed := reporttest.SeedFor(t)
	for _, toggles := range []bool{true, false} {
		for _, share := range []float64{0.15, 0.4, 0.5} {
			for _, through := range []int{0, 1} {
				for _, gainless := range []bool{false, true} {
					d := device{raises: make([]float64, 4), share: share, long: 4, found: true}
					if d.raises[through] = 18; toggles {
						d.long = 0
					}
					if toggles && share != 0.5 {
						continue
					}
					name := fmt.Sprintf("%.0f %%, toggles %t, through %d, gains unknown %t", 100*share, toggles, through, gainless)
					t.Run(name, func(t *testing.T) {
						random := rand.New(rand.NewPCG(seed, 9))
						h := house{setups: 4, rounds: 24, drift: 0.5, driftLag: 0.6, devices: []device{d}, gainless: gainless}
						n := reporttest.TrialsOr(40)
						held, off, left := 0.0, 0.0, 0
						for range n {
							s, on, snr := h.night(random)
							for met := countTrue(on[0][through]); met < 2 || met > h.rounds-2; met = countTrue(on[0][through]) {
								s, on, snr = h.night(random) // else it shows one state only
							}
							m, p, truth := advantage(Choose(s), on, h, snr)
							if _, holds := half(m, truth); holds {
								held += 1 / float64(n)
							}
							off += (m.Mean - truth) / float64(n)
							left += len(p.Left)
						}
						t.Logf("held in %.3f, off by %.2f dB, %.1f rounds left out", held, off, float64(left)/float64(n))
						if held < 0.92-3*math.Sqrt(0.05*0.95/float64(n)) || math.Abs(off) > 0.1+3*0.5/math.Sqrt(float64(n)) || left > n {
							t.Errorf("held in %.3f, off by %.2f dB, %d rounds left out", held, off, left)
						}
					})
				}
			}
		}
	}
}
