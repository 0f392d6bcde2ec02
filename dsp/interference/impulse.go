package interference

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mathext"

	"nightfloor/dsp/envelope"
	"nightfloor/dsp/stat"
)

// Figures of the search for impulses; see also pulseLongest.
const (
	impulseFalse    = 1e-5   // false alarms in a reading of noise
	impulseGap      = 0.2e-3 // s: a shorter gap does not part two
	impulseBeside   = 2e-3   // s on either side, impulseGap away, that tell the level
	impulseQuantile = 0.75   // of the moments there: a burst that fills a quarter raises it
	impulseChannels = 4      // fewer, or less of the passband, say nothing of all of it
	impulseSpan     = 0.5    // of the passband
	impulseRaised   = 0.8    // of the channels
	impulseThird    = 0.6    // of the lower and of the upper third of them
	impulseLeast    = 0.07   // of the mean rise that a channel shows: an exponential variable passes in 93 %
	impulseList     = 10000  // events that are kept
	impulseSingly   = 10.0   // over the noise, where they come with the mains
	regularShare    = 0.8    // of the intervals that are alike where impulses are regular
	regularSpread   = 0.05   // by which they differ
	regularTimes    = 3      // periods at most from one to the next that was seen
	regularFewest   = 4      // impulses that tell
)

// An impulse is an event of under a millisecond in the whole passband.
type impulse struct {
	at, excess float64 // seconds into the reading; greatest power over that beside
}

// impulseWatch finds impulses: moments at which the mean power of the channels stands
// out over the level of the whole stretch and over that on both sides, and nearly all
// channels are raised.
type impulseWatch struct {
	found   []impulse
	count   int     // also beyond the list
	seconds float64 // watched
	dead    float64 // seconds in which another would not have been seen apart
	stretch int
	low     float64 // seconds into the reading from…to which impulses are its own in the
	high    float64 // stretch in hand
	p       float64 // see Impulses
	sorted  []float64
}

// reset forgets the recording.
func (w *impulseWatch) reset() {
	w.found, w.count, w.seconds, w.dead, w.stretch, w.p = w.found[:0], 0, 0, 0, 0, math.Inf(1)
}

// add looks at a stretch of the passband, so many columns wide.
func (w *impulseWatch) add(c *envelope.Channels, columns int) {
	edge := float64(envelope.BlockLength(c.Rate, envelope.PulseLongest)) / c.Rate // so near an end a burst would be cut
	w.seconds += w.search(c, columns, c.Start+edge, c.Start+c.Seconds()-edge)
}

// addBetween looks at what lies about the place where two stretches meet: the first ended
// end seconds into the reading, the second begins at begin.
func (w *impulseWatch) addBetween(c *envelope.Channels, columns int, end, begin float64) {
	edge := float64(envelope.BlockLength(c.Rate, envelope.PulseLongest)) / c.Rate
	w.seconds += w.search(c, columns, end-edge, begin+edge)
}

// search looks for impulses of which a part lies in low…high seconds into the reading, and
// gives the seconds in which they were looked for.
func (w *impulseWatch) search(c *envelope.Channels, columns int, low, high float64) (seconds float64) {
	if c.Count() < impulseChannels || float64(c.High-c.Low) < impulseSpan*float64(columns) || high <= low {
		return 0
	}
	w.stretch++
	w.low, w.high = low-0.25/c.Rate, high-0.25/c.Rate // a quarter of a sample for rounding
	shape := float64(c.Count())
	limit := w.limit(c)
	quiet := w.level(c.Sum, 0.5, shape)
	from, last, peak := -1, 0, impulse{}
	for i, v := range c.Sum {
		if v <= limit*quiet { // spares the look beside
			continue
		}
		level := max(quiet, w.beside(c, i, -1, shape), w.beside(c, i, +1, shape))
		if v <= limit*level {
			continue
		}
		if from >= 0 && float64(i-last) > impulseGap*c.Rate {
			w.close(c, from, last, peak, quiet)
			from = -1
		}
		if from < 0 {
			from, peak = i, impulse{}
		}
		if last = i; v/level > peak.excess {
			peak = impulse{at: c.Start + float64(i)/c.Rate, excess: v / level}
		}
	}
	if from >= 0 {
		w.close(c, from, last, peak, quiet)
	}
	return high - low
}

// level gives the noise's mean power as a quantile of the moments tells it: each is
// gamma distributed, its shape the number of channels.
func (w *impulseWatch) level(moments []float64, share, shape float64) float64 {
	if len(moments) == 0 {
		return 0
	}
	w.sorted = append(w.sorted[:0], moments...)
	return stat.Select(w.sorted, int(share*float64(len(moments)-1))) * shape / stat.GammaQuantile(shape, share)
}

