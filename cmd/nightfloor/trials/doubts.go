package trials

import (
	"math"
	"slices"

	"nightfloor/capture"
	"nightfloor/reports/input"
	"nightfloor/reports/stats"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// Two antennas differ by more than this, save by chance: floors of one antenna by a tenth, carriers' median by what
// fading does in the seconds between two visits. Chosen; TestSameAntenna fails when they move.
const (
	sameFloor    survey.DB = 0.3
	sameCarriers float64   = 3 // dB
)

// carriersOf counts the carriers that were heard in all segments.
func carriersOf(readings []survey.Reading) (n int) {
	for _, r := range readings {
		for _, c := range r.Carriers {
			if c.Detected {
				n++
			}
		}
	}
	return n
}

// atTop tells whether every reading was made at the receiver's highest gain.
func atTop(info capture.Info, readings []survey.Reading) bool {
	return len(info.Gains) > 0 && !slices.ContainsFunc(readings, func(r survey.Reading) bool {
		return r.Gain.DB < slices.Max(info.Gains)
	})
}

// Deaf tells whether next to nothing came through a setup that is to hear something: the converter stands
// still in every segment, and there is no carrier.
func Deaf(p plan.Plan, t capture.Trial) bool {
	return t.Heard() && !input.AntennaOf(p, t.Asked).Control() && carriersOf(t.Readings) == 0 &&
		!slices.ContainsFunc(t.Readings, func(r survey.Reading) bool { return !r.Quality.Has(survey.FlagLowDrive) })
}

// sameAntenna tells whether two setups that name two antennas show one: floors and carriers are the same in every
// segment that was measured at the same gain, and there is one.
func sameAntenna(p plan.Plan, a, b capture.Trial) bool {
	x, y := input.AntennaOf(p, a.Asked), input.AntennaOf(p, b.Asked)
	conditions := x.Name == y.Name || x.Of == y.Name || y.Of == x.Name || x.Of != "" && x.Of == y.Of
	if conditions || x.Control() && y.Control() || !a.Heard() || !b.Heard() {
		return false
	}
	compared, most, by := false, 0, []float64(nil)
	for _, r := range a.Readings {
		for _, s := range b.Readings {
			if r.Segment != s.Segment || !r.Gain.Known || r.Gain != s.Gain || r.Floor == nil || s.Floor == nil {
				continue
			}
			if math.Abs(float64(r.Floor.Density.Over(s.Floor.Density))) > float64(sameFloor) {
				return false
			}
			compared = true
			most += max(carriersOf([]survey.Reading{r}), carriersOf([]survey.Reading{s}))
			by = append(by, carriersBy(r, s)...)
		}
	}
	return compared && 2*len(by) >= most && (most == 0 || math.Abs(stats.Median(by)) <= sameCarriers)
}

// carriersBy gives by how many dB carriers stand above those of another reading at the same frequency.
func carriersBy(a, b survey.Reading) (by []float64) {
	for _, c := range a.Carriers {
		for _, d := range b.Carriers {
			if c.Detected && d.Detected && c.Power > 0 && d.Power > 0 && math.Abs(float64(c.Frequency-d.Frequency)) <= float64(a.Resolution) {
				by = append(by, stats.Decibel(c.Power/d.Power))
			}
		}
	}
	return by
}

// An OwnNoise gives the receiver's own noise in a segment at a gain, where it is known.
type OwnNoise func(segment survey.Segment, gain survey.DB) (density survey.DBFSPerHz, known bool)

// margins gives how far a setup's floors stand over the receiver's own noise, of those for which that is known, and
// flags the readings that show it. A control is to show it.
func (own OwnNoise) margins(p plan.Plan, t capture.Trial) (margins []survey.DB) {
	if input.AntennaOf(p, t.Asked).Control() {
		return nil
	}
	for i := range t.Readings {
		r := &t.Readings[i]
		density, known := own(r.Segment, r.Gain.DB)
		if r.Floor == nil || !known {
			continue
		}
		by := r.Floor.Density.Over(density)
		if margins = append(margins, by); by < input.LimitedMargin && !r.Quality.Has(survey.FlagReceiverLimited) {
			r.Quality.Flags = append(slices.Clone(r.Quality.Flags), survey.FlagReceiverLimited)
			slices.Sort(r.Quality.Flags)
		}
	}
	return margins
}
