package rank

import (
	"cmp"

	"gonum.org/v1/gonum/floats"

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

// halves gives what changes at half time did, nil where nothing changed: of all rounds, setups as they are ranked.
func (r *ranking) halves(c *comparison, setups []result.RankSetup) (all []result.Halves) {
	if c.ref < 0 {
		return nil
	}
	for _, change := range r.changes {
		var splits [figureKinds][]*halves.Split // by setup
		var weights [figureKinds]series.Weights
		for k := range r.matrix.Setups {
			for figure, values := range c.figures(k) {
				splits[figure] = append(splits[figure], change.Split(values))
			}
		}
		for figure, of := range splits {
			weights[figure] = halves.Pool(of)
		}
		h := result.Halves{Changed: change.Part.Key, First: change.States[0], Second: change.States[1], RoundsFirst: change.Rounds(0), RoundsSecond: change.Rounds(1)}
		for _, ranked := range setups {
			k := c.index(ranked)
			mean := func(figure int, first, second float64) *result.Estimate {
				return c.estimate(splits[figure][k].Mean(weights[figure], first, second))
			}
			x := result.HalvesSetup{Setup: ranked.Setup, First: mean(advantageFigure, 1, 0), Second: mean(advantageFigure, 0, 1), Advantage: mean(advantageFigure, -1, 1),
				Signal: mean(signalFigure, -1, 1), Floor: mean(floorFigure, -1, 1), OwnFloor: mean(ownFloorFigure, -1, 1)}
			if change.Part.Key == survey.KeyFeedLines && r.exchanged(k) {
				x.Antennas, x.Lines = mean(advantageFigure, 0.5, 0.5), mean(advantageFigure, 0.5, -0.5)
			}
			h.Setups = append(h.Setups, x)
		}
		all = append(all, h)
	}
	return all
}

// figures gives the figures of a setup by round, with the states of the noise sources that it shares with the reference as
// strata; those that are not known have no values.
func (c *comparison) figures(k int) (of [figureKinds]series.Series) {
	own := series.Series{Times: c.times(), Stratum: make([]int, len(c.rounds))}
	if !c.mostlyLimited(k) {
		own.Values = pick(c.states.Floors[k], c.rounds)
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
		if !r.controls[s] {
			lines[line(s)] = true
		}
	}
	own, ref := r.matrix.Setups[k], r.matrix.Setups[r.ref]
	return len(lines) == 2 && !r.controls[own] && !r.controls[ref] && line(own) != line(ref)
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
