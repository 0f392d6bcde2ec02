package pair

// A fit is the model of a pair while it is being found.
type fit struct {
	alpha    float64
	cells    []cell     // that were measured, by round and carrier
	carriers []marginal // difference and level of each
	rounds   []marginal // shift and lift of each; their means are 0
	present  int        // rounds in which anything was measured

	// Variances, dB²: of the difference in a cell, of the carriers' differences, of shifts, of levels
	// in a cell.
	scatter, across, shifting, fading float64
}

// A marginal is what the cells of a carrier, or of a round, have in common.
type marginal struct {
	diff, level   float64 // dB
	measured      int     // cells
	weight, total float64 // sums over its cells
	pull          float64 // dB that a weight of 1 here moves the advantage by
}

// A cell is one carrier in one round, and what the model says of it now.
type cell struct {
	carrier, round *marginal
	index          int // of the carrier
	sides          [2]side
	diff, vDiff    float64 // dB, dB²: difference of both levels, and its variance by the model
	mean, vMean    float64 // the same of their mean
	both           float64 // dB², covariance of difference and mean
	there          float64 // chance that the station was on the air
	regular        float64 // chance that the difference does not stray
	info           float64 // share of the difference that was measured; the rest is the model's
	value          float64 // dB, the difference by what was measured alone
	weight         float64 // 1 of a strong cell that does not stray
}

// strong tells whether both levels are.
func (x *cell) strong() bool { return x.sides[0].strong && x.sides[1].strong }

func (x *cell) ofCarrier() *marginal { return x.carrier }
func (x *cell) ofRound() *marginal   { return x.round }

// newFit gathers the cells that were measured.
func newFit(cells [][]Cell, alpha float64) *fit {
	f := &fit{alpha: alpha, rounds: make([]marginal, len(cells))}
	if len(cells) > 0 {
		f.carriers = make([]marginal, len(cells[0]))
		f.cells = make([]cell, 0, len(cells)*len(cells[0]))
	}
	for n, row := range cells {
		for c, from := range row {
			if !from.Measured || !from.First.finite() || !from.Second.finite() {
				continue
			}
			x := cell{carrier: &f.carriers[c], round: &f.rounds[n], index: c, there: 1, info: 1}
			x.sides = [2]side{newSide(from.First, alpha), newSide(from.Second, alpha)}
			if x.strong() {
				a, b := x.sides[0].known.mean(), x.sides[1].known.mean()
				x.diff, x.mean = a-b, (a+b)/2
			}
			f.cells = append(f.cells, x)
			x.carrier.measured++
			if x.round.measured++; x.round.measured == 1 {
				f.present++
			}
		}
	}
	return f
}
