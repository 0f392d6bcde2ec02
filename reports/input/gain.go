package input

import (
	"cmp"
	"slices"

	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// Levels against full scale move with the receiver's gain. Those of one segment
// are therefore referred to one gain, the same for all setups, so that hours and
// setups compare. A level that cannot be referred to it is never mixed in.

// Refer gives by how much a level at gain g is to be lowered to stand at gain to;
// ok is false where that is not known. One unknown gain counts as unchanged.
func Refer(g, to survey.Gain) (lower survey.DB, ok bool) {
	if g == to {
		return 0, true
	}
	return g.Comparable(to)
}

// sameGain is by how many dB two gains may differ at which own noise compares as it is: less the gain it falls by no more
// than the gain rises, and so errs by no more. Chosen; TestTerminatorAtAnotherGain fails when it moves.
const sameGain survey.DB = 0.5

// SameGain tells whether own noise that was lowered by so much with the gain is what it would be there: own noise does
// not follow the gain, since part of it is made behind the tuner.
func SameGain(lower survey.DB) bool { return max(lower, -lower) <= sameGain }

// A GainTally counts readings by their gains, in order of appearance.
type GainTally struct {
	order []survey.Gain
	count map[survey.Gain]int
}

// Add counts a reading.
func (t *GainTally) Add(g survey.Gain) {
	if t.count == nil {
		t.count = map[survey.Gain]int{}
	}
	if t.count[g] == 0 {
		t.order = append(t.order, g)
	}
	t.count[g]++
}

// referable counts the readings whose levels can be referred to the gain.
func (t *GainTally) referable(to survey.Gain) (n int) {
	for g, readings := range t.count {
		if _, ok := Refer(g, to); ok {
			n += readings
		}
	}
	return n
}

// Common gives the gain to which the most of the readings can be referred: the
// segment's if it is one of these, else the earliest.
func (t *GainTally) Common(segment survey.Gain) survey.Gain {
	return slices.MaxFunc(append([]survey.Gain{segment}, t.order...), func(g, h survey.Gain) int { return t.referable(g) - t.referable(h) })
}

// SegmentGains gives the gain that each segment's levels are referred to, by the
// segment's name: the one to which the most readings through the reference can be
// referred; among equals that serves the most readings through all setups; then
// the reference's earliest. The zero Gain where no gain is known. Where steps of
// gain are measured every gain serves all: it is then the reference's earliest.
func (in Selection) SegmentGains() map[string]survey.Gain {
	type tallies struct{ ref, all GainTally }
	segments := map[string]*tallies{}
	for _, s := range in.Sweeps {
		for i := range s.Readings {
			r := &s.Readings[i]
			if !Levelled(r) || !r.Gain.Known {
				continue
			}
			t := segments[r.Segment.Name]
			if t == nil {
				t = &tallies{}
				segments[r.Segment.Name] = t
			}
			t.all.Add(r.Gain)
			if s.Setup == in.Reference {
				t.ref.Add(r.Gain)
			}
		}
	}
	gains := map[string]survey.Gain{}
	for name, t := range segments {
		gains[name] = slices.MaxFunc(append(t.ref.order, t.all.order...), func(g, h survey.Gain) int {
			return cmp.Or(t.ref.referable(g)-t.ref.referable(h), t.all.referable(g)-t.all.referable(h))
		})
	}
	return gains
}

// Levelled tells whether a reading's floor is a level to be shown.
func Levelled(r *survey.Reading) bool {
	return r.Floor != nil && !r.Quality.Has(survey.FlagOverload) && stats.Finite(float64(r.Floor.Density))
}

// GainOf gives the gain in dB where it is the segment's, and known: what stands at
// it compares. Nil: it compares with nothing else.
func GainOf(to, segment survey.Gain) *survey.DB {
	if to != segment || !to.Known {
		return nil
	}
	return result.DB(float64(to.DB))
}
