package envelope

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"

	"nightfloor/dsp/transient"
)

// Figures of the search for pulses.
const (
	PulseLongest = 1e-3 // s: what lasts longer is a burst
	pulseGuard   = 1e-3 // s between a moment and the stretch it is compared with
	pulseBeside  = 2e-3 // s: length of that stretch, on either side
	pulseGap     = 2e-4 // s: a shorter gap does not part two pulses
	pulseFalse   = 1e-3 // false alarms in a reading
	mostPulses   = 10000
)

// A pulse is noise that was raised in all free channels at once, for under a
// millisecond.
type pulse struct {
	At     float64 // seconds into the reading
	Length float64 // seconds, as wide as the channels' filter makes it
	Excess float64 // greatest power in a channel, over the noise beside it
}

// findPulses looks for moments at which the channels' mean power stands out over
// the greater of the means on its two sides, so that the edge of a burst does
// not, and over the usual level of the busiest moments, so that a burst that
// comes with the mains does not. It gives those of this stretch.
func (e *bandEnvelope) findPulses(start, rate float64) []pulse {
	e.runTotals()
	limit := e.pulseLimit(rate)
	before := len(e.pulses)
	many := transient.Continuous * float64(len(e.sum)) / rate
	// Fewer than 20 pulses a second reach under 5 % of the millisecond blocks.
	busy := e.blockLevel(rate, 1e-3, 0.95)
	if float64(e.events(rate, limit, e.blockLevel(rate, 1e-3, 0.5), nil)) >= many {
		busy = max(busy, e.blockLevel(rate, 0.25e-3, 0.99))
	}
	e.count += e.events(rate, limit, busy, func(from, last int, excess float64) {
		if len(e.pulses) < mostPulses {
			e.pulses = append(e.pulses, pulse{At: start + float64(from)/rate, Length: float64(last-from+1) / rate, Excess: excess})
		}
	})
	return e.pulses[before:]
}

// events counts the runs of moments, of pulseLongest at most, that pass limit
// times the level beside them, which is taken to be at least least. found, if
// any, learns their first and last sample and the greatest excess.
func (e *bandEnvelope) events(rate, limit, least float64, found func(from, last int, excess float64)) int {
	guard, beside := int(pulseGuard*rate), int(pulseBeside*rate)
	count, from, last, peak := 0, -1, 0, 0.0
	finish := func() {
		if from < 0 || float64(last-from+1) > PulseLongest*rate {
			return
		}
		if count++; found != nil {
			found(from, last, peak)
		}
	}
	for i, v := range e.sum {
		if v <= limit*least { // spares the means
			continue
		}
		level := max(least, e.meanOf(i-guard-beside, i-guard), e.meanOf(i+guard+1, i+guard+1+beside))
		if v <= limit*level {
			continue
		}
		if from < 0 || float64(i-last) > pulseGap*rate {
			finish()
			from, peak = i, 0
		}
		last, peak = i, max(peak, v/level)
	}
	finish()
	return count
}

// runTotals fills total: total[i] is the sum of what comes before i.
func (e *bandEnvelope) runTotals() {
	e.total = append(e.total[:0], 0)
	sum := 0.0
	for _, v := range e.sum {
		sum += v
		e.total = append(e.total, sum)
	}
}

// meanOf gives the mean of sum from…to, as far as it reaches; 0 where it does
// not.
func (e *bandEnvelope) meanOf(from, to int) float64 {
	from, to = max(from, 0), min(to, len(e.sum))
	if from >= to {
		return 0
	}
	return (e.total[to] - e.total[from]) / float64(to-from)
}

// blockLevel gives the power that a share of the blocks of the given length
// stays under.
func (e *bandEnvelope) blockLevel(rate, seconds, share float64) float64 {
	e.fillBlocks(BlockLength(rate, seconds))
	if len(e.blocks) == 0 {
		return 0
	}
	slices.Sort(e.blocks)
	return e.blocks[min(len(e.blocks)-1, int(share*float64(len(e.blocks))))]
}

type pulseKey struct {
	channels, samples, stretch int
}

// pulseLimit gives the ratio that a moment's power over the mean beside it passes
// by chance pulseFalse times in a reading. The bound adds up the chances of all
// samples, though neighbours go together; the stretches of a reading of unknown
// length share pulseFalse as 6/(π²·i²).
func (e *bandEnvelope) pulseLimit(rate float64) float64 {
	key := pulseKey{len(e.firsts), len(e.sum), e.stretch}
	if limit, ok := e.limits[key]; ok {
		return limit
	}
	chance := pulseFalse * 6 / (math.Pi * math.Pi * float64(e.stretch*e.stretch)) / float64(len(e.sum))
	limit := ratioLimit(float64(key.channels), e.shape(BlockLength(rate, pulseBeside)), chance)
	e.limits[key] = limit
	return limit
}

// ratioLimit gives what the power of one sample, averaged over channels, passes
// with the given chance in units of a mean beside it.
//
// The first follows a gamma distribution of shape C, the number of channels, the
// other one of shape C·k, k = meanShape of one channel; the share u of the first
// sum in both is beta distributed, and the ratio is u/(1−u)·k.
func ratioLimit(channels, k, chance float64) float64 {
	rest := mathext.InvRegIncBeta(channels*k, channels, chance) // 1 − u
	return (1 - rest) / rest * k
}
