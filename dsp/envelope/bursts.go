package envelope

import (
	"math"
	"slices"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/stat"
)

// A burstWatch sets foreign short transmissions apart from the floor where they
// come too often to leave out the frames they fall into: bursts of milliseconds
// at most, many of them a millisecond or less, that come in no step with the
// mains (another service's packets, a row of clicks). What comes in step with the
// mains, or stays, is noise and counts with its mean. The search goes over the
// summed envelope of free channels, a tenth of a millisecond at a time. Buffers
// are reused.
type burstWatch struct {
	blocks, times []float64 // of the chunk in hand: power, and seconds of the middle
	sorted        []float64
	marked        []bool
	level         float64 // of the blocks between bursts
	limit         float64 // what bursts pass
	starts        []float64
	busy          int // blocks over the limit in bursts
	alone         int // bursts that stand out of stillness
	fft           *fft.FFT
	re, im        []float32
}

// burstSums is what a burstWatch found.
type burstSums struct {
	all, allCount   float64 // Σ of block power, and blocks
	kept, keptCount float64 // of them outside of foreign bursts
	unsure          float64 // Σ of the power of bursts that may be noise
	many            float64 // bursts, where they come too often to leave out frames for them
	excluded        bool    // some were foreign
}

func (s *burstSums) add(c burstSums) {
	s.all, s.allCount = s.all+c.all, s.allCount+c.allCount
	s.kept, s.keptCount = s.kept+c.kept, s.keptCount+c.keptCount
	s.unsure, s.many = s.unsure+c.unsure, s.many+c.many
	s.excluded = s.excluded || c.excluded
}

// scale turns sums over powers in one unit into sums in another.
func (s *burstSums) scale(unit float64) {
	s.all, s.kept, s.unsure = s.all*unit, s.kept*unit, s.unsure*unit
}

const (
	burstBlock = 0.1e-3 // s: packets of a tenth of a millisecond are about the shortest
	// The channels' filter spreads a burst into blocks on either side: the wide
	// skirt leaves out all that matters of a burst 20 dB strong, the narrow one
	// all but a tenth of a decibel where bursts come too often for the wide one.
	burstSkirt, burstSkirtLeast = 4, 2
	burstLongest                = 10e-3 // s: what lasts longer is no short transmission
	burstDuty                   = 0.6   // of the time at most, skirts and all; a band that is busy all the time is noise
	burstChance                 = 1e-7  // of a block of Gaussian noise to pass for one
	burstLeast                  = 0.3   // rise over the level between that is looked at
	burstFewest                 = 10    // in a chunk; fewer leave frames enough without any

	// Foreign bursts stand out of stillness, at least so many of them in a chunk, and that
	// share: short, with a peak so many times the limit, and of the millisecond
	// on either side at least burstStill is still. Noise that is raised for
	// longer passes the limit by its own scatter here and there.
	burstAlone       = 0.1
	burstAloneFewest = 5
	burstShort       = 1.5e-3 // s, as wide as the filter makes it
	burstClear       = 1.5
	burstBeside      = 10 // blocks
	burstStill       = 0.3
	burstQuiet       = 1.5  // standard deviations of a block up to which it is still
	burstSure        = 0.35 // of the time at most: what is busier may be noise
	burstPeriodic    = 0.1  // what recurs with a period and is busier is noise

	periodicSure  = 16.0 // as InStepSure, for any other frequency of some 1500
	periodicShare = 0.3
	periodLongest = 50e-3 // s
	periodLeast   = 0.7e-3
)

// add takes in a chunk's envelope power (as evenSumsOf does); rate is its
// samples a second, independent the number of independent powers in a sample.
// Moments in frames to skip are passed over.
func (b *burstWatch) add(power []float64, rate, independent float64, half int, skip []bool) burstSums {
	length := BlockLength(rate, burstBlock)
	b.fill(power, length, rate, half, skip)
	if len(b.blocks) < 20 {
		return burstSums{}
	}
	count := float64(len(b.blocks))
	b.mark(independent*float64(length), burstSkirt)
	all, kept, n := b.sum()
	if n < (1-burstDuty)*count {
		b.mark(independent*float64(length), burstSkirtLeast)
		all, kept, n = b.sum()
	}
	bursts := len(b.starts)
	none := burstSums{all: all, allCount: count, kept: all, keptCount: count}
	if bursts < burstFewest {
		return none
	}
	if b.withMains(bursts) {
		none.many = float64(bursts)
		return none
	}
	if b.alone < burstAloneFewest || float64(b.alone) < burstAlone*float64(bursts) || n < (1-burstDuty)*count {
		return none
	}
	none.many = float64(bursts)
	duty := float64(b.busy) / count
	excess := max(0, all-kept/n*count)
	periodic := b.periodic()
	if periodic && duty > burstPeriodic {
		none.unsure = min(excess, burstSure/duty*excess)
		return none
	}
	found := burstSums{all: all, allCount: count, kept: kept, keptCount: n, excluded: true, many: float64(bursts)}
	if periodic || duty > burstSure {
		found.unsure = excess
	}
	return found
}

// sum gives the power of all blocks, and of those not marked with their number.
func (b *burstWatch) sum() (all, kept, n float64) {
	for i, p := range b.blocks {
		all += p
		if !b.marked[i] {
			kept += p
			n++
		}
	}
	return all, kept, n
}

