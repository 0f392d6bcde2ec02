package comb

import (
	"math"
	"slices"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/stat"
)

// A combLine is what stands at one multiple.
type combLine struct {
	at       float64 // column
	power    float64 // full-scale units, noise subtracted
	beside   float64 // density beside it, over the lower floor
	variance float64 // of power where nothing stands
	cross    float64 // what a line adds to the variance, over its power: noise times line
	noise    float64 // in one column, beside it
	around   float64 // likewise, about it
}

// stationOverMedian is the power over the comb's median line from which a line counts as a
// station's or another comb's: 7 dB, a decibel more than the window in which a comb's levels
// lie; over nothing, as many standard errors. Chosen; METHODS.md 12.10, TestCombsInIQ,
// TestForcedBesideAnotherComb.
const stationOverMedian = 5

// Lines measures the lines of a known comb, found in this view or not: their mean power in
// full-scale units, noise subtracted (it may be negative), its standard error, and the
// number of multiples it rests on. Without any free multiple in view all three are 0.
//
// A line's power is that of the columns it fills, less the local noise, over the sum of
// the window's power response at those columns, which is the noise bandwidth where the
// line is wide [Harris:1978, eq. 11]. METHODS.md 12.10.
func (v *View) Lines(c Comb) (power, sigma float64, lines int) {
	all := v.combLines(c)
	if len(all) == 0 {
		return 0, 0, 0
	}
	var sum, weights float64
	for _, l := range all {
		sum, weights = sum+l.weight()*l.power, weights+l.weight()
	}
	mean, variance, scatter := sum/weights, 0.0, 0.0
	for _, l := range all {
		w := l.weight() * l.weight()
		variance += w * (l.variance + l.cross*max(0, mean))
		scatter += w * (l.power - mean) * (l.power - mean)
	}
	scatter *= float64(len(all)) / float64(max(1, len(all)-1))
	// Lines that scatter more than their noise have unequal levels, or something else
	// stands at some of them. The two cannot be told apart, so that the scatter counts.
	return mean, math.Sqrt(max(variance, scatter)) / weights, len(all)
}

// weight gives a line's weight in the mean, small where a station's sidebands raise the
// noise. It goes by the noise about the line, in which the line's columns count as much as
// those beside: by the noise that is subtracted, lines whose noise came out too low would
// weigh more, and nothing would read as power. TestForcedOnNothing.
func (l combLine) weight() float64 { return 1 / (l.around * l.around) }

// strength gives the mean power of a comb's lines over the floor in one resolution,
// and the number of lines.
func (v *View) strength(c Comb) (over float64, lines int) {
	all, weights := v.combLines(c), 0.0
	for _, l := range all {
		over += l.weight() * l.power / v.lowerFloor(l.at)
		weights += l.weight()
	}
	if len(all) == 0 {
		return 0, 0
	}
	return over / weights, len(all)
}

// lineEdges gives how far a comb's lines reach below and above its multiples, in Hz of the
// first multiple, 0 both for lines narrower than a column. The spectra about all multiples
// are stacked, and the stack is followed outwards while it stands over the noise.
func (v *View) lineEdges(spacing float64) (below, above float64) {
	square, lines := 0.0, 0.0
	for n := range v.multiplesOf(spacing) {
		square, lines = square+float64(n)*float64(n), lines+1
	}
	if square == 0 {
		return 0, 0
	}
	unit := v.width / math.Sqrt(square/lines) // a column at the rms multiple
	return unit * float64(v.stackReach(spacing, -1)), unit * float64(v.stackReach(spacing, +1))
}

// stackReach gives how many columns beyond the first the stack of lines fills on one side.
// A line that wobbles spends most of its time at the ends, so that gaps of two columns are
// bridged.
func (v *View) stackReach(spacing float64, side int) (reach int) {
	gap := 0
	for d := 2; gap <= 2; d++ {
		var ring []float32
		for _, at := range v.multiplesOf(spacing) {
			if i := int(math.Round(at)) + side*d; i >= 0 && i < len(v.power) {
				ring = append(ring, v.power[i]/float32(v.lowerFloor(float64(i))))
			}
		}
		if len(ring) == 0 {
			break
		}
		// The lower quartile, for stations stand at some of the lines.
		over := float64(stat.Select(ring, len(ring)/4))/stat.NoiseQuantile(v.looks, -stat.NormalQuartile) - 1
		if over < widthSigmas*stat.QuartileScatter/math.Sqrt(v.looks*float64(len(ring))) {
			gap++
			continue
		}
		gap, reach = 0, d-1
	}
	return reach
}

// widthSigmas is the number of standard errors by which the stack must stand over the noise
// to count as part of the line; noise passes one column in 700. Chosen; TestWidthOfFaintLines.
const widthSigmas = 3.0

