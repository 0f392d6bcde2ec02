package strata

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/reports/reporttest"
	"nightfloor/reports/series"
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

// A device that raises both floors, by 24 and 12 dB, and comes and goes in the midst of a third of the rounds: those are
// of neither state, and by half of either they say how long it was on. By the rounds of each state alone
// the mean of both is off by more.
func TestWeightsOfRoundsBetweenStates(t *testing.T) {
	random := rand.New(rand.NewPCG(reporttest.SeedFor(t), 10))
	h := house{setups: 2, rounds: 24, drift: 0.5, driftLag: 0.6, devices: []device{{[]float64{12, 24}, 0.3, 1.5, true, false}}}
	n := reporttest.TrialsOr(100)
	held, plainly, off, left := 0.0, 0.0, 0.0, 0
	for night := 0; night < n; {
		s, on, snr := h.night(random)
		m, p, truth := advantage(Choose(s), on, h, snr)
		if len(p.States) < 2 { // met in one round, or none
			continue
		}
		night++
		fit := series.Of(values(snr, 1, 0, p.Stratum))
		if _, holds := half(m, truth); holds {
			held += 1 / float64(n)
		}
		if _, holds := half(fit.By(series.Pool([]*series.Fit{fit}, 2), nil), truth); holds {
			plainly += 1 / float64(n)
		}
		off += (m.Mean - truth) / float64(n)
		left += len(p.Left)
	}
	t.Logf("held in %.3f, by rounds alone in %.3f; off by %.2f dB; %.1f rounds left out", held, plainly, off, float64(left)/float64(n))
	slack := 3 * math.Sqrt(0.05*0.95/float64(n))
	if held < 0.92-slack || plainly > 0.8+slack || math.Abs(off) > 0.1+3*0.5/math.Sqrt(float64(n)) {
		t.Errorf("held in %.3f, by rounds alone in %.3f; off by %.2f dB", held, plainly, off)
	}
}

// A source that other setups hear takes no rounds from a pair that does not: those of which nobody knows its
// state count over all states, and in none of them.
func TestRoundsThatASourceDoesNotMove(t *testing.T) {
	random := rand.New(rand.NewPCG(reporttest.SeedFor(t), 11))
	h := house{setups: 4, rounds: 24, drift: 0.5, driftLag: 0.6, devices: []device{{raises(4, 18, false), 0.5, 0, false, true}}}
	n := reporttest.TrialsOr(100)
	held, off, left, besides := 0.0, 0.0, 0, 0
	for range n {
		s, _, snr := h.night(random)
		p := Choose(s).Pair(2, 0)
		fit := series.Of(values(snr, 2, 0, p.Stratum))
		m := fit.By(series.Pool([]*series.Fit{fit}, 2), nil)
		if _, holds := half(m, 0); holds {
			held += 1 / float64(n)
		}
		off += m.Mean / float64(n)
		left += len(p.Left)
		for _, stratum := range p.Stratum {
			if len(p.States) > 1 && stratum >= 0 && len(p.States[stratum].Names()) == 0 {
				besides++
			}
		}
	}
	t.Logf("held in %.3f, off by %.2f dB, %.1f rounds left out, %.1f in no state", held, off, float64(left)/float64(n), float64(besides)/float64(n))
	if held < 0.92-3*math.Sqrt(0.05*0.95/float64(n)) || math.Abs(off) > 0.1+3*0.5/math.Sqrt(float64(n)) || left > 2*n || besides < 3*n {
		t.Errorf("held in %.3f, off by %.2f dB, %d rounds left out, %d in no state", held, off, left, besides)
	}
}
