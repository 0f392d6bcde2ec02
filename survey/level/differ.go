package level

import (
	"math"

	"nightfloor/survey"
)

// mostDifference is by how much two runs may differ at one gain and frequency before one of them is taken for
// wrong, or the receiver for another: warming up takes some tenths (PHYSICS.md 7.11). TestDiffers fails when
// it moves.
const mostDifference survey.DB = 1

// MostStep is by how much a measured step of gain may differ from that of the labels, where two runs have no gain in
// common: labels hold at 928 MHz (PHYSICS.md 7.3). What a control hears at another gain is known to as much. Chosen; TestDiffers and
// TestControlAtAnotherGain fail when it moves.
const MostStep survey.DB = 6

// A Difference is by how much a run differs from an earlier one.
type Difference struct {
	Earlier *survey.Calibration
	Level   bool      // of what full scale stands for; else of self-noise
	By      survey.DB // the greatest
	Gain    survey.DB // at which it does
	From    survey.DB // the gain of the earlier run that was compared with, by their labels; mostly the same
	Gains   int       // figures that differ by too much
	Of      int       // figures that both have
}

// Differs compares a run with earlier ones of the receiver, the newest first: each figure with the newest that
// has it. The last found is of the run that most figures differ from; nil where all agree.
func Differs(run survey.Calibration, earlier []*survey.Calibration) *Difference {
	found := map[*survey.Calibration]*Difference{}
	note := func(before *survey.Calibration, isLevel bool, gain, from, by, most survey.DB) {
		d := found[before]
		if d == nil {
			d = &Difference{Earlier: before, Level: isLevel}
			found[before] = d
		}
		d.Of++
		if size := survey.DB(math.Abs(float64(by))); size > most {
			d.Gains++
			if size > survey.DB(math.Abs(float64(d.By))) {
				d.By, d.Gain, d.From = by, gain, from
			}
		}
	}
	for _, n := range run.Noise {
		if before, m := noiseBefore(n, earlier); m != nil && !n.Rough() {
			limit := most(n.Sigma, m.Sigma)
			if len(before.Droop) == 0 {
				limit += mostOf(run.Droop)
			}
			note(before, false, n.Gain, n.Gain, n.Density.Over(m.Density), limit)
		}
	}
	for _, l := range run.Levels {
		before, m := levelBefore(l, earlier)
		if m == nil || !SameGain(m.Gain, l.Gain) && l.Basis == survey.BasisFigure {
			continue
		}
		limit := most(l.Sigma, m.Sigma)
		if l.Basis != m.Basis { // two sources, each as good as it is
			limit = max(limit, 1.96*combined(Told(l), Told(*m), mismatch, mismatch))
		}
		if !SameGain(m.Gain, l.Gain) {
			limit = max(limit, MostStep)
		}
		note(before, true, l.Gain, m.Gain, survey.DB(l.FullScale-m.FullScale)+l.Gain-m.Gain, limit)
	}
	var worst *Difference
	for _, before := range earlier {
		if d := found[before]; d != nil && d.Gains > 0 && (worst == nil || d.Gains > worst.Gains) {
			worst = d
		}
	}
	return worst
}

// most gives by how much figures with such errors may differ.
func most(a, b survey.DB) survey.DB { return max(mostDifference, 3*combined(a, b)) }

// mostOf gives what filters take off at the most, 0 where that was not measured: figures of before it was measured are lower by
// up to as much.
func mostOf(curve []survey.Droop) (most survey.DB) {
	for _, d := range curve {
		most = max(most, -d.Response)
	}
	return most
}

// noiseBefore gives the newest self-noise that was measured for the same, nil where there is none.
func noiseBefore(n survey.SelfNoise, earlier []*survey.Calibration) (*survey.Calibration, *survey.SelfNoise) {
	for _, run := range earlier {
		for i := range run.Noise {
			if m := &run.Noise[i]; m.Segment == n.Segment && SameGain(m.Gain, n.Gain) && !m.Rough() {
				return run, m
			}
		}
	}
	return nil, nil
}

// levelBefore gives the reference near the frequency whose gain is nearest, of those at one gain the newest; nil where
// there is none. One by a noise figure that was told compares with its like alone: implied noise figures tell the rest.
func levelBefore(l survey.LevelReference, earlier []*survey.Calibration) (of *survey.Calibration, found *survey.LevelReference) {
	away := func(m *survey.LevelReference) survey.DB { return survey.DB(math.Abs(float64(m.Gain - l.Gain))) }
	for _, run := range earlier {
		for i := range run.Levels {
			m := &run.Levels[i]
			if apart(l.Frequency, m.Frequency) <= oneBand && (m.Basis == survey.BasisFigure) == (l.Basis == survey.BasisFigure) && (found == nil || away(m) < away(found)-sameLabel) {
				of, found = run, m
			}
		}
	}
	return of, found
}
