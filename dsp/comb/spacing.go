package comb

import (
	"math"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/stat"
)

// Reach of the search for a spacing's exact value, at the highest multiple.
const (
	refineReach = 2.0  // columns to either side
	refineStep  = 0.1  // columns
	wideLine    = 4.0  // columns from which a line is no narrow one
	wideSkirt   = 3.0  // columns beside a wide line that are still its own
	lineSigma   = 0.55 // columns, standard error of the place of a line that stands one standard deviation over the noise
)

// refineSpacing gives a comb's spacing as exactly as its lines tell, with its standard error.
// Narrow lines stand where they are strongest through the window's response, all
// multiples together; lines of some width where their power's middle lies, for a wobble
// dwells at its ends. width is as Comb.Width, z the evidence in standard deviations.
func (s *combSearch) refineSpacing(spacing, width, z float64) (settled, sigma float64) {
	step := refineStep * s.views[0].width / s.top
	if width*s.top/spacing > wideLine*s.views[0].width {
		settled = s.centroidSpacing(s.centroidSpacing(spacing, width), width)
	} else {
		n := int(refineReach / refineStep)
		power := make([]float64, 2*n+1)
		best := 0
		for k := range power {
			power[k] = s.matchedPower(spacing * (1 + float64(k-n)*step))
			if power[k] > power[best] {
				best = k
			}
		}
		at := float64(best - n)
		if best > 0 && best < len(power)-1 { // the peak of the parabola through three points
			if bend := power[best-1] - 2*power[best] + power[best+1]; bend < 0 {
				at += (power[best-1] - power[best+1]) / (2 * bend)
			}
		}
		settled = spacing * (1 + at*step)
	}
	multiple := 0.0 // root of the mean square over the views
	for _, v := range s.views {
		n := (v.low() + v.high()) / 2 / spacing
		multiple += n * n / float64(len(s.views))
	}
	sigma = lineSigma * s.views[0].width / math.Sqrt(multiple) / max(1, z)
	return settled, max(sigma, width/math.Sqrt(12)/max(1, z))
}

// matchedPower gives the power at the multiples of a spacing through the window's response to a
// line there, noise subtracted. A line counts little where the noise is strong, and no
// more than foreignLine times the middle one: that is a station's.
func (s *combSearch) matchedPower(spacing float64) (sum float64) {
	for _, v := range s.views {
		var heights []float64
		first, last := v.multiples(spacing)
		for n := first; n <= last; n++ {
			at := v.column(float64(n) * spacing)
			b := int(math.Round(at))
			if b < 2 || b+2 >= len(v.power) || v.own[b] {
				continue
			}
			noise, height := v.noiseAt(at), 0.0
			for i := b - 2; i <= b+2; i++ {
				height += fft.HannPower(float64(i)-at) * (float64(v.power[i])/noise - 1)
			}
			heights = append(heights, height)
		}
		sum += sumCapped(heights)
	}
	return sum
}

// sumCapped sums values, none by more than foreignLine times their median and spread.
func sumCapped(x []float64) (sum float64) {
	if len(x) == 0 {
		return 0
	}
	sorted := append([]float64(nil), x...)
	most := stationOverMedian * max(1, stat.Select(sorted, len(sorted)/2))
	for _, v := range x {
		sum += min(v, most)
	}
	return sum
}

// centroidSpacing gives the spacing by which the middles of wide lines stand at its multiples:
// least squares of their frequencies, each weighed by its power over the noise, what
// stands far off the others (a station's) left out.
func (s *combSearch) centroidSpacing(spacing, width float64) float64 {
	var off, weight, multiple []float64 // Hz of the fundamental
	for _, v := range s.views {
		first, last := v.multiples(spacing)
		for n := first; n <= last; n++ {
			at := v.column(float64(n) * spacing)
			reach := math.Abs(float64(n))*width/v.width/2 + wideSkirt
			from, to := int(math.Ceil(at-reach)), int(math.Floor(at+reach))
			if from < 0 || to >= len(v.power) || v.ownAt(int(math.Round(at))) {
				continue
			}
			noise := v.noiseAt(at)
			var power, moment float64
			for i := from; i <= to; i++ {
				over := float64(v.power[i])/noise - 1
				power, moment = power+over, moment+over*(float64(i)-at)
			}
			if away := moment / power; power > 0 && math.Abs(away) < reach {
				off, multiple = append(off, away*v.width/float64(n)), append(multiple, float64(n))
				weight = append(weight, min(power, 100)/float64(to-from+1))
			}
		}
	}
	if len(off) < minLines {
		return spacing
	}
	sorted := append([]float64(nil), off...)
	median := stat.Select(sorted, len(sorted)/2)
	for i, x := range off {
		sorted[i] = math.Abs(x - median)
	}
	spread := 3 * stat.Select(sorted, len(sorted)/2) / 0.6745
	var top, bottom float64
	for i, x := range off {
		if math.Abs(x-median) <= spread {
			w := weight[i] * multiple[i] * multiple[i]
			top, bottom = top+w*x, bottom+w
		}
	}
	return spacing + top/max(bottom, 1e-300)
}
