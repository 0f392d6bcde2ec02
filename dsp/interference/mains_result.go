package interference

import (
	"math"
	"math/cmplx"

	"nightfloor/dsp/stat"
)

// chance gives the probability that noise makes a trial's evidence, of one
// frequency tried: the greater of that by the spread between channels and that by
// the frequencies beside.
func (w *mainsWatch) chance(t *mainsTrial) float64 {
	if w.channels < FewestChannels*w.seconds || len(w.beside) < 2 || !(t.within > 0) {
		return 1
	}
	var sums, counts [2]float64 // below the beat and above it
	most := 0.0
	for _, b := range w.beside {
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
	n, count := float64(w.stretches), (counts[0]+counts[1])/2
	return max(stat.RatioTail(n, t.between, w.spread, t.within), stat.RatioTail(n, t.power, n*count, level*count))
}

// besideMedian gives what noise has at the beat, as the median of the frequencies
// beside tells: the beat itself leaks into some.
func (w *mainsWatch) besideMedian(of func(b besideLine) float64) float64 {
	w.sorted = w.sorted[:0]
	for _, b := range w.beside {
		w.sorted = append(w.sorted, of(b))
	}
	if len(w.sorted) == 0 {
		return 0
	}
	n := float64(w.stretches)
	return stat.Select(w.sorted, len(w.sorted)/2) * n / stat.GammaQuantile(n, 0.5)
}

// noiseBy gives what is noise's by the spread between channels, or by the frequencies
// beside where that is clearly more: all channels swing at once. (The greater of both
// would be too much of noise alone.)
func (w *mainsWatch) noiseBy(spread, beside float64) float64 {
	if beside > spread*(1+3/math.Sqrt(w.spread)) {
		return beside
	}
	return spread
}

// noise gives the mean |mean c|² of noise.
func (w *mainsWatch) noise(t *mainsTrial) float64 {
	spread := t.within / w.spread * float64(w.stretches) * w.seconds / w.channels
	return w.noiseBy(spread, w.besideMedian(func(b besideLine) float64 { return b.power })) / w.seconds
}

// strongest gives the trial with the strongest beat, and the probability that noise makes its
// evidence at any of the frequencies tried.
func (w *mainsWatch) strongest() (best *mainsTrial, p float64) {
	best = &w.trials[0]
	for i := range w.trials {
		if w.trials[i].power > best.power {
			best = &w.trials[i]
		}
	}
	return best, min(1, float64(len(w.trials))*w.chance(best))
}

// exact gives the beat's own frequency, by how its phase goes on within the stretches.
func (w *mainsWatch) exact(t *mainsTrial) float64 {
	off := cmplx.Phase(t.turn) / math.Pi / (w.seconds / float64(w.stretches))
	beat := 2 * t.mains
	return max(beat*(1-mainsOff), min(beat*(1+mainsOff), t.rate+off))
}

// result gives what was found, at the frequencies that hz gives columns; nil where nothing
// could be watched.
func (w *mainsWatch) result(hz func(column int) float64) *MainsModulation {
	if w.stretches == 0 {
		return nil
	}
	best, p := w.strongest()
	out := &MainsModulation{Mains: best.mains, Envelope: best.rate, P: p, Low: hz(w.low), High: hz(w.high - 1)}
	if p > mainsStands {
		// The greatest of many would read high where there is nothing.
		best = w.nominal(best.mains)
		out.Envelope = best.rate
	} else {
		out.Envelope = w.exact(best)
	}
	beat, noise := best.power/w.seconds, w.noise(best)
	out.Square, out.Sigma = w.square(best)
	if p > mainsStands {
		out.Depth = min(1, 2*math.Sqrt(max(0, beat-noise)))
		return out
	}
	course := best.wave.course(w.seconds, beat, noise)
	out.Depth, out.Shape = course.depth(), course.shape(1/best.mains)
	return out
}

// square gives MainsModulation's Square and Sigma.
//
// A cosine of amplitude a swings by c = a/2. Of noise with variance v, |c + noise|² is
// |c|² + v with the variance 2|c|²v + v².
func (w *mainsWatch) square(t *mainsTrial) (value, sigma float64) {
	v := w.noiseBy(t.scatter, w.besideMedian(func(b besideLine) float64 { return b.square })) / w.seconds
	c := t.square/w.seconds - v
	return 4 * c, 4 * math.Sqrt((2*max(0, c)*v+v*v)/float64(w.stretches))
}

// nominal gives the trial at twice the nominal mains frequency.
func (w *mainsWatch) nominal(mains float64) *mainsTrial {
	for i := range w.trials {
		if w.trials[i].rate == 2*mains {
			return &w.trials[i]
		}
	}
	panic("interference: no trial at twice the mains frequency")
}
