package envelope

import "math"

// An evenness corrects a floor for the frames' uneven hold on time (METHODS.md 5.8). Hann
// windows half overlapping weigh the power of a sample by 1 ± 1/3, twice a frame: bursts
// that come nearly as often (100 a second against frames every 10 ms) would read a few
// percent high or low for half a second. How the power really went is known from the
// envelope of free channels.
//
// The sums are over the envelope's samples in a chunk, or in many.
type evenness struct {
	power, weighed  float64 // Σ of power by time, and by the frames' weights
	samples, weight float64 // how many, and Σ of the weights
	blocks, halves  tally   // mean powers of stretches of about a millisecond, and of half frames
	first, last     float64 // mean powers near the beginning and the end
}

// A tally sums the mean powers of stretches of so many samples, and their squares.
type tally struct{ n, sum, square, size float64 }

func (t *tally) add(x float64) { t.n, t.sum, t.square = t.n+1, t.sum+x, t.square+x*x }

func (t *tally) join(o tally) {
	*t = tally{t.n + o.n, t.sum + o.sum, t.square + o.square, o.size}
}

// variation gives by how much the variance of the mean powers over their squared mean passes that
// of steady noise, a sample of which is the mean of so many independent powers; 0 unless it
// does by three standard errors, or where there are few.
func (t *tally) variation(independent float64) float64 {
	const few = 16 // the standard error is that of many values; chosen
	if t.n < few {
		return 0
	}
	own, mean := 1/(independent*t.size), t.sum/t.n
	v := t.square/t.n/(mean*mean) - 1 - own
	if v < 3*own*math.Sqrt(2/t.n) {
		return 0
	}
	return v
}

// hannSquareMean is the mean over time of the sum of squares of half-overlapping
// Hann windows: sin⁴ + cos⁴.
const hannSquareMean = 0.75

// join adds the sums of the chunk that follows.
func (e *evenness) join(c evenness) {
	if c.samples == 0 {
		return
	}
	if e.samples == 0 {
		e.first = c.first
	}
	e.last = c.last
	e.power, e.weighed = e.power+c.power, e.weighed+c.weighed
	e.samples, e.weight = e.samples+c.samples, e.weight+c.weight
	e.blocks.join(c.blocks)
	e.halves.join(c.halves)
}

// mean gives the mean power by time, 0 where there is none.
func (e *evenness) mean() float64 {
	if e.samples == 0 {
		return 0
	}
	return e.power / e.samples
}

// nearHalves is how many half frames tell the power near an edge: some 25 ms, about
// a whole number of mains periods. Chosen.
const nearHalves = 3

// lastOf gives the mean of the last near samples that are not in frames to skip.
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

// evennessOf sums the power of free channels by time, half samples in half a frame and size
// in a millisecond, of one chunk: power[0] lies in the middle of frame 0, where frame 1
// begins. Samples in frames to skip are passed over.
func evennessOf(power []float64, half, size int, skip []bool) evenness {
	e := evenness{blocks: tally{size: float64(size)}, halves: tally{size: float64(half)}}
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
			e.halves.add(whole / float64(half))
		}
		block += p
		if n++; n == size {
			e.blocks.add(block / float64(size))
			block, n = 0, 0
		}
		sin, cos := math.Sincos(math.Pi / 2 * (float64(i%half) + 0.5) / float64(half))
		w := (sin*sin*sin*sin + cos*cos*cos*cos) / hannSquareMean
		e.power += p
		e.samples++
		e.weighed += w * p
		e.weight += w
		if e.samples == near {
			e.first = e.mean()
		}
	}
	e.last = lastOf(power, half, near, skip)
	if e.samples < near {
		e.first = e.mean()
	}
	return e
}

// factor gives what the floor is to be multiplied by: 1 for steady noise. Of the first half
// frame of the recording, half samples, and of the last, the windows take but half, and of
// the beyond samples after it nothing; the noise there is taken to be what it is beside. A
// sample's power is the mean of so many independent ones.
func (e *evenness) factor(independent, half, beyond float64) float64 {
	if e.samples == 0 || e.weighed <= 0 || e.blocks.variation(independent) == 0 {
		return 1
	}
	even := (e.power + half*e.first + (half+beyond)*e.last) / (e.samples + 2*half + beyond)
	weighed := (e.weighed + half/2*(e.first+e.last)) / (e.weight + half)
	return even / weighed
}
