package envelope

import (
	"slices"

	"gonum.org/v1/gonum/mathext"

	"nightfloor/dsp/transient"
)

// Figures of the search for isolated pulses (METHODS.md 8.4); chosen, but for what is said.
const (
	PulseLongest = 1e-3 // s: what lasts longer is a burst
	pulseGuard   = 1e-3 // s between a sample and the stretch it is compared with: PulseLongest
	pulseBeside  = 2e-3 // s: length of that stretch, on either side
	pulseGap     = 2e-4 // s: twice what the channels' filter makes of the shortest pulse
	pulseFalse   = 1e-3 // probability of a false alarm in a reading of noise
)

// findPulses gives the last stretch's pulses: noise that was raised in all free channels at
// once, for under a millisecond. Samples count that stand out over the greater of the means
// on their two sides, so that the edge of a burst does not, and over the usual level of the
// busiest blocks, so that a burst that comes with the mains does not.
func (e *bandEnvelope) findPulses() []Event {
	e.runTotals()
	guard, beside := int(pulseGuard*e.rate), int(pulseBeside*e.rate)
	finder := EventFinder{
		Limit: e.pulseLimit(),
		Level: e.blockLevel(1e-3, 0.5),
		Beside: func(i int) float64 {
			return max(e.meanOf(i-guard-beside, i-guard), e.meanOf(i+guard+1, i+guard+1+beside))
		},
		Gap: int(pulseGap * e.rate), Longest: int(PulseLongest * e.rate),
	}
	e.pulses = finder.Find(e.pulses[:0], e.sum)
	// Fewer than 20 pulses a second reach under 5 % of the millisecond blocks.
	finder.Level = e.blockLevel(1e-3, 0.95)
	if float64(len(e.pulses)) >= transient.Continuous*float64(len(e.sum))/e.rate {
		finder.Level = max(finder.Level, e.blockLevel(0.25e-3, 0.99))
	}
	e.pulses = finder.Find(e.pulses[:0], e.sum)
	return e.pulses
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

// meanOf gives the mean of the samples from…to of sum, as far as it reaches; 0 where it
// does not.
func (e *bandEnvelope) meanOf(from, to int) float64 {
	from, to = max(from, 0), min(to, len(e.sum))
	if from >= to {
		return 0
	}
	return (e.total[to] - e.total[from]) / float64(to-from)
}

// blockLevel gives the power that a share of the blocks of so many seconds stays under.
func (e *bandEnvelope) blockLevel(seconds, share float64) float64 {
	e.fillBlocks(BlockLength(e.rate, seconds))
	if len(e.blocks) == 0 {
		return 0
	}
	slices.Sort(e.blocks)
	return e.blocks[min(len(e.blocks)-1, int(share*float64(len(e.blocks))))]
}

// pulseLimit gives the ratio that a sample's power over the mean beside it passes by chance
// pulseFalse times in a reading. The bound adds up the probabilities of all samples, though
// neighbours go together.
func (e *bandEnvelope) pulseLimit() float64 {
	p := pulseFalse * StretchShare(e.stretch) / float64(len(e.sum))
	return ratioLimit(float64(len(e.firsts)), e.filter.meanShape(BlockLength(e.rate, pulseBeside)), p)
}

// ratioLimit gives what the power of one sample, averaged over channels, passes with
// probability p in units of a mean beside it.
//
// The first follows a gamma distribution of shape C, the number of channels, the other one
// of shape C·k, k = meanShape of one channel; the share u of the first in the sum of both
// is beta distributed, and the ratio is u/(1−u)·k.
func ratioLimit(channels, k, p float64) float64 {
	rest := mathext.InvRegIncBeta(channels*k, channels, p) // 1 − u
	return (1 - rest) / rest * k
}
