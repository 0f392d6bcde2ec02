package envelope

import "math"

// evenSums correct a floor for the frames' uneven hold on time. Hann windows
// half overlapping weigh a moment's power by 1 ± 1/3, twice a frame: bursts that
// come nearly as often (100 a second against frames every 10 ms) would read a
// few percent high or low for half a second. How the power really went is known
// from the envelope of free channels.
//
// The sums are over the moments of a chunk, or of many.
type evenSums struct {
	even, weighed float64 // Σ of power by time, and by the frames' weights
	moments       float64
	weight        float64 // Σ of the weights
	ripple        float64 // Σ of (weight/mean − 1)²
	blocks        float64 // of about a millisecond
	block, square float64 // Σ of their mean powers, and of the squares
	size          int     // moments in a block
	first, last   float64 // mean powers near the beginning and the end
	halves        float64 // half frames
	half, halfSq  float64 // Σ of their mean powers, and of the squares
	halfSize      int     // moments in a half frame
}

// hannSquareMean is the mean over time of the sum of squares of half-overlapping
// Hann windows: sin⁴ + cos⁴.
const hannSquareMean = 0.75

// add joins sums.
func (e *evenSums) add(c evenSums) {
	if c.moments == 0 {
		return
	}
	if e.moments == 0 {
		e.first = c.first
	}
	e.last = c.last
	e.even, e.weighed, e.moments = e.even+c.even, e.weighed+c.weighed, e.moments+c.moments
	e.weight, e.ripple = e.weight+c.weight, e.ripple+c.ripple
	e.blocks, e.block, e.square = e.blocks+c.blocks, e.block+c.block, e.square+c.square
	e.halves, e.half, e.halfSq, e.halfSize = e.halves+c.halves, e.half+c.half, e.halfSq+c.halfSq, c.halfSize
	e.size = c.size
}

// scale turns sums over powers in one unit into sums in another.
func (e *evenSums) scale(unit float64) {
	e.even, e.weighed, e.block, e.square = e.even*unit, e.weighed*unit, e.block*unit, e.square*unit*unit
	e.first, e.last = e.first*unit, e.last*unit
	e.half, e.halfSq = e.half*unit, e.halfSq*unit*unit
}

// mean gives the mean power by time, 0 where there is none.
func (e *evenSums) mean() float64 {
	if e.moments == 0 {
		return 0
	}
	return e.even / e.moments
}

// nearHalves is how many half frames tell the power near an edge: some 25 ms, about
// a whole number of mains periods.
const nearHalves = 3

// lastOf gives the mean of the last near moments that are not in frames to skip.
func lastOf(power []float64, half int, near float64, skip []bool) float64 {
	sum, n := 0.0, 0.0
	for i := len(power) - 1; i >= 0 && n < near; i-- {
		if f := i / half; !skip[f] && !skip[f+1] {
			sum += power[i]
			n++
		}
	}
	return sum / max(1, n)
}

// evenSumsOf sums the power of free channels by time, half samples in half a
// frame and size in a millisecond, of one chunk: power[0] lies in the middle of
// frame 0, where frame 1 begins. Moments in frames to skip are passed over.
func evenSumsOf(power []float64, half, size int, skip []bool) evenSums {
	e := evenSums{size: size, halfSize: half}
	near := float64(nearHalves * half)
	var block, whole float64
	n := 0
	for i, p := range power {
		f := i / half
		if skip[f] || skip[f+1] {
			block, n = 0, 0
			continue
		}
		if i%half == 0 {
			whole = 0
		}
		if whole += p; i%half == half-1 {
			mean := whole / float64(half)
			e.halves++
			e.half += mean
			e.halfSq += mean * mean
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
		if e.moments == near {
			e.first = e.mean()
		}
	}
	e.last = lastOf(power, half, near, skip)
	if e.moments < near {
		e.first = e.mean()
	}
	return e
}

// factor gives what the floor is to be multiplied by: 1 for steady noise. Of the
// first half frame of the recording, half moments, and of the last, the windows
// take but half, and of the beyond moments after it nothing; the noise there is
// taken to be what it is beside. A moment's power is the mean of so many
// independent ones.
func (e *evenSums) factor(independent, half, beyond float64) float64 {
	if e.moments == 0 || e.weighed <= 0 || e.variation(independent) == 0 {
		return 1
	}
	even := (e.even + half*e.first + (half+beyond)*e.last) / (e.moments + 2*half + beyond)
	weighed := (e.weighed + half/2*(e.first+e.last)) / (e.weight + half)
	return even / weighed
}

// variation gives by how much the noise's power varies from millisecond to
// millisecond: its variance over its squared mean, beyond that of steady noise;
// 0 unless it stands out by three standard errors.
func (e *evenSums) variation(independent float64) float64 {
	if e.blocks < 16 {
		return 0
	}
	mean := e.block / e.blocks
	own := 1 / (independent * float64(e.size))
	return beyondNoise(e.square/e.blocks/(mean*mean)-1, own, e.blocks)
}

// variationOfHalves gives the same from half frame to half frame.
func (e *evenSums) variationOfHalves(independent float64) float64 {
	if e.halves < 16 {
		return 0
	}
	mean := e.half / e.halves
	return beyondNoise(e.halfSq/e.halves/(mean*mean)-1, 1/(independent*float64(e.halfSize)), e.halves)
}

// beyondNoise gives by how much the relative variance of n means passes that of
// noise.
func beyondNoise(v, own, n float64) float64 {
	if v -= own; v < 3*own*math.Sqrt(2/n) {
		return 0
	}
	return v
}
