package interference

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"nightfloor/dsp/envelope"
	"nightfloor/dsp/stat"
)

// Figures of the search for impulses (METHODS.md 10.1), which last envelope.PulseLongest at
// most; chosen, but for what is said.
const (
	impulseFalse    = 1e-5   // probability of a false alarm in a reading of noise
	impulseGap      = 0.2e-3 // s: a shorter gap does not part two
	impulseBeside   = 2e-3   // s on either side, impulseGap away, that tell the level (TestBesideAnImpulse)
	impulseQuantile = 0.75   // of the samples there: a burst that fills a quarter raises it (TestBesideAnImpulse)
	impulseChannels = 4      // fewer, or less of the passband, say nothing of all of it
	impulseSpan     = 0.5    // of the passband
	impulseRaised   = 0.8    // of the channels
	impulseThird    = 0.6    // of the lower and of the upper third of them (TestImpulsesAreEverywhere)
	impulseLeast    = 0.07   // of the mean rise that a channel shows: an exponential variable passes in 93 %
	impulseList     = 10000  // events that are listed: memory

	// Impulses that come with the modulation are modulated noise where they stand less than
	// impulseSingly over the noise beside them: so many of them at the least, with that
	// coherence. By chance n of them have it with exp(−n/4).
	impulseSingly   = 10.0
	inStepFewest    = 8
	inStepCoherence = 0.5
)

// An impulseDetector finds impulses, events of under a millisecond in the whole passband:
// samples at which the mean power of the channels stands out over the level of the whole
// stretch and over that on both sides, and nearly all channels are raised.
type impulseDetector struct {
	times   []float64 // seconds into the reading
	excess  []float64 // greatest power over that beside
	count   int       // also beyond the lists
	seconds float64   // in which impulses were sought
	dead    float64   // seconds in which another would not have been seen apart
	stretch int       // counts the stretches
	p       float64   // see Impulses
	events  []envelope.Event
	sorted  []float64
}

// reset forgets the recording.
func (d *impulseDetector) reset() {
	d.times, d.excess = d.times[:0], d.excess[:0]
	d.count, d.seconds, d.dead, d.stretch, d.p = 0, 0, 0, 0, math.Inf(1)
}

// add looks at a stretch of the passband, so many columns wide.
func (d *impulseDetector) add(c *envelope.Channels, columns int) {
	edge := float64(longest(c)) / c.Rate // so near an end a burst would be cut
	d.search(c, columns, c.Start+edge, c.Start+c.Seconds()-edge)
}

// addBetween looks at what lies about the place where two stretches meet: the first ended
// end seconds into the reading, the second begins at begin.
func (d *impulseDetector) addBetween(c *envelope.Channels, columns int, end, begin float64) {
	edge := float64(longest(c)) / c.Rate
	d.search(c, columns, end-edge, begin+edge)
}

// longest gives how many samples an impulse lasts at most.
func longest(c *envelope.Channels) int { return envelope.BlockLength(c.Rate, envelope.PulseLongest) }

// search looks for impulses of which a part lies in low…high seconds into the reading.
func (d *impulseDetector) search(c *envelope.Channels, columns int, low, high float64) {
	if c.Count() < impulseChannels || float64(c.High-c.Low) < impulseSpan*float64(columns) || high <= low {
		return
	}
	d.stretch++
	d.seconds += high - low
	// Each sample of noise is gamma distributed, its shape the number of channels.
	shape := float64(c.Count())
	d.sorted = append(d.sorted[:0], c.Sum...)
	quiet := stat.GammaLevel(d.sorted, 0.5, shape)
	p := impulseFalse * envelope.StretchShare(d.stretch) / float64(c.Length)
	finder := envelope.EventFinder{
		Limit: stat.GammaUpperQuantile(shape, p) / shape, Level: quiet,
		Beside: func(i int) float64 { return max(d.beside(c, i, -1, shape), d.beside(c, i, +1, shape)) },
		Gap:    int(impulseGap * c.Rate), Longest: longest(c),
	}
	d.events = finder.Find(d.events[:0], c.Sum)
	low, high = low-0.25/c.Rate, high-0.25/c.Rate // a quarter of a sample for rounding
	for _, e := range d.events {
		edge := longest(c)
		begin, end := c.Start+float64(e.First)/c.Rate, c.Start+float64(e.Last)/c.Rate
		if e.First >= edge && e.Last < c.Length-edge && end >= low && begin < high && everywhere(c, e, quiet) {
			d.take(c, e)
		}
	}
}

