package pair

import (
	"math"

	"nightfloor/reports/stats"
)

const (
	// A carrier is unheard through a setup under heardSigmas standard errors over all rounds.
	// TestUnheard fails when it moves.
	heardSigmas = 2
	// noiseHeard is the chance that noise alone comes over heardSigmas (normal distribution).
	noiseHeard = 0.02275
)

// unheard gives the carriers that were measured through both and are not heard, and whether any is
// heard through both: by so much that noise alone has the chance noiseHeard to do so for any of the
// carriers.
func (f *fit) unheard() (all []Unheard, heard bool) {
	enough := math.Sqrt2 * math.Erfcinv(2*noiseHeard/float64(max(1, len(f.carriers))))
	firsts, seconds := f.averages(0), f.averages(1)
	for c, first := range firsts {
		second := seconds[c]
		if f.carriers[c].measured == 0 {
			continue
		}
		heard = heard || min(first.ratio(), second.ratio()) > enough
		u := Unheard{Carrier: c, First: first.ratio() < heardSigmas, Second: second.ratio() < heardSigmas, Behind: math.NaN()}
		switch {
		case !u.First && !u.Second:
			continue
		case !u.Second:
			u.Behind = first.behind(second)
		case !u.First:
			u.Behind = second.behind(first)
		}
		all = append(all, u)
	}
	return all, heard
}

// An average is the mean SNR of a carrier over rounds, each weighed by its own certainty.
type average struct {
	sum, weight float64 // in units of the surest cell of all
	unit        float64 // that one's, dB
}

// averages averages each carrier through one of the two.
func (f *fit) averages(side int) []average {
	unit := math.Inf(1)
	for i := range f.cells {
		unit = min(unit, f.cells[i].sides[side].unit)
	}
	f.byCarrier(func(x *cell) (weight, value float64) {
		q := min(stats.FromDecibel(x.sides[side].unit-unit), 1e100) // of squares that are finite
		return 1 / (q * q), x.sides[side].u * q
	})
	all := make([]average, len(f.carriers))
	for c, m := range f.carriers {
		all[c] = average{m.total, m.weight, unit}
	}
	return all
}

// ratio gives the mean in its standard errors, 0 where nothing was measured.
func (a average) ratio() float64 {
	if a.weight == 0 {
		return 0
	}
	return a.sum / math.Sqrt(a.weight)
}

// behind gives by how many dB a is under b at least: put at heardSigmas over its mean.
func (a average) behind(b average) float64 {
	most := (max(0, a.sum) + heardSigmas*math.Sqrt(a.weight)) / a.weight
	return stats.Decibel(b.sum/b.weight) + b.unit - stats.Decibel(most) - a.unit
}
