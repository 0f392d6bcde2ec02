package dsp

import "math"

// evenness corrects a floor for the frames' uneven hold on time. Hann windows
// half overlapping weigh a moment's power by 1 ± 1/3, twice a frame: bursts that
// come nearly as often (100 a second against frames every 10 ms) would read a
// few percent high or low for half a second. How the power really went is known
// from the envelope of free channels.
type evenness struct {
	even, weighed float64 // Σ of power by time, and by the frames' weights
	moments       float64
	weight        float64 // Σ of the weights
	ripple        float64 // Σ of (weight/mean − 1)²
	blocks        float64 // of about a millisecond
	block, square float64 // Σ of their mean powers, and of the squares
	size          int     // moments in a block
}

// hannSquareMean is the mean over time of the sum of squares of half-overlapping
// Hann windows: sin⁴ + cos⁴.
const hannSquareMean = 0.75

// add takes in the power of free channels by time, half samples in half a frame
// and size in a millisecond, of one chunk: power[0] lies in the middle of frame
// 0, where frame 1 begins. What frames with isolated pulses hold is not in the
// floor at all. It gives the mean of the rest, 0 where there is none.
func (e *evenness) add(power []float64, half, size int, struck []bool) (mean float64) {
	e.size = size
	even, moments := e.even, e.moments
	var block float64
	n := 0
	for i, p := range power {
		f := i / half
		if struck[f] || struck[f+1] {
			block, n = 0, 0
			continue
		}
		block += p
		if n++; n == size {
			block /= float64(size)
			e.blocks++
			e.block += block
			e.square += block * block
			block, n = 0, 0
		}
		sin, cos := math.Sincos(math.Pi / 2 * (float64(i%half) + 0.5) / float64(half))
		w := (sin*sin*sin*sin + cos*cos*cos*cos) / hannSquareMean
		e.even += p
		e.moments++
		e.weighed += w * p
		e.weight += w
		e.ripple += (w - 1) * (w - 1)
	}
	if e.moments == moments {
		return 0
	}
	return (e.even - even) / (e.moments - moments)
}

// factor gives what the floor is to be multiplied by: 1 where the two means
// differ by less than three standard errors of steady noise. A moment's power
// is the mean of so many independent ones.
func (e *evenness) factor(independent float64) float64 {
	if e.moments == 0 || e.weighed <= 0 {
		return 1
	}
	ratio := (e.even / e.moments) / (e.weighed / e.weight)
	noise := math.Sqrt(e.ripple/independent) / e.moments
	if math.Abs(ratio-1) < 3*noise {
		return 1
	}
	return ratio
}

// variation gives by how much the noise's power varies from millisecond to
// millisecond: its variance over its squared mean, beyond that of steady noise;
// 0 unless it stands out by three standard errors.
func (e *evenness) variation(independent float64) float64 {
	if e.blocks < 16 {
		return 0
	}
	mean := e.block / e.blocks
	own := 1 / (independent * float64(e.size))
	v := e.square/e.blocks/(mean*mean) - 1 - own
	if v < 3*own*math.Sqrt(2/e.blocks) {
		return 0
	}
	return v
}
