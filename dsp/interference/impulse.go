package interference

import (
	"math"
	"slices"

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
	list    []impulse
	count   int     // also beyond the list
	seconds float64 // in which impulses were sought
	dead    float64 // seconds in which another would not have been seen apart
	stretch int     // counts the stretches
	events  []envelope.Event
	sorted  []float64
}

// An impulse is one event.
type impulse struct {
	at     float64 // seconds into the reading
	excess float64 // greatest power over that beside
	dead   float64 // seconds in which another would not have been seen apart
	p      float64 // see Impulses
}

// reset forgets the recording.
func (d *impulseDetector) reset() {
	d.list = nil // that of the last reading may still be in use
	d.count, d.seconds, d.dead, d.stretch = 0, 0, 0, 0
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
	dead := float64(e.Length())/c.Rate + impulseGap
	d.count++
	d.dead += dead
	if len(d.list) == impulseList {
		return
	}
	// The mean of K exponential powers, at any of the samples.
	channels := float64(c.Count())
	p := mathext.GammaIncRegComp(channels, channels*e.Over)
	d.list = append(d.list, impulse{at: c.Start + float64(e.Top)/c.Rate, excess: e.Over, dead: dead, p: p * float64(c.Length) / envelope.StretchShare(d.stretch)})
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
	excess, times, p := make([]float64, len(d.list)), make([]float64, len(d.list)), 1.0
	for i, x := range d.list {
		times[i], excess[i], p = x.at, x.excess, min(p, x.p)
	}
	out := &Impulses{Count: d.count, Strength: stat.Select(excess, len(excess)/2), P: p, list: d.list, seconds: d.seconds}
	if mains != nil && out.Strength < impulseSingly && inStep(times, mains.Envelope) {
		return nil
	}
	if period := stat.Period(times, 0); period > 0 {
		out.Regular, out.Rate = true, 1/period
	} else {
		watched := max(d.seconds-d.dead, d.seconds/2)
		out.Rate = float64(d.count) / watched
		out.Low, out.High = stat.PoissonRate(d.count, watched)
	}
	return out
}

// A Span is a stretch of time, in seconds into the reading.
type Span struct{ From, To float64 }

// overloadBeside is how long before and behind a span in which the converter was overloaded nothing is told, in
// seconds: twice what tells the level beside an impulse, for what drives it rises and falls. Chosen; METHODS.md 10.3.
const overloadBeside = 2 * (impulseBeside + impulseGap)

// Outside gives those of the impulses that do not lie in spans in which the converter was overloaded, or close
// beside them, with their rate in the rest. Spans are in order. It is nil where there are none, or the rest is less than half of the
// time; and where more were found than are listed.
func (i *Impulses) Outside(overloaded []Span) *Impulses {
	if i.Count > len(i.list) {
		return nil
	}
	d := impulseDetector{seconds: i.seconds}
	wide := make([]Span, len(overloaded))
	for k, s := range overloaded {
		wide[k] = Span{s.From - overloadBeside, s.To + overloadBeside}
		if k > 0 {
			wide[k].From = max(wide[k].From, wide[k-1].To)
		}
		d.seconds -= max(0, wide[k].To-wide[k].From)
	}
	if d.seconds < i.seconds/2 {
		return nil
	}
	for _, x := range i.list {
		if !slices.ContainsFunc(wide, func(s Span) bool { return x.at >= s.From && x.at < s.To }) {
			d.list, d.dead, d.count = append(d.list, x), d.dead+x.dead, d.count+1
		}
	}
	return d.result(nil)
}

// inStep tells whether events come with a frequency.
func inStep(times []float64, hz float64) bool {
	var p stat.Phasor
	for _, at := range times {
		p.Add(1, math.Mod(hz*at, 1))
	}
	return len(times) >= inStepFewest && p.Coherence() > inStepCoherence
}
