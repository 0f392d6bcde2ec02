package rank

import (
	"cmp"

	"gonum.org/v1/gonum/floats"

	"nightfloor/reports/doubt"
	"nightfloor/reports/halves"
	"nightfloor/reports/result"
	"nightfloor/reports/series"
	"nightfloor/survey"
)

// Figures of setups that are compared between halves.
const (
	advantageFigure = iota
	signalFigure
	floorFigure
	ownFloorFigure
	figureKinds
)

// addHalves adds what changes at half time did, over all rounds.
func (r *ranking) addHalves(s *result.RankSegment) {
	if r.ref < 0 {
		return
	}
	other := doubt.New(doubt.OtherStates)
	for _, change := range r.changes {
		h := result.Halves{Changed: change.Part.Key, First: change.States[0], Second: change.States[1], RoundsFirst: change.Rounds(0), RoundsSecond: change.Rounds(1)}
		changed := r.splitAll(change)
		for _, ranked := range s.Setups {
			k := r.whole.index(ranked)
			x := changed.setup(r.whole, k)
			if x.Setup = ranked.Setup; change.Part.Key == survey.KeyFeedLines && r.exchanged(k) {
				x.Antennas, x.Lines = changed.mean(r.whole, advantageFigure, k, 0.5, 0.5), changed.mean(r.whole, advantageFigure, k, 0.5, -0.5)
			}
			if split := changed.splits[advantageFigure][k]; split != nil && !split.Alike {
				other.About = append(other.About, ranked.Setup)
			}
			h.Setups = append(h.Setups, x)
		}
		s.Halves = append(s.Halves, h)
	}
	if len(other.About) > 0 {
		s.Doubts = append(s.Doubts, other)
	}
}

// changedFigures are figures of all setups, split by a change.
type changedFigures struct {
	splits  [figureKinds][]*halves.Split // by setup; nil: not known
	weights [figureKinds]series.Weights
}

func (r *ranking) splitAll(change halves.Change) (of changedFigures) {
	for k := range r.matrix.Setups {
		for figure, values := range r.whole.figures(k, r.floors[k]) {
			of.splits[figure] = append(of.splits[figure], change.Split(values))
		}
	}
	for figure, splits := range of.splits {
		of.weights[figure] = halves.Pool(splits)
	}
	return of
}

// mean gives the means of both sides of a figure of setup k, each times its weight.
func (f *changedFigures) mean(c *comparison, figure, k int, first, second float64) *result.Estimate {
	return c.estimate(f.splits[figure][k].Mean(f.weights[figure], first, second))
}

// setup gives what a change did to setup k.
func (f *changedFigures) setup(c *comparison, k int) result.HalvesSetup {
	by := func(figure int) *result.Estimate { return f.mean(c, figure, k, -1, 1) }
	return result.HalvesSetup{First: f.mean(c, advantageFigure, k, 1, 0), Second: f.mean(c, advantageFigure, k, 0, 1),
		Advantage: by(advantageFigure), Signal: by(signalFigure), Floor: by(floorFigure), OwnFloor: by(ownFloorFigure)}
}

// figures gives the figures of a setup by round, of which these are its floors, with the states of the noise sources that it shares with the reference as
// strata; those that are not known have no values.
func (c *comparison) figures(k int, floors []float64) (of [figureKinds]series.Series) {
	own := series.Series{Times: c.times(), Stratum: make([]int, len(c.rounds))}
	if c.controls[c.matrix.Setups[k]] || !c.mostlyLimited(k) { // of a control own noise is no bound
		own.Values = pick(floors, c.rounds)
		of[ownFloorFigure] = own
	}
	p := c.pairs[[2]int{k, c.ref}]
	if p == nil || p.fit == nil {
		return of
	}
	states := pick(p.strata.Stratum, c.rounds)
	of[advantageFigure] = p.values
	of[advantageFigure].Stratum = states
	if p.floors.fit != nil {
		of[floorFigure] = p.floors.values
		of[floorFigure].Stratum = states
		of[signalFigure] = of[floorFigure]
		signal := make([]float64, len(p.values.Values))
		for i, advantage := range p.values.Values {
			signal[i] = advantage + p.floors.values.Values[i]
		}
		of[signalFigure].Values = signal
	}
	return of
}

// exchanged tells whether a setup and the reference are on two lines, and there are no others, so that
// crossing the lines exchanged those of the two.
func (r *ranking) exchanged(k int) bool {
	line := func(s survey.Setup) survey.Setup {
		return survey.Setup{Antenna: cmp.Or(s.State.Antenna, s.Antenna), Placement: s.Placement}
	}
	lines := map[survey.Setup]bool{}
	for _, s := range r.matrix.Setups {
		if !r.apart[s] {
			lines[line(s)] = true
		}
	}
	own, ref := r.matrix.Setups[k], r.matrix.Setups[r.ref]
	return len(lines) == 2 && !r.apart[own] && !r.apart[ref] && line(own) != line(ref)
}

// estimate gives a mean with its interval, nil where it is not known.
func (c *comparison) estimate(m *series.Mixture) *result.Estimate {
	if m == nil || m.Rounds == 0 {
		return nil
	}
	e := &result.Estimate{DB: result.DB(m.Mean)}
	if low, high, ok := m.Interval(); ok && !c.slow {
		e.Low, e.High = result.DB(low), result.DB(high)
	}
	return e
}

// strataOf gives the strata of a pair's rounds: states of the noise sources, each in one wiring, so that what a change
// of the wiring does is no scatter of rounds.
func (c *comparison) strataOf(p *pairing) []int {
	strata := make([]int, len(c.rounds))
	for i, n := range c.rounds {
		if strata[i] = p.strata.Stratum[n]; strata[i] >= 0 {
			strata[i] = c.wirings*strata[i] + c.wired[n]
		}
	}
	return strata
}

// weightsOf parts the weights of states among their wirings, by rounds.
func (p *pairing) weightsOf(states []float64) []float64 {
	rounds := make([]float64, p.wirings*len(states))
	for _, stratum := range p.values.Stratum {
		if stratum >= 0 {
			rounds[stratum]++
		}
	}
	weights := make([]float64, len(rounds))
	for state, weight := range states {
		of := rounds[p.wirings*state : p.wirings*(state+1)]
		for w, n := range of {
			weights[p.wirings*state+w] = weight * n / max(1, floats.Sum(of))
		}
	}
	return weights
}

// inState gives the strata of a state of the noise sources.
func (p *pairing) inState(state int) (strata []int) {
	for w := range p.wirings {
		strata = append(strata, p.wirings*state+w)
	}
	return strata
}
