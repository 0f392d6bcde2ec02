// Package level tells what full scale of a receiver stands for in dBm, and how well that is known.
//
// Runs of calibrate give level references: at a gain and a frequency, what a tone at 0 dBFS has at the
// receiver's input. Of makes of them the Level at any frequency, gain and time, and its Budget says what makes
// it uncertain: the generator, noise source or noise figure that it rests on, mismatch, drift since then, the
// distance in frequency, noise of the measurement (PHYSICS.md 7.11).
//
// Self-noise and a level at one gain imply a noise figure (Figures), which tells a wrong level from a right
// one. The other way round Computed gives self-noise at gains at which too few codes move to measure it.
// Differs tells whether a run agrees with those before it.
package level

import (
	"cmp"
	"math"
	"slices"
	"time"

	"nightfloor/survey"
)

const (
	// sameLabel is by how much two labels of one gain may differ: they are tenths of
	// a dB that went through arithmetic. TestSameGain fails when it moves.
	sameLabel = 0.05 // dB
	// oneBand is how far apart, as a share, two frequencies may be whose level references count
	// as taken at one: a front end's gain does not change within a few per cent. Chosen
	// (STATISTICS.md 5.3); TestStepsAtOneFrequency fails when it moves.
	oneBand = 0.05
	// farFrom is the distance from a reference, as a share of its frequency, from which on a level is
	// doubted. Chosen (PHYSICS.md 7.11); TestFarFromTheReference fails when it moves.
	farFrom = 0.10
)

// SameGain tells whether two labels are of one gain.
func SameGain(a, b survey.DB) bool { return math.Abs(float64(a-b)) < sameLabel }

// apart gives the distance of two frequencies as a share of the first.
func apart(f, g survey.Hz) float64 { return math.Abs(float64(g-f)) / float64(f) }

// A Level is what full scale stands for.
type Level struct {
	FullScale survey.DBm // of a tone at 0 dBFS, at the receiver's input
	// Frequency is where that holds: the reference's, or where it was asked for, between two references.
	Frequency survey.Hz
	Basis     string                // one of survey's bases
	Sigma     survey.DB             // standard error of the measurement
	Moved     survey.DB             // by how much a later run differs from the one that it rests on, 0 without one
	Far       bool                  // over a tenth of the reference's frequency away, with none on the other side
	Runs      []*survey.Calibration // that it rests on, one or two

	source, frequency survey.DB // terms of the budget
}

// Measured tells whether the steps between gains are measured, too. A noise figure measures none: it is taken
// for alike at all gains, which it is not.
func (l Level) Measured() bool { return l.Basis != survey.BasisFigure }

// Comparable tells whether two levels rest on the same and hold near one frequency, so that they differ by the
// step between their gains alone.
func (l Level) Comparable(m Level) bool {
	return l.Basis == m.Basis && apart(l.Frequency, m.Frequency) <= oneBand
}

// A reference is one of a run.
type reference struct {
	*survey.LevelReference
	run *survey.Calibration
}

// Of gives the level at a frequency and a gain by runs in order of preference: by what was measured before
// what rests on a noise figure. A reference within a few per cent serves alone, the first of them; of those
// farther away the nearest on each side. Between two the level is interpolated in dB over the logarithm of
// frequency, since that is how front ends are built: filters and transformers fall by so many dB an octave.
func Of(runs []*survey.Calibration, f survey.Hz, gain survey.DB) (l Level, ok bool) {
	if f <= 0 {
		return l, false
	}
	for _, measured := range []bool{true, false} {
		var near, below, above *reference
		for _, run := range runs {
			for i := range run.Levels {
				r := &reference{&run.Levels[i], run}
				if r.Frequency <= 0 || !SameGain(r.Gain, gain) || (r.Basis != survey.BasisFigure) != measured {
					continue
				}
				switch {
				case apart(f, r.Frequency) <= oneBand:
					near = cmp.Or(near, r)
				case r.Frequency < f:
					below = nearer(below, r, f)
				default:
					above = nearer(above, r, f)
				}
			}
		}
		switch {
		case near != nil:
			return near.alone(runs, f), true
		case below != nil && above != nil:
			return below.with(*above, runs, f), true
		case below != nil || above != nil:
			return cmp.Or(below, above).alone(runs, f), true
		}
	}
	return l, false
}

// nearer gives the reference that is nearer to a frequency; of those near each other the first.
func nearer(had, r *reference, f survey.Hz) *reference {
	if had == nil || apart(had.Frequency, r.Frequency) > oneBand && apart(f, r.Frequency) < apart(f, had.Frequency) {
		return r
	}
	return had
}

// alone gives the level at f by one reference.
func (r reference) alone(runs []*survey.Calibration, f survey.Hz) Level {
	l := Level{FullScale: r.FullScale, Frequency: r.Frequency, Basis: r.Basis, Sigma: r.Sigma, Moved: r.moved(runs),
		Runs: []*survey.Calibration{r.run}, Far: apart(r.Frequency, f) > farFrom, source: Told(*r.LevelReference)}
	if away := apart(f, r.Frequency); away > oneBand {
		l.frequency = slope * survey.DB(octaves(f, r.Frequency))
	}
	return l
}

// with gives the level at f between two references. Unknown slopes on both sides of f, pinned at the references, leave
// their difference times both distances in parallel. Both may rest on one generator: its error does not average
// out.
func (r reference) with(s reference, runs []*survey.Calibration, f survey.Hz) Level {
	low, high := octaves(r.Frequency, f), octaves(f, s.Frequency)
	w := high / (low + high)
	mean := func(a, b float64) float64 { return w*a + (1-w)*b }
	l := Level{FullScale: survey.DBm(mean(float64(r.FullScale), float64(s.FullScale))), Frequency: f, Basis: r.Basis,
		Sigma:  survey.DB(math.Hypot(w*float64(r.Sigma), (1-w)*float64(s.Sigma))),
		Moved:  max(r.moved(runs), s.moved(runs)),
		source: survey.DB(mean(float64(Told(*r.LevelReference)), float64(Told(*s.LevelReference)))), frequency: slope * survey.DB(math.Sqrt2*low*high/(low+high))}
	l.Runs = slices.Compact([]*survey.Calibration{r.run, s.run})
	return l
}

func octaves(f, g survey.Hz) float64 { return math.Abs(math.Log2(float64(g / f))) }

// moved gives by how much the next later run of the same basis differs from the reference's, 0 where there is
// none: the median over the gains at which both measured near the reference's frequency.
func (r reference) moved(runs []*survey.Calibration) survey.DB {
	var first time.Time
	var by survey.DB
	for _, later := range runs {
		if !later.At.After(r.run.At) || !first.IsZero() && !later.At.Before(first) {
			continue
		}
		var steps []survey.DB
		for _, a := range r.run.Levels {
			for _, b := range later.Levels {
				if a.Basis == r.Basis && b.Basis == r.Basis && SameGain(a.Gain, b.Gain) && apart(r.Frequency, a.Frequency) <= oneBand && apart(a.Frequency, b.Frequency) <= oneBand {
					steps = append(steps, survey.DB(b.FullScale-a.FullScale))
				}
			}
		}
		if len(steps) > 0 {
			slices.Sort(steps)
			first, by = later.At, survey.DB(math.Abs(float64(steps[len(steps)/2])))
		}
	}
	return by
}