// beside gives the level on one side of sample i.
func (d *impulseDetector) beside(c *envelope.Channels, i, direction int, shape float64) float64 {
	near, far := envelope.BlockLength(c.Rate, impulseGap), envelope.BlockLength(c.Rate, impulseGap+impulseBeside)
	from, to := i+near, i+far
	if direction < 0 {
		from, to = i-far+1, i-near+1
	}
	from, to = max(0, min(from, len(c.Sum))), max(0, min(to, len(c.Sum)))
	d.sorted = append(d.sorted[:0], c.Sum[from:to]...)
	return stat.GammaLevel(d.sorted, impulseQuantile, shape)
}

// take counts an impulse.
func (d *impulseDetector) take(c *envelope.Channels, e envelope.Event) {
	d.count++
	d.dead += float64(e.Length())/c.Rate + impulseGap
	if len(d.times) < impulseList {
		d.times, d.excess = append(d.times, c.Start+float64(e.Top)/c.Rate), append(d.excess, e.Over)
	}
	// The mean of K exponential powers, at any of the samples.
	channels := float64(c.Count())
	p := mathext.GammaIncRegComp(channels, channels*e.Over)
	d.p = min(d.p, p*float64(c.Length)/envelope.StretchShare(d.stretch))
}

// everywhere tells whether nearly all channels are raised in an event, over the whole
// passband.
func everywhere(c *envelope.Channels, e envelope.Event, quiet float64) bool {
	from, last := max(0, e.First-1), min(c.Length-1, e.Last+1)
	rise := 0.0
	for _, v := range c.Sum[from : last+1] {
		rise += v - quiet
	}
	least := quiet*float64(last-from+1) + impulseLeast*rise
	n := c.Count()
	raised, lower, upper := 0, 0, 0
	for k := range n {
		sum := 0.0
		for _, v := range c.Of(k)[from : last+1] {
			sum += float64(v)
		}
		if sum <= least {
			continue
		}
		raised++
		if k < n/3 {
			lower++
		}
		if k >= n-n/3 {
			upper++
		}
	}
	nearlyAll := int(impulseRaised * float64(n))
	return raised >= nearlyAll && min(lower, upper) >= int(impulseThird*float64(n/3))
}

// result gives what was found; nil for nothing. mains is what is known of the mains.
func (d *impulseDetector) result(mains *MainsModulation) *Impulses {
	if d.count == 0 {
		return nil
	}
	out := &Impulses{Count: d.count, Strength: stat.Select(d.excess, len(d.excess)/2), P: min(1, d.p)}
	if mains != nil && out.Strength < impulseSingly && d.inStep(mains.Envelope) {
		return nil
	}
	if period := stat.Period(d.times, 0); period > 0 {
		out.Regular, out.Rate = true, 1/period
	} else {
		watched := max(d.seconds-d.dead, d.seconds/2)
		out.Rate = float64(d.count) / watched
		out.Low, out.High = stat.PoissonRate(d.count, watched)
	}
	return out
}

// inStep tells whether the impulses come with a frequency.
func (d *impulseDetector) inStep(hz float64) bool {
	var p stat.Phasor
	for _, at := range d.times {
		p.Add(1, math.Mod(hz*at, 1))
	}
	return len(d.times) >= inStepFewest && p.Coherence() > inStepCoherence
}
