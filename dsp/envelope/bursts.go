package envelope

import (
	"math"
	"slices"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/stat"
)

// A burstDetector sets foreign short transmissions apart from the floor where they
// come too often to leave out the frames they fall into: bursts of milliseconds
// at most, many of them a millisecond or less, that come in no step with the
// mains (another service's packets, a row of clicks). What comes in step with the
// mains, or stays, is noise and counts with its mean (METHODS.md 5.7). The search goes
// over the summed envelope of free channels, in blocks of a tenth of a millisecond.
// Buffers are reused.
type burstDetector struct {
	blocks, times []float64 // of the chunk in hand: power, and seconds of the middle
	sorted        []float64
	bursts        []Event // in blocks
	marked        []bool  // by block: a burst fills or touches it
	level         float64 // of the blocks between bursts
	busy          int     // blocks over the limit in bursts
	alone         int     // bursts that stand out of stillness
	fft           *fft.FFT
	re, im        []float32
}

// burstSums is what a burstDetector found.
type burstSums struct {
	all, allCount   float64 // Σ of block power, and blocks
	kept, keptCount float64 // of them outside of foreign bursts
	unsure          float64 // Σ of the power of bursts that may be noise
	many            float64 // bursts, where they come too often to leave out frames for them
}

func (s *burstSums) join(c burstSums) {
	s.all, s.allCount = s.all+c.all, s.allCount+c.allCount
	s.kept, s.keptCount = s.kept+c.kept, s.keptCount+c.keptCount
	s.unsure, s.many = s.unsure+c.unsure, s.many+c.many
}

// Figures of the search for bursts (METHODS.md 5.7); chosen, but for what is said.
const (
	burstBlock = 0.1e-3 // s: packets of a tenth of a millisecond are about the shortest
	// Blocks on either side that go with a burst, for the channels' filter spreads it: the
	// wide skirt leaves out all that matters of a burst 20 dB strong, the narrow one all
	// but a tenth of a decibel where bursts come too often for the wide one.
	burstSkirt        = 4                  // TestSkirtOfBursts
	burstSkirtLeast   = 2                  // TestNarrowSkirtOfBursts
	burstLongest      = 10e-3 / burstBlock // blocks: what lasts longer is no short transmission
	burstDuty         = 0.6                // share of the time at most, skirts and all; a band that is busy all the time is noise
	burstFalse        = 1e-7               // probability of a block of Gaussian noise to pass for one: 5e-4 in half a second
	burstFewest       = 10                 // in a chunk; fewer leave frames enough without any
	burstLevelAt      = 0.2                // quantile of the blocks that tells the level between bursts
	burstFewestBlocks = 20                 // that tell it

	// Foreign bursts stand out of stillness, at least so many of them in a chunk, and that
	// share of all: short, with a peak so many times the limit, and of the blocks on either
	// side at least burstStill are still (TestBurstsInSteadyNoise). Noise that is raised for
	// longer passes the limit by its own scatter here and there.
	burstAlone       = 0.1
	burstAloneFewest = 5
	burstShort       = 1.5e-3 / burstBlock // blocks, as wide as the filter makes it
	burstClear       = 1.5
	burstBeside      = 10 // blocks: a millisecond
	burstStill       = 0.3
	burstQuiet       = 1.5  // standard errors of a block up to which it is still
	burstSure        = 0.35 // share of the time at most: what is busier may be noise
	burstPeriodic    = 0.1  // the same for what recurs with a period

	// Least coherence (stat.Phasor.Coherence) of the excess with the mains, and of bursts with
	// any other period, of periodLeast to periodLongest seconds.
	mainsCoherence    = 0.25
	periodicCoherence = 0.3 // TestPeriodOfManyBursts
	periodLongest     = 50e-3
	periodLeast       = 0.7e-3
)

// add takes in a chunk's envelope power (as evennessOf does); rate is its samples a second,
// independent the number of independent powers in a sample. Samples in frames to skip are
// passed over.
func (b *burstDetector) add(power []float64, rate, independent float64, half int, skip []bool) burstSums {
	length := BlockLength(rate, burstBlock)
	b.fill(power, length, rate, half, skip)
	if len(b.blocks) < burstFewestBlocks {
		return burstSums{}
	}
	count := float64(len(b.blocks))
	b.mark(independent*float64(length), burstSkirt)
	all, kept, n := b.sum()
	if n < (1-burstDuty)*count {
		b.mark(independent*float64(length), burstSkirtLeast)
		all, kept, n = b.sum()
	}
	bursts := float64(len(b.bursts))
	sums := burstSums{all: all, allCount: count, kept: all, keptCount: count}
	if bursts < burstFewest {
		return sums
	}
	if b.withMains() {
		sums.many = bursts
		return sums
	}
	if b.alone < burstAloneFewest || float64(b.alone) < burstAlone*bursts || n < (1-burstDuty)*count {
		return sums
	}
	sums.many = bursts
	duty := float64(b.busy) / count
	excess := max(0, all-kept/n*count)
	periodic := b.periodic()
	if periodic && duty > burstPeriodic {
		sums.unsure = min(excess, burstSure/duty*excess)
		return sums
	}
	sums.kept, sums.keptCount = kept, n
	if periodic || duty > burstSure {
		sums.unsure = excess
	}
	return sums
}

