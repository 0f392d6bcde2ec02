package dsp

import (
	"math"
	"slices"
)

// A burstWatch sets foreign short transmissions apart from the floor: bursts of
// milliseconds at most that come in no step with the mains (another service's
// packets, a row of clicks). What comes in step with the mains, or stays, is
// noise and counts with its mean. The search goes over the summed envelope of
// free channels, a tenth of a millisecond at a time.
type burstWatch struct {
	all, allCount   float64 // Σ of block power, and blocks
	kept, keptCount float64 // of them outside of foreign bursts
	excluded        bool    // some were

	blocks, times []float64 // of the chunk in hand: power, and seconds of the middle
	sorted        []float64
	marked        []bool
	level         float64 // of the blocks between bursts
}

const (
	burstBlock = 0.1e-3 // s: packets of a tenth of a millisecond are about the shortest
	// The channels' filter spreads a burst into blocks on either side: the wide
	// skirt leaves out all that matters of a burst 20 dB strong, the narrow one
	// all but a tenth of a decibel where bursts come too often for the wide one.
	burstSkirt, burstSkirtLeast = 4, 2
	burstLongest                = 10e-3 // s: what lasts longer is no short transmission
	burstDuty                   = 0.6   // of the time at most; a band that is busy all the time is noise
	burstChance                 = 1e-7  // of a block of Gaussian noise to pass for one
	burstLeast                  = 0.3   // rise over the level between that is looked at

	// inStepShare is the least coherence with the mains, |Σ e·exp(−iωt)|/Σ e for
	// excess e: 1 for short bursts once a period, 1/2 for a cosine, 1/√n for n
	// bursts at random. inStepSure is the least n times its square: by chance
	// exp(−8) for each of the 20 frequencies tried.
	inStepShare = 0.25
	inStepSure  = 8.0
)

func (b *burstWatch) reset() {
	*b = burstWatch{blocks: b.blocks[:0], sorted: b.sorted[:0], marked: b.marked[:0], times: b.times[:0]}
}

// add takes in a chunk's envelope power (as evenness.add does); rate is its
// samples a second, independent the number of independent powers in a sample.
// Moments in frames that were left out for isolated pulses are passed over.
func (b *burstWatch) add(power []float64, rate, independent float64, half int, struck []bool) {
	length := blockLength(rate, burstBlock)
	b.fill(power, length, rate, half, struck)
	if len(b.blocks) < 20 {
		return
	}
	count := float64(len(b.blocks))
	bursts := b.mark(independent*float64(length), burstSkirt)
	all, kept, n := b.sum()
	if n < (1-burstDuty)*count {
		bursts = b.mark(independent*float64(length), burstSkirtLeast)
		all, kept, n = b.sum()
	}
	if bursts == 0 || n < (1-burstDuty)*count || b.withMains(bursts) {
		kept, n = all, count
	} else {
		b.excluded = true
	}
	b.all, b.allCount = b.all+all, b.allCount+count
	b.kept, b.keptCount = b.kept+kept, b.keptCount+n
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
func (b *burstWatch) fill(power []float64, length int, rate float64, half int, struck []bool) {
	b.blocks, b.times = b.blocks[:0], b.times[:0]
	for from := 0; from+length <= len(power); from += length {
		f, l := from/half, (from+length-1)/half
		if struck[f] || struck[l+1] || struck[f+1] {
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

// mark marks the blocks that bursts fill or touch, and counts the bursts; shape
// is that of the gamma distribution of a block of steady noise, skirt the
// number of blocks on either side that go with a burst.
func (b *burstWatch) mark(shape float64, skirt int) (bursts int) {
	b.sorted = append(b.sorted[:0], b.blocks...)
	b.level = selected(b.sorted, len(b.sorted)/5) * shape / gammaQuantile(shape, 0.2)
	limit := b.level * max(1+burstLeast, gammaQuantile(shape, 1-burstChance)/shape)
	b.marked = b.marked[:0]
	for range b.blocks {
		b.marked = append(b.marked, false)
	}
	for i := 0; i < len(b.blocks); i++ {
		from := i
		for i < len(b.blocks) && b.blocks[i] > limit {
			i++
		}
		if n := i - from; n == 0 || float64(n)*burstBlock > burstLongest {
			continue
		}
		bursts++
		for k := max(0, from-skirt); k < min(len(b.blocks), i+skirt); k++ {
			b.marked[k] = true
		}
	}
	return bursts
}

// mainsRates are the frequencies at which noise follows the mains: once and
// twice a period, ±1 %, in steps that half a second can tell apart.
var mainsRates = func() (rates []float64) {
	for _, middle := range []float64{50, 60, 100, 120} {
		for _, off := range []float64{-0.01, -0.005, 0, 0.005, 0.01} {
			rates = append(rates, middle*(1+off))
		}
	}
	return rates
}()

// withMains tells whether the bursts come in step with the mains.
func (b *burstWatch) withMains(bursts int) bool {
	return slices.ContainsFunc(mainsRates, func(rate float64) bool {
		var re, im, all float64
		for i, p := range b.blocks {
			if e := p - b.level; e > 0 && b.marked[i] {
				sin, cos := math.Sincos(2 * math.Pi * rate * b.times[i])
				re, im, all = re+e*cos, im+e*sin, all+e
			}
		}
		coherence := math.Hypot(re, im) / all
		return coherence > inStepShare && float64(bursts)*coherence*coherence > inStepSure
	})
}

// factor gives what the floor is to be multiplied by to be free of foreign short
// transmissions; 1 where there were none.
func (b *burstWatch) factor() float64 {
	if !b.excluded || b.keptCount == 0 || b.all == 0 {
		return 1
	}
	return (b.kept / b.keptCount) / (b.all / b.allCount)
}

// burstLeft is how much of the bursts' power is in doubt to be left in what was
// kept: pulses of 1 to 7 times the floor's power, 20 dB strong, 60 to 700 a
// second, left 0.5 to 1.5 % over 60 simulated readings.
const burstLeft = 0.01

// doubt gives the relative standard error of a floor from which bursts were
// taken, for what may be left of them.
func (b *burstWatch) doubt() float64 { return burstLeft * (1/b.factor() - 1) }
