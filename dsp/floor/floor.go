package floor

import (
	"math"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
)

// A Floor is the noise density of a band with signals set aside.
type Floor struct {
	Density float64 // full-scale units per hertz, the mean over time
	Sigma   float64 // standard error, dB
	Quiet   float64 // density between bursts
}

// pairs gives Σ over frames of |correlation|² of two Hann bins 0, 1, 2, 3 apart,
// frames half overlapping: in the same frame 1, 4/9, 1/36, 0, and twice that
// with a neighbouring frame, (1/6)², (4/9π)²=(0.1415)², (1/12)², (0.0283)².
// Over all distances they sum to 2·1.0556: the noise of N samples, weighed by
// the frames' overlap, holds N/1.0556 independent powers in N/2·2 values.
var pairs = [4]float64{1 + 2.0/36, 4.0/9 + 2*0.02002, 1.0/36 + 2.0/144, 2 * 0.0008}

// meanOfFree averages the columns from…to of each half that are free by the other. free counts
// them, on the average of the halves.
func meanOfFree(a *spectrum.Averages, m *mask, from, to int) (power float64, free int) {
	var sum, weight float64
	for h := range 2 {
		w := float64(max(1, a.Frames[h]))
		for b := from; b < to; b++ {
			if !m.taken[1-h][b] {
				sum += w * a.Halves[h][b]
				weight += w
				free++
			}
		}
	}
	if weight > 0 {
		power = sum / weight
	}
	return power, free / 2
}

// freeVariance is the relative variance of the mean over the free columns of
// stationary noise: pairs of free columns by their distance; where the noise is
// not the same in all of them, mean(p²)/mean(p)² more.
func freeVariance(a *spectrum.Averages, m *mask, from, to int) float64 {
	taken := m.taken[0]
	var n, sum, level, square float64
	for b := from; b < to; b++ {
		if taken[b] {
			continue
		}
		n++
		p := m.noise[0][b]
		level, square = level+p, square+p*p
		sum += pairs[0]
		for d := 1; d < len(pairs) && b+d < to; d++ {
			if !taken[b+d] {
				sum += 2 * pairs[d]
			}
		}
	}
	if n == 0 {
		return math.Inf(1)
	}
	uneven := 1.0
	if level > 0 {
		uneven = n * square / (level * level)
	}
	return uneven * sum / (n * n * float64(a.Total()))
}

// scatterGroups is into how many groups of free columns a band is cut to see
// how much its halves really differ.
const scatterGroups = 32

// inflation tells by how much the variance between the halves exceeds that of
// stationary noise, as where something came and went in a part of the band.
// It is 1 unless the excess is significant.
func inflation(a *spectrum.Averages, m *mask, from, to, free int) float64 {
	groups := min(scatterGroups, free/16)
	if groups < 8 || a.Frames[0] == 0 || a.Frames[1] == 0 {
		return 1
	}
	size := free / groups
	var sum, squares, expected float64
	var d, mean float64
	in, done := 0, 0
	for b := from; b < to && done < groups; b++ {
		if m.taken[0][b] || m.taken[1][b] {
			continue
		}
		d += (a.Halves[0][b] - a.Halves[1][b]) / 2
		mean += (a.Halves[0][b] + a.Halves[1][b]) / 2
		if in++; in == size {
			r := d / mean
			sum, squares, in, d, mean = sum+r, squares+r*r, 0, 0, 0
			done++
		}
	}
	if done < 8 {
		return 1
	}
	n := float64(done)
	expected = 2 * fft.OverlapLoss / (float64(size) * float64(a.Total()))
	ratio := (squares - sum*sum/n) / (n - 1) / expected
	if ratio < 1+3*math.Sqrt(2/(n-1)) {
		return 1
	}
	return ratio
}