// beside gives the level on one side of sample i.
func (w *impulseWatch) beside(c *envelope.Channels, i, direction int, shape float64) float64 {
	near, far := envelope.BlockLength(c.Rate, impulseGap), envelope.BlockLength(c.Rate, impulseGap+impulseBeside)
	from, to := i+near, i+far
	if direction < 0 {
		from, to = i-far+1, i-near+1
	}
	from, to = max(0, min(from, len(c.Sum))), max(0, min(to, len(c.Sum)))
	return w.level(c.Sum[from:to], impulseQuantile, shape)
}

// close takes in the run of moments from…last if it is an impulse.
func (w *impulseWatch) close(c *envelope.Channels, from, last int, peak impulse, quiet float64) {
	edge := envelope.BlockLength(c.Rate, envelope.PulseLongest)
	begin, end := c.Start+float64(from)/c.Rate, c.Start+float64(last)/c.Rate
	if last-from+1 > edge || from < edge || last >= c.Length-edge || end < w.low || begin >= w.high || !w.everywhere(c, from, last, quiet) {
		return
	}
	w.count++
	w.dead += float64(last-from+1)/c.Rate + impulseGap
	if len(w.found) < impulseList {
		w.found = append(w.found, peak)
	}
	// The mean of K exponential powers, at any of the samples; the stretches of a reading
	// of unknown length share in it as 6/(π²·i²).
	channels, level := float64(c.Count()), peak.excess
	chance := mathext.GammaIncRegComp(channels, channels*level)
	w.p = min(w.p, chance*float64(c.Length)*stretchShare(w.stretch))
}

// stretchShare gives π²i²/6: over all i its inverses sum to 1.
func stretchShare(i int) float64 { return math.Pi * math.Pi / 6 * float64(i) * float64(i) }

// limit gives the ratio that noise passes impulseFalse times in a reading.
func (w *impulseWatch) limit(c *envelope.Channels) float64 {
	chance := impulseFalse / stretchShare(w.stretch) / float64(c.Length)
	channels := float64(c.Count())
	low, high := 1.0, 1e3
	for high > 1.001*low {
		middle := math.Sqrt(low * high)
		if mathext.GammaIncRegComp(channels, channels*middle) > chance {
			low = middle
		} else {
			high = middle
		}
	}
	return high
}

// everywhere tells whether nearly all channels are raised in the samples from…last,
// over the whole passband.
func (w *impulseWatch) everywhere(c *envelope.Channels, from, last int, quiet float64) bool {
	from, last = max(0, from-1), min(c.Length-1, last+1)
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

// result gives what was found; nil for nothing. beat is what is known of the mains.
func (w *impulseWatch) result(beat *MainsModulation) *Impulses {
	if w.count == 0 {
		return nil
	}
	w.sorted = w.sorted[:0]
	for _, f := range w.found {
		w.sorted = append(w.sorted, f.excess)
	}
	out := &Impulses{Count: w.count, Strength: stat.Select(w.sorted, len(w.sorted)/2), P: min(1, w.p)}
	if beat != nil && out.Strength < impulseSingly && w.inStep(beat.Envelope) {
		return nil
	}
	if period := w.period(); period > 0 {
		out.Regular, out.Rate = true, 1/period
	} else {
		out.Rate = float64(w.count) / max(w.seconds-w.dead, w.seconds/2)
	}
	return out
}

// inStep tells whether the impulses come with the beat.
func (w *impulseWatch) inStep(beat float64) bool {
	var sum complex128
	for _, f := range w.found {
		sum += cmplx.Rect(1, 2*math.Pi*math.Mod(beat*f.at, 1))
	}
	n := float64(len(w.found))
	return n >= envelope.InStepSure && stat.SquaredAbs(sum) > 0.25*n*n
}

// period gives the seconds from impulse to impulse where these are regular, else 0. One
// or two missing between two do not matter.
func (w *impulseWatch) period() float64 {
	if len(w.found) < regularFewest {
		return 0
	}
	w.sorted = w.sorted[:0]
	for i := 1; i < len(w.found); i++ {
		w.sorted = append(w.sorted, w.found[i].at-w.found[i-1].at)
	}
	n := len(w.sorted)
	middle := stat.Select(w.sorted, n/2)
	sum, periods, alike := 0.0, 0.0, 0
	for _, d := range w.sorted {
		times := max(1, math.Round(d/middle))
		if times <= regularTimes && math.Abs(d-times*middle) < regularSpread*middle {
			sum, periods = sum+d, periods+times
			alike++
		}
	}
	if float64(alike) < regularShare*float64(n) || alike < regularFewest-1 {
		return 0
	}
	return sum / periods
}
