package interference

import (
	"math"
	"math/cmplx"
	"slices"

	"nightfloor/dsp/envelope"
	"nightfloor/dsp/stat"
)

// waveLines is how many harmonics of the mains frequency describe how the power goes within a
// mains period (METHODS.md 9.3): they tell apart what is 0.7 ms apart. Chosen.
const waveLines = 32

// waveBins is into how many parts a mains period is cut: four for each harmonic.
const waveBins = 128

// A wave is the power's course within a mains period: Σ over stretches of their
// seconds times mean(p·exp(−iωt)) at the mains frequency's multiples, each stretch
// turned so that the second, which is the modulation at twice the mains frequency, is real.
type wave struct {
	lines [waveLines + 1]complex128
	most  int     // multiples that the channels' rate shows
	phase float64 // cycles of the modulation in the last stretch, followed from stretch to stretch
	begun bool
}

// add adds a stretch, folded at a mains period; mains is the frequency in Hz.
func (w *wave) add(c *envelope.Channels, mains float64) {
	var course, count [waveBins]float64
	at, step := math.Mod(mains*c.Start, 1), mains/c.Rate
	for _, p := range c.Sum {
		if at >= 1 {
			at--
		}
		bin := int(at * waveBins)
		course[bin] += p
		count[bin]++
		at += step
	}
	for b := range course {
		if count[b] > 0 {
			course[b] /= count[b]
		} else { // a rate so low that none falls here: much like the one before
			course[b] = course[(b+waveBins-1)%waveBins]
		}
	}
	phase := cmplx.Phase(waveLine(&course, 2)) / (2 * math.Pi)
	most := min(waveLines, int(c.Rate/4/mains))
	if w.begun {
		phase, most = w.phase+math.Remainder(phase-w.phase, 1), min(w.most, most)
	}
	w.phase, w.most, w.begun = phase, most, true
	for m := 1; m <= most; m++ {
		w.lines[m] += waveLine(&course, m) * cmplx.Rect(c.Seconds(), -math.Pi*float64(m)*phase)
	}
}

// waveLine gives mean(p·exp(−iωt)) of a mains period's course at the multiple m.
func waveLine(course *[waveBins]float64, m int) (c complex128) {
	for b, p := range course {
		c += complex(p, 0) * waveTurns[m*(2*b+1)%(2*waveBins)]
	}
	return c / complex(waveBins*sincOf(float64(m)/waveBins), 0)
}

// waveTurns holds exp(−iπ·k/waveBins): half bins of a period.
var waveTurns = func() (t [2 * waveBins]complex128) {
	for k := range t {
		t[k] = cmplx.Rect(1, -math.Pi*float64(k)/waveBins)
	}
	return t
}()

// A waveCourse is a period's course of the power over its mean.
type waveCourse struct {
	even, all [waveBins * 2]float64 // by the mains' even harmonics, the modulation's; by all
}

// waveStands is how many times the noise's mean |c|² a harmonic must have to count: one
// of 32 does by chance in 3 % of the readings.
const waveStands = 7.0

// course gives the course by the harmonics that stand out of noise, whose mean |c|² is
// noise; power is |c|² of the modulation, the noise with it. Lanczos' factors keep the sum of
// many harmonics from ringing at steep edges. A comb's lines show few, which do not ring:
// there the factors would only make the depth smaller than it is.
func (w *wave) course(seconds, power, noise float64, lanczos bool) *waveCourse {
	c := &waveCourse{}
	for m := 1; m <= w.most; m++ {
		line := w.lines[m] / complex(seconds, 0)
		if m == 2 {
			line = complex(math.Sqrt(max(0, power-noise)), 0)
		} else if s := stat.SquaredAbs(line); s < waveStands*noise {
			continue
		} else {
			line *= complex(math.Sqrt(1-noise/s), 0)
		}
		if lanczos {
			line *= complex(sincOf(float64(m)/float64(w.most+1)), 0)
		}
		for i := range c.all {
			v := 2 * real(line*cmplx.Rect(1, 2*math.Pi*float64(m*i)/float64(len(c.all))))
			c.all[i] += v
			if m%2 == 0 {
				c.even[i] += v
			}
		}
	}
	for i := range c.all {
		c.all[i] = max(0, 1+c.all[i])
		c.even[i] = max(0, 1+c.even[i])
	}
	return c
}

// depth gives (max − min)/(max + min) over a period of the modulation.
func (c *waveCourse) depth() float64 {
	low, high := slices.Min(c.even[:]), slices.Max(c.even[:])
	return (high - low) / (high + low)
}

// waveNarrow is the share of half a mains period under which a hump is a spike; chosen.
const waveNarrow = 1.0 / 8

// shape tells in words how the power goes within a mains period of so many seconds:
// in how many humps it stands over the middle between its extremes, and how wide they
// are. "" where that is no shape that has a name.
func (c *waveCourse) shape(period float64) string {
	n := len(c.all)
	middle := (slices.Min(c.all[:]) + slices.Max(c.all[:])) / 2
	first := slices.IndexFunc(c.all[:], func(p float64) bool { return p <= middle })
	humps, widest, width := 0, 0, 0
	for i := range n {
		if c.all[(first+i)%n] <= middle {
			width = 0
			continue
		}
		if width++; width == 1 {
			humps++
		}
		widest = max(widest, width)
	}
	kind := "hump"
	if float64(widest)*period/float64(n) < waveNarrow*period/2 {
		kind = "spike"
	}
	switch humps {
	case 1:
		return "one " + kind
	case 2:
		return "two " + kind + "s"
	}
	return ""
}
