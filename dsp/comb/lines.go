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
	beside   float64 // what stands beside it, over the calm floor
	variance float64
	noise    float64 // in one column
}

// stationOverMedian is how far a line stands over the comb's median line where it is a
// station's: 7 dB.
const stationOverMedian = 5

// Lines measures by force the lines of a comb known from elsewhere: their mean power in
// full-scale units, noise subtracted (it may be negative), with its standard error, and
// the number of multiples that it rests on. 0 lines: none is in view, or all are taken by
// signals; the others are then 0.
//
// A line's power is that of the columns it fills, less the local noise, over the
// window's noise bandwidth: Σ|H|² over the columns of a transform is its ENBW.
// Multiples at which a much stronger line stands are a station's and left out.
func (v *View) Lines(c Comb) (power, sigma float64, lines int) {
	all := v.combLines(c)
	if len(all) == 0 {
		return 0, 0, 0
	}
	var sum, variance, weights float64
	for _, l := range all {
		w := l.weight()
		sum, variance, weights = sum+w*l.power, variance+w*w*l.variance, weights+w
	}
	mean, scatter := sum/weights, 0.0
	for _, l := range all {
		w := l.weight() * (l.power - mean)
		scatter += w * w
	}
	// What the lines scatter beyond their noise is the comb's colour, or what stands there
	// besides: it counts, for the two cannot be told apart.
	return mean, math.Sqrt(max(variance, scatter)) / weights, len(all)
}

// weight gives how much a line counts in the mean: little where a station's sidebands
// are about it.
func (l combLine) weight() float64 { return 1 / (l.noise * l.noise) }

// strength gives the mean power of a comb's lines over the floor in one resolution,
// and the number of lines.
func (v *View) strength(c Comb) (over float64, lines int) {
	weights := 0.0
	for _, l := range v.combLines(c) {
		over += l.weight() * l.power / v.lowerFloor(l.at)
		weights += l.weight()
		lines++
	}
	if lines == 0 {
		return 0, 0
	}
	return over / weights, lines
}

// lineEdges gives how far a comb's lines reach below and above its multiples, Hz of one
// multiple, 0 both for lines narrower than a column: the stack of all multiples is followed
// outwards for as long as it stands over the noise.
func (v *View) lineEdges(spacing float64) (below, above float64) {
	first, last := v.multiples(spacing)
	square := 0.0
	for n := first; n <= last; n++ {
		square += float64(n) * float64(n)
	}
	if square == 0 {
		return 0, 0
	}
	unit := v.width / math.Sqrt(square/float64(last-first+1)) // a column at the middle multiple
	most := int(spacing / v.width * maxLineShare)
	return unit * float64(v.stackReach(spacing, -1, most)), unit * float64(v.stackReach(spacing, +1, most))
}

// maxLineShare is how much of the room between two lines one may fill on either side.
const maxLineShare = 0.4

// stackReach gives the columns beyond the next that the stack of lines fills on one side. A
// wobble dwells at its ends: two columns' gap is bridged.
func (v *View) stackReach(spacing float64, side, most int) (reach int) {
	first, last := v.multiples(spacing)
	gap := 0
	for d := 2; d <= most && gap <= 2; d++ {
		var ring []float32
		for k := first; k <= last; k++ {
			if i := int(math.Round(v.column(float64(k)*spacing))) + side*d; i >= 0 && i < len(v.power) {
				ring = append(ring, v.power[i]/float32(v.lowerFloor(float64(i))))
			}
		}
		if len(ring) == 0 {
			break
		}
		// The lower quartile, for stations stand about some of the lines; it scatters 1.36
		// times as much as a mean.
		over := float64(stat.Select(ring, len(ring)/4))/stat.NoiseQuantile(v.looks, -0.6745) - 1
		if over < widthSigmas*1.36/math.Sqrt(v.looks*float64(len(ring))) {
			gap++
			continue
		}
		gap, reach = 0, d-1
	}
	return reach
}

// widthSigmas is how many standard errors the stack of lines must stand over the noise.
const widthSigmas = 3.0

// combLines measures the multiples of a comb in view that are its own: not those about
// which a station's sidebands stand, more than about the comb's calmer multiples, nor those
// at which a much stronger line does.
func (v *View) combLines(c Comb) []combLine {
	var all []combLine
	first, last := v.multiples(c.Spacing)
	for n := first; n <= last; n++ {
		at, wide := v.column(float64(n)*c.Spacing), math.Abs(float64(n))*c.Width/v.width
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
		return l.power > stationOverMedian*max(median, 3*math.Sqrt(l.variance))
	})
}

// maxBeside is how much more may stand beside a line than beside the comb's calmer ones:
// 1.5 dB.
const maxBeside = 1.41

// beside gives the mean power from 400 Hz to 2.5 kHz beyond a line at column b, half of
// which is so many columns wide, on the side that has less of it: there the sidebands of
// speech and music are strongest.
func (v *View) beside(b int, half float64) float64 {
	return v.besideWithin(b, int(math.Ceil(half+400/v.width)), int(math.Ceil(half+2500/v.width)))
}

// besideWithin gives the mean power from near to far columns beyond column b, on the side that
// has less of it.
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

// lineAt measures what stands in the columns about at, over width columns and the
// window's main lobe.
func (v *View) lineAt(at, width float64) (combLine, bool) {
	reach := max(width/2, 0) + 1.5
	from, to := int(math.Ceil(at-reach)), int(math.Floor(at+reach))
	if from < 0 || to >= len(v.power) || v.ownAt(int(math.Round(at))) {
		return combLine{}, false
	}
	noise, columns := v.noiseBeside(from-1, to+1)
	if width > noiseBlock/4 { // it would be its own noise
		noise, columns = v.lowerFloor(at), noiseBlock
	}
	sum, response := 0.0, 0.0
	for i := from; i <= to; i++ {
		sum += float64(v.power[i])
		response += fft.HannPower(float64(i) - at)
	}
	if width > 1 {
		response = v.enbw
	}
	n := float64(to - from + 1)
	over := (sum - n*noise) / response
	// Noise with itself, and with the line [as PowerSpectrum.Line]; and of what it is taken
	// by, whose medians scatter by √(π/2) of means.
	own := n * noise * noise * fft.BinExcess / v.looks
	beside := n * n * noise * noise * math.Pi / 2 * fft.BinExcess / (v.looks * float64(columns))
	cross := 2 * max(0, over) * noise * response / v.looks
	return combLine{at: at, power: over, variance: (own + beside + cross) / (response * response), noise: noise}, columns > 0 && noise > 0
}

// besideColumns are the columns on either side of a line by which its noise is taken: near
// enough that sidebands of stations rise and fall straight over them. It is odd, for the
// median.
const besideColumns = 13

// noiseBeside gives the power of the noise in one column between columns from and to, by
// what stands below the one and above the other, and the number of columns that it rests on.
func (v *View) noiseBeside(from, to int) (noise float64, columns int) {
	for _, low := range [2]int{from - besideColumns, to + 1} {
		if low < 0 || low+besideColumns > len(v.power) {
			continue
		}
		var some [besideColumns]float32
		copy(some[:], v.power[low:])
		noise += float64(stat.Select(some[:], besideColumns/2))
		columns += besideColumns
	}
	return noise / float64(max(1, columns/besideColumns)) / stat.NoiseQuantile(v.looks, 0), columns
}