// sum gives the power of all blocks, and of those not marked with their number.
func (b *burstDetector) sum() (all, kept, n float64) {
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
func (b *burstDetector) fill(power []float64, length int, rate float64, half int, skip []bool) {
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

// mark finds the bursts, and marks the blocks that they fill or touch; shape is that of the
// gamma distribution of a block of steady noise, skirt the number of blocks on either side
// that go with a burst.
func (b *burstDetector) mark(shape float64, skirt int) {
	b.sorted = append(b.sorted[:0], b.blocks...)
	b.level = stat.GammaLevel(b.sorted, burstLevelAt, shape)
	finder := EventFinder{
		Limit: stat.GammaUpperQuantile(shape, burstFalse) / shape, Level: b.level, Gap: 1, Longest: burstLongest,
	}
	b.bursts = finder.Find(b.bursts[:0], b.blocks)
	b.marked = slices.Grow(b.marked[:0], len(b.blocks))[:len(b.blocks)]
	clear(b.marked)
	b.busy, b.alone = 0, 0
	still := b.level * (1 + burstQuiet/math.Sqrt(shape))
	for _, e := range b.bursts {
		if e.Length() <= burstShort && e.Over > burstClear*finder.Limit && b.standsAlone(e, skirt, still) {
			b.alone++
		}
		b.busy += e.Length()
		for k := max(0, e.First-skirt); k < min(len(b.blocks), e.Last+1+skirt); k++ {
			b.marked[k] = true
		}
	}
}

// standsAlone tells whether it is still on either side of a burst.
func (b *burstDetector) standsAlone(e Event, skirt int, still float64) bool {
	beside, low := 0, 0
	count := func(from, to int) {
		for k := max(0, from); k < min(len(b.blocks), to); k++ {
			beside++
			if b.blocks[k] <= still {
				low++
			}
		}
	}
	count(e.First-skirt-burstBeside, e.First-skirt)
	count(e.Last+1+skirt, e.Last+1+skirt+burstBeside)
	return float64(low) >= burstStill*float64(beside)
}

// periodic tells whether the bursts recur with any period: the FFT of their number by time
// holds the Phasors of all frequencies.
func (b *burstDetector) periodic() bool {
	const points = 8192 // 0.8 s of blocks: a chunk is half a second, seldom longer
	if b.fft == nil {
		b.fft, b.re, b.im = fft.New(points), make([]float32, points), make([]float32, points)
	}
	clear(b.re)
	clear(b.im)
	var p stat.Phasor
	for _, e := range b.bursts {
		if k := int((b.times[e.First] - b.times[0]) / burstBlock); k < points {
			b.re[k]++
			p.Weight, p.Square = p.Weight+1, p.Square+1
		}
	}
	b.fft.Transform(b.re, b.im)
	span := float64(points * burstBlock)
	for k := int(span / periodLongest); k < int(span/periodLeast); k++ {
		p.Sum = complex(float64(b.re[k]), float64(b.im[k]))
		if p.Power() > anyPower && p.Coherence() > periodicCoherence {
			return true
		}
	}
	return false
}

// withMains tells whether the bursts come in step with the mains.
func (b *burstDetector) withMains() bool {
	return slices.ContainsFunc(mainsFundamentals, func(hz float64) bool { return b.inStep(hz, fundamentalPower) }) ||
		slices.ContainsFunc(mainsHarmonics, func(hz float64) bool { return b.inStep(hz, harmonicPower) })
}

// inStep tells whether the excess of the bursts comes with a frequency. The blocks of one
// burst go together: there are as many independent events as bursts.
func (b *burstDetector) inStep(hz, power float64) bool {
	var p stat.Phasor
	for i, v := range b.blocks {
		if excess := v - b.level; excess > 0 && b.marked[i] {
			p.Add(excess, hz*b.times[i])
		}
	}
	p.Square = p.Weight * p.Weight / float64(len(b.bursts))
	return p.Power() > power && p.Coherence() > mainsCoherence
}

// factor gives what the floor is to be multiplied by to be free of foreign short
// transmissions; 1 where there were none.
func (s *burstSums) factor() float64 {
	if s.keptCount == 0 || s.all == 0 {
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
