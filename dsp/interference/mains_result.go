package interference

import (
	"math"
	"math/cmplx"

	"nightfloor/dsp/envelope"
	"nightfloor/dsp/stat"
)

// pValue gives the probability that noise gives a trial's evidence, at one
// frequency tried: the greater of that by the spread between channels and that by
// the frequencies beside.
func (d *mainsDetector) pValue(t *mainsTrial) float64 {
	if d.channels < FewestChannels*d.seconds || len(d.beside) < 2 || !(t.within > 0) {
		return 1
	}
	var sums, counts [2]float64 // below the frequency tried and above it
	most := 0.0
	for _, b := range d.beside {
		side := 0
		if b.rate > t.rate {
			side = 1
		}
		sums[side], counts[side] = sums[side]+b.power, counts[side]+1
		most = max(most, b.power)
	}
	if most > besideShare*t.power {
		return 1
	}
	// Swings fall or rise over frequency: what is between the two sides is no more than
	// the higher of them. Neighbours half a resolution apart count half.
	level := max(sums[0]/max(1, counts[0]), sums[1]/max(1, counts[1]))
	n, count := float64(d.stretches), (counts[0]+counts[1])/2
	return max(stat.RatioTail(n, t.between, d.spread, t.within), stat.RatioTail(n, t.power, n*count, level*count))
}

// besideMedian gives what noise has at the frequency tried, as the median of the frequencies
// beside tells: the modulation itself leaks into some.
func (d *mainsDetector) besideMedian(of func(b besideLine) float64) float64 {
	d.sorted = d.sorted[:0]
	for _, b := range d.beside {
		d.sorted = append(d.sorted, of(b))
	}
	if len(d.sorted) == 0 {
		return 0
	}
	n := float64(d.stretches)
	return stat.Select(d.sorted, len(d.sorted)/2) * n / stat.GammaQuantile(n, 0.5)
}

// noiseBy gives what is noise's by the spread between channels, or by the frequencies
// beside where that is clearly more: all channels swing at once. (The greater of both
// would be too much of noise alone.)
func (d *mainsDetector) noiseBy(spread, beside float64) float64 {
	if beside > spread*(1+3/math.Sqrt(d.spread)) {
		return beside
	}
	return spread
}

// noise gives the mean |mean c|² of noise.
func (d *mainsDetector) noise(t *mainsTrial) float64 {
	spread := t.within / d.spread * float64(d.stretches) * d.seconds / d.channels
	return d.noiseBy(spread, d.besideMedian(func(b besideLine) float64 { return b.power })) / d.seconds
}

// strongest gives the trial with the strongest modulation, and the probability that noise makes its
// evidence at any of the frequencies tried.
func (d *mainsDetector) strongest() (best *mainsTrial, p float64) {
	best = &d.trials[0]
	for i := range d.trials {
		if d.trials[i].power > best.power {
			best = &d.trials[i]
		}
	}
	return best, min(1, float64(len(d.trials))*d.pValue(best))
}

// exact gives the modulation's own frequency, by how its phase goes on within the stretches.
func (d *mainsDetector) exact(t *mainsTrial) float64 {
	off := cmplx.Phase(t.turn) / math.Pi / (d.seconds / float64(d.stretches))
	nominal := 2 * t.mains
	return max(nominal*(1-envelope.MainsOff), min(nominal*(1+envelope.MainsOff), t.rate+off))
}

// result gives what was found, at the frequencies that hz gives columns; nil where nothing
// could be watched.
func (d *mainsDetector) result(hz func(column int) float64) *MainsModulation {
	if d.stretches == 0 {
		return nil
	}
	best, p := d.strongest()
	out := &MainsModulation{Mains: best.mains, Envelope: best.rate, P: p, Low: hz(d.low), High: hz(d.high - 1)}
	if p > mainsStands {
		// The greatest of many would read high where there is nothing.
		best = d.nominal(best.mains)
		out.Envelope = best.rate
	} else {
		out.Envelope = d.exact(best)
	}
	power, noise := best.power/d.seconds, d.noise(best)
	out.Square, out.Sigma = d.square(best)
	if p > mainsStands {
		out.Depth = min(1, 2*math.Sqrt(max(0, power-noise)))
		return out
	}
	course := best.wave.course(d.seconds, power, noise)
	out.Depth, out.Shape = course.depth(), course.shape(1/best.mains)
	return out
}

// square gives MainsModulation's Square and Sigma.
//
// A cosine of amplitude a swings by c = a/2. Of noise with variance v, |c + noise|² is
// |c|² + v with the variance 2|c|²v + v².
func (d *mainsDetector) square(t *mainsTrial) (value, sigma float64) {
	v := d.noiseBy(t.scatter, d.besideMedian(func(b besideLine) float64 { return b.square })) / d.seconds
	c := t.square/d.seconds - v
	return 4 * c, 4 * math.Sqrt((2*max(0, c)*v+v*v)/float64(d.stretches))
}

// nominal gives the trial at twice the nominal mains frequency.
func (d *mainsDetector) nominal(mains float64) *mainsTrial {
	for i := range d.trials {
		if d.trials[i].rate == 2*mains {
			return &d.trials[i]
		}
	}
	panic("interference: no trial at twice the mains frequency")
}
