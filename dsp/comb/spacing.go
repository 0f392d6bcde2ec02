package comb

import (
	"math"
	"slices"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/stat"
)

// Refinement of a spacing, in columns at the highest multiple. METHODS.md 12.9;
// TestCombsInIQ.
const (
	refineReach = 2.0  // on either side, twice the scan's error with drift; chosen (TestRefinementsReach)
	refineStep  = 0.1  // a fifth of lineSigma
	wideLine    = 4.0  // of a line that has a centroid rather than a peak; chosen (TestSpacingOfWideLines)
	wideSkirt   = 3.0  // on either side of a wide line that belong to it: Hann's main lobe and half a column (TestCentroidOfAWideLine)
	lineSigma   = 0.55 // standard error of a line's place where it stands one standard deviation over the noise; simulated
)

// refineSpacing gives a comb's spacing and its standard error. For narrow lines it is the
// spacing with the greatest power at the multiples, matched to the window's response; for
// wide lines that of the lines' centroids, since a line that wobbles is strongest at the
// ends. width is as Comb.Width, z the evidence in standard deviations.
func (s *combSearch) refineSpacing(spacing, width, z float64) (refined, sigma float64) {
	step := refineStep * s.views[0].width / s.top
	if width*s.top/spacing > wideLine*s.views[0].width {
		refined = s.centroidSpacing(s.centroidSpacing(spacing, width), width)
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
		if best > 0 && best < len(power)-1 {
			at += stat.Vertex(power[best-1], power[best], power[best+1])
		}
		refined = spacing * (1 + at*step)
	}
	multiple := 0.0 // root of the mean square over the views
	for _, v := range s.views {
		n := (v.low() + v.high()) / 2 / spacing
		multiple += n * n / float64(len(s.views))
	}
	sigma = lineSigma * s.views[0].width / math.Sqrt(multiple) / max(1, z)
	return refined, max(sigma, width/math.Sqrt(12)/max(1, z))
}

// matchedPower gives the power over the noise at the multiples of a spacing, through the
// filter matched to the window's response [North:1963, pp. 1016-1027]. No line counts more
// than stationOverMedian times the median one, or the noise if that is more.
func (s *combSearch) matchedPower(spacing float64) (sum float64) {
	for _, v := range s.views {
		var heights []float64
		for _, at := range v.multiplesOf(spacing) {
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
		if len(heights) == 0 {
			continue
		}
		most := stationOverMedian * max(1, stat.Select(slices.Clone(heights), len(heights)/2))
		for _, h := range heights {
			sum += min(h, most)
		}
	}
	return sum
}

// centroidSpacing gives the spacing at whose multiples the centroids of wide lines stand,
// by weighted least squares. A line weighs by its power over the noise; lines whose
// centroids are three spreads off the others, which are stations, are left out.
func (s *combSearch) centroidSpacing(spacing, width float64) float64 {
	var off, weight, multiple []float64 // Hz of the fundamental
	for _, v := range s.views {
		for n, at := range v.multiplesOf(spacing) {
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
	median, spread := stat.MedianSpread(slices.Clone(off))
	var top, bottom float64
	for i, x := range off {
		if math.Abs(x-median) <= 3*spread {
			w := weight[i] * multiple[i] * multiple[i]
			top, bottom = top+w*x, bottom+w
		}
	}
	return spacing + top/max(bottom, 1e-300)
}