// fill cuts the envelope into blocks.
func (b *burstWatch) fill(power []float64, length int, rate float64, half int, skip []bool) {
	b.blocks, b.times = b.blocks[:0], b.times[:0]
	for from := 0; from+length <= len(power); from += length {
		f, l := from/half, (from+length-1)/half
		if skip[f] || skip[l+1] || skip[f+1] {
			continue
		}
		sum := 0.0
		for _, p := range power[from : from+length] {
			sum += p
		}
		b.blocks = append(b.blocks, sum/float64(length))
		b.times = append(b.times, (float64(from)+float64(length)/2)/rate)
	}
}

// mark marks the blocks that bursts fill or touch, and notes when they began;
// shape is that of the gamma distribution of a block of steady noise, skirt the
// number of blocks on either side that go with a burst.
func (b *burstWatch) mark(shape float64, skirt int) {
	b.sorted = append(b.sorted[:0], b.blocks...)
	b.level = stat.Select(b.sorted, len(b.sorted)/5) * shape / stat.GammaQuantile(shape, 0.2)
	b.limit = b.level * max(1+burstLeast, stat.GammaQuantile(shape, 1-burstChance)/shape)
	still := b.level * (1 + burstQuiet/math.Sqrt(shape))
	b.marked, b.starts, b.busy, b.alone = b.marked[:0], b.starts[:0], 0, 0
	for range b.blocks {
		b.marked = append(b.marked, false)
	}
	for i := 0; i < len(b.blocks); i++ {
		from, peak := i, 0.0
		for i < len(b.blocks) && b.blocks[i] > b.limit {
			peak = max(peak, b.blocks[i])
			i++
		}
		n := i - from
		if n == 0 || float64(n)*burstBlock > burstLongest {
			continue
		}
		if float64(n)*burstBlock <= burstShort && peak > burstClear*b.limit && b.standsAlone(from, i, skirt, still) {
			b.alone++
		}
		b.starts = append(b.starts, b.times[from])
		b.busy += n
		for k := max(0, from-skirt); k < min(len(b.blocks), i+skirt); k++ {
			b.marked[k] = true
		}
	}
}

// standsAlone tells whether it is still on either side of the blocks from…to.
func (b *burstWatch) standsAlone(from, to, skirt int, still float64) bool {
	beside, low := 0, 0
	count := func(from, to int) {
		for k := max(0, from); k < min(len(b.blocks), to); k++ {
			beside++
			if b.blocks[k] <= still {
				low++
			}
		}
	}
	count(from-skirt-burstBeside, from-skirt)
	count(to+skirt, to+skirt+burstBeside)
	return float64(low) >= burstStill*float64(beside)
}

// periodic tells whether the bursts recur with any period.
func (b *burstWatch) periodic() bool {
	const points = 8192 // 0.8 s of blocks: a chunk is half a second, seldom longer
	if b.fft == nil {
		b.fft, b.re, b.im = fft.New(points), make([]float32, points), make([]float32, points)
	}
	clear(b.re)
	clear(b.im)
	n := 0.0
	for _, t := range b.starts {
		if k := int((t - b.times[0]) / burstBlock); k < points {
			b.re[k]++
			n++
		}
	}
	b.fft.Transform(b.re, b.im)
	span := float64(points * burstBlock)
	for k := int(span / periodLongest); k < int(span/periodLeast); k++ {
		square := float64(b.re[k]*b.re[k] + b.im[k]*b.im[k])
		if square > periodicSure*n && square > periodicShare*periodicShare*n*n {
			return true
		}
	}
	return false
}

// withMains tells whether the bursts come in step with the mains.
func (b *burstWatch) withMains(bursts int) bool {
	return slices.ContainsFunc(mainsRates, func(m mainsRate) bool {
		var re, im, all float64
		for i, p := range b.blocks {
			if e := p - b.level; e > 0 && b.marked[i] {
				sin, cos := math.Sincos(2 * math.Pi * m.rate * b.times[i])
				re, im, all = re+e*cos, im+e*sin, all+e
			}
		}
		coherence := math.Hypot(re, im) / all
		return coherence > inStepShare && float64(bursts)*coherence*coherence > m.sure
	})
}

// factor gives what the floor is to be multiplied by to be free of foreign short
// transmissions; 1 where there were none.
func (s *burstSums) factor() float64 {
	if !s.excluded || s.keptCount == 0 || s.all == 0 {
		return 1
	}
	return (s.kept / s.keptCount) / (s.all / s.allCount)
}

// burstLeft is how much of the bursts' power is in doubt to be left in what was
// kept: pulses of 1 to 7 times the floor's power, 20 dB strong, 60 to 700 a
// second, left 0.5 to 1.5 % over 60 simulated readings.
const burstLeft = 0.01

// doubt gives the relative standard error of a floor from which bursts were
// taken, for what may be left of them and for those that may be noise, or were
// taken for it.
func (s *burstSums) doubt() float64 {
	if s.all == 0 {
		return 0
	}
	f := s.factor()
	return burstLeft*(1/f-1) + stat.OneOfTwo*s.unsure/s.all/f
}