// combLines measures a comb's multiples in view and leaves out those of stations: where
// more stands beside the line than beside the quieter 30 % of the lines, by maxBeside, on the
// flank of sidebands, and where a line stands stationOverMedian over the median.
func (v *View) combLines(c Comb) []combLine {
	var all []combLine
	for n, at := range v.multiplesOf(c.Spacing) {
		wide := math.Abs(float64(n)) * c.Width / v.width
		l, ok := v.lineAt(at, wide)
		if !ok {
			continue
		}
		l.beside = v.beside(int(math.Round(at)), wide/2) / v.lowerFloor(at)
		all = append(all, l)
	}
	if len(all) == 0 {
		return nil
	}
	figures := make([]float64, len(all))
	for i, l := range all {
		figures[i] = l.beside
	}
	beside := stat.Select(figures, len(figures)*3/10)
	all = slices.DeleteFunc(all, func(l combLine) bool { return l.beside > maxBeside*max(1, beside) })
	figures = figures[:0]
	for _, l := range all {
		figures = append(figures, l.power)
	}
	if len(all) == 0 {
		return nil
	}
	median := stat.Select(figures, (len(figures)-1)/2)
	return slices.DeleteFunc(all, func(l combLine) bool {
		return l.power > stationOverMedian*max(median, math.Sqrt(l.variance))
	})
}

// maxBeside is the density beside a line over that beside the comb's quieter lines, or on its
// other side, from which a station's sidebands are assumed: 1.5 dB. Chosen; METHODS.md 12.10,
// TestLinesByStations, TestForcedOnNothing.
const maxBeside = 1.41

// beside gives the mean power in the columns from 400 Hz to 2.5 kHz beyond the edge of a
// line at column b, on the side that has less of it; half is half the line's width in
// columns. There the sidebands of speech and music are strongest.
func (v *View) beside(b int, half float64) float64 {
	return v.besideWithin(b, int(math.Ceil(half+400/v.width)), int(math.Ceil(half+2500/v.width)))
}

// besideWithin gives the mean power from near to far columns beyond column b, on the side
// that has less of it.
func (v *View) besideWithin(b, near, far int) float64 {
	mean := func(from, to int) float64 {
		from, to = max(0, from), min(len(v.power), to)
		if from >= to {
			return math.Inf(1)
		}
		sum := 0.0
		for _, p := range v.power[from:to] {
			sum += float64(p)
		}
		return sum / float64(to-from)
	}
	return min(mean(b-far, b-near), mean(b+near, b+far))
}

// lineAt measures a line at a column, width columns wide, over its width and the window's
// main lobe. It reports false where the line is not wholly in view, is the receiver's own, or
// has no even noise beside it.
func (v *View) lineAt(at, width float64) (combLine, bool) {
	reach := max(width/2, 0) + 1.5
	from, to := int(math.Ceil(at-reach)), int(math.Floor(at+reach))
	if from < 0 || to >= len(v.power) || v.ownAt(int(math.Round(at))) {
		return combLine{}, false
	}
	noise, columns := v.noiseBeside(from-1, to+1)
	sum, response := 0.0, 0.0
	for i := from; i <= to; i++ {
		sum += float64(v.power[i])
		response += fft.HannPower(float64(i) - at)
	}
	if width > 1 {
		response = v.enbw
	}
	n := float64(to - from + 1)
	// Variances as in METHODS.md 7.1: of the noise itself, in which the outermost columns have
	// fewer neighbours, of the noise subtracted, whose medians have π/2 times the variance of
	// means [Mosteller:1946, pp. 377-408], and of noise times line.
	own := (n*fft.BinExcess - 1) * noise * noise / v.looks
	beside := n * n * noise * noise * math.Pi / 2 * fft.BinExcess / (v.looks * float64(columns))
	return combLine{at: at, power: (sum - n*noise) / response, variance: (own + beside) / (response * response),
		cross: 2 * noise / (response * v.looks), noise: noise, around: v.noiseAt(at)}, columns > 0 && noise > 0
}

// besideColumns is the number of columns on either side of a line whose median is its
// noise: few, so that a station's sidebands are nearly straight over them, and odd for the
// median. TestCombLinesByForce.
const besideColumns = 13

// noiseBeside gives the noise in one column between columns from and to, by the columns
// below the one and above the other, and the number of columns that it rests on: 0 where the
// two sides differ by maxBeside and more than noise does. The geometric mean follows sidebands, which fall by so many
// decibels, and makes up for the median of few, which stands over that of many
// (METHODS.md 12.10).
func (v *View) noiseBeside(from, to int) (noise float64, columns int) {
	sides := make([]float64, 0, 2)
	for _, low := range [2]int{from - besideColumns, to + 1} {
		if low < 0 || low+besideColumns > len(v.power) {
			continue
		}
		var some [besideColumns]float32
		copy(some[:], v.power[low:])
		sides = append(sides, float64(stat.Select(some[:], besideColumns/2))/stat.NoiseQuantile(v.looks, 0))
	}
	uneven := max(maxBeside, 1+3*math.Sqrt(math.Pi*fft.BinExcess/(besideColumns*v.looks))) // three standard errors
	if len(sides) == 0 || slices.Max(sides) > uneven*slices.Min(sides) {
		return 0, 0
	}
	return math.Sqrt(sides[0] * sides[len(sides)-1]), besideColumns * len(sides)
}
