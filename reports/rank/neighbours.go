package rank

import (
	"math"

	"nightfloor/reports/stats"
)

// neighbours gives the correlation of a carrier's difference between one round and
// the next, from all effects: each carrier gives little, together they give much.
//
// The mean over carriers may be more correlated than a single one (an appliance
// raises the floor for all), so its correlation is taken where it is larger; being one
// short series a setup, it counts less its own standard error.
func neighbours(effects []*effect) float64 {
	var single, common stats.Lagged
	for _, e := range effects {
		if e == nil {
			continue
		}
		sum, count := make([]float64, len(e.rounds)), make([]float64, len(e.rounds))
		for c, t := range e.tracks {
			rest := make([]float64, len(e.rounds))
			for i := range rest {
				rest[i] = math.NaN()
			}
			for i := range t.obs {
				if t.obs[i].strong && !t.faint {
					o := &t.obs[i]
					// A station that went off the air mid-round must not dominate.
					rest[o.round] = max(-3*e.fade.spread, min(3*e.fade.spread, t.toSetup*o.delta-e.means[c]))
					sum[o.round] += rest[o.round]
					count[o.round]++
				}
			}
			single.Add(rest)
		}
		for i := range sum {
			sum[i] /= count[i] // NaN where no carrier says anything
		}
		common.Add(sum)
	}
	alone, _ := single.Correlation()
	together, sigma := common.Correlation()
	return max(0, min(0.8, max(alone, together-sigma)))
}
