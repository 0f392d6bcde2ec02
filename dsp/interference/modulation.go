package interference

import (
	"nightfloor/dsp/envelope"
	"nightfloor/dsp/stat"
)

// A Modulation is how the power of channels that are no free ones, a comb's lines, swings
// with the mains.
type Modulation struct {
	Power   float64 // Σ seconds·|c|², c half the depth of a cosine
	Noise   float64 // mean |c|² of noise
	Seconds float64 // that were measured
	P       float64 // that noise gives modulation so strong, all frequencies tried taken together

	// Where Confidence(p) is modulationListed or more:
	Shared   bool    // most channels swing as their mean does
	Mains    float64 // Hz, nominal: 50 or 60
	Envelope float64 // Hz, of the modulation
	Depth    float64 // (max − min)/(max + min) of the power folded at envelope
}

// modulationListed is the confidence from which modulation is told, that of a finding
// (METHODS.md 14.1).
const modulationListed = 0.999

// SeekModulation seeks modulation of stretches of channels at twice the mains frequency, 0
// for both. Each channel counts alike, and what is one channel's own is told by the spread
// between them. ok is false where no stretch is long enough.
func SeekModulation(mains float64, stretches []*envelope.Channels) (b Modulation, ok bool) {
	d := newMainsDetector(mains)
	for _, c := range stretches {
		d.add(c)
	}
	if d.stretches == 0 {
		return Modulation{}, false
	}
	best, p := d.strongest()
	b = Modulation{Power: best.power, Noise: d.noise(best), Seconds: d.seconds, P: p}
	if Confidence(p) < modulationListed {
		return b, true
	}
	b.Shared, b.Mains, b.Envelope = d.shared(best, stretches), best.mains, d.ownFrequency(best)
	b.Depth = best.wave.course(d.seconds, best.power/d.seconds, b.Noise, false).depth()
	return b, true
}

// shared tells whether most of the channels swing as their mean does, by half as much at
// the least.
func (d *mainsDetector) shared(t *mainsTrial, all []*envelope.Channels) bool {
	with, of := 0, 0
	for _, c := range all {
		length := envelope.BlockLength(c.Rate, mainsBlock)
		d.fill(c, length)
		n := len(d.average)
		d.turn(n, t.rate, c.Rate/float64(length), c.Start)
		mean := stat.Dot(d.average, d.turning)
		for k := range c.Count() {
			swing := stat.Dot(d.blocks[k*n:(k+1)*n], d.turning)
			if of++; real(swing)*real(mean)+imag(swing)*imag(mean) > stat.SquaredAbs(mean)/2 {
				with++
			}
		}
	}
	return 2*with > of
}
