package dsp

import (
	"math"
	"slices"
)

// A combLine is what stands at one multiple.
type combLine struct {
	at       float64 // column
	power    float64 // full-scale units, noise subtracted
	variance float64
	noise    float64 // in one column
}

// foreignLine is how far a line stands over the comb's median line where it is a
// station's: 7 dB.
const foreignLine = 5

// Lines measures by force the lines of a comb known from elsewhere: their mean power in
// full-scale units, noise subtracted (it may be negative), with its standard error, and
// the number of multiples that it rests on. 0 lines: none is in view, or all are taken by
// signals; the others are then 0.
//
// A line's power is that of the columns it fills, less the local noise, over the
// window's noise bandwidth: Σ|H|² over the columns of a transform is its ENBW.
// Multiples at which a much stronger line stands are a station's and left out.
func (v *CombView) Lines(c Comb) (power, sigma float64, lines int) {
	all := v.combLines(c)
	if len(all) == 0 {
		return 0, 0, 0
	}
	var sum, variance, weights float64
	for _, l := range all {
		w := l.weight()
		sum, variance, weights = sum+w*l.power, variance+w*w*l.variance, weights+w
	}
	// The lines differ; what they scatter beyond their noise is theirs and no error of
	// this comb's power, which is that of these very lines.
	return sum / weights, math.Sqrt(variance) / weights, len(all)
}

// weight gives how much a line counts in the mean: little where a station's sidebands
// are about it.
func (l combLine) weight() float64 { return 1 / (l.noise * l.noise) }

// strength gives the mean power of a comb's lines over the floor in one resolution,
// and the number of lines. The floor about a line is the lower quartile of the noise
// within 50 kHz, where sidebands do not raise it.
func (v *CombView) strength(c Comb) (over float64, lines int) {
	const about = 50e3
	reach := max(1, int(about/v.width/noiseBlock))
	var some []float32
	weights := 0.0
	for _, l := range v.combLines(c) {
		k := int(l.at / noiseBlock)
		some = append(some[:0], v.noise[max(0, k-reach):min(len(v.noise), k+reach+1)]...)
		over += l.weight() * l.power / float64(selected(some, len(some)/4))
		weights += l.weight()
		lines++
	}
	if lines == 0 {
		return 0, 0
	}
	return over / weights, lines
}

// lineWidth gives how wide a comb's lines are in view, as Comb.Width has it: the stack of
// all multiples is followed outwards for as long as it stands over the noise.
func (v *CombView) lineWidth(spacing float64) float64 {
	first, last := v.multiples(spacing)
	most := int(spacing / v.width / 4)
	n := float64(max(1, last-first+1))
	reach := 1
	for ; reach < most; reach++ {
		var ring []float32
		for k := first; k <= last; k++ {
			b := int(math.Round(v.column(float64(k) * spacing)))
			for _, i := range [2]int{b - reach - 1, b + reach + 1} {
				if i >= 0 && i < len(v.power) {
					ring = append(ring, v.power[i]/float32(v.noiseAt(float64(i))))
				}
			}
		}
		if len(ring) == 0 {
			break
		}
		// A median scatters √(π/2) times as much as a mean.
		over := float64(selected(ring, len(ring)/2))/exceeded(v.looks, 0) - 1
		if over < widthSure*math.Sqrt(math.Pi/2/(v.looks*2*n)) {
			break
		}
	}
	if reach == 1 {
		return 0
	}
	return 2 * float64(reach-1) * v.width / (float64(first+last) / 2)
}

// widthSure is how many standard errors the stack of lines must stand over the noise.
const widthSure = 2.5

// combLines measures the multiples of a comb in view that are its own.
func (v *CombView) combLines(c Comb) []combLine {
	var all []combLine
	first, last := v.multiples(c.Spacing)
	for n := first; n <= last; n++ {
		at := v.column(float64(n) * c.Spacing)
		if l, ok := v.lineAt(at, float64(n)*c.Width/v.width); ok {
			all = append(all, l)
		}
	}
	powers := make([]float64, len(all))
	for i, l := range all {
		powers[i] = l.power
	}
	if len(all) == 0 {
		return nil
	}
	slices.Sort(powers)
	median := powers[(len(powers)-1)/2]
	return slices.DeleteFunc(all, func(l combLine) bool {
		return l.power > foreignLine*max(median, 3*math.Sqrt(l.variance))
	})
}

// lineAt measures what stands in the columns about at, over width columns and the
// window's main lobe.
func (v *CombView) lineAt(at, width float64) (combLine, bool) {
	reach := max(width/2, 0) + 1.5
	from, to := int(math.Ceil(at-reach)), int(math.Floor(at+reach))
	if from < 0 || to >= len(v.power) || v.ownAt(int(math.Round(at))) {
		return combLine{}, false
	}
	noise := v.noiseAt(at)
	var sum float64
	for _, p := range v.power[from : to+1] {
		sum += float64(p)
	}
	n := float64(to - from + 1)
	over := (sum - n*noise) / v.enbw
	// Noise with itself, and with the line [as PowerSpectrum.Line].
	own := n * noise * noise * binCorrelation / v.looks
	cross := 2 * max(0, over) * noise * v.enbw / v.looks
	return combLine{at: at, power: over, variance: (own + cross) / (v.enbw * v.enbw), noise: noise}, noise > 0
}
