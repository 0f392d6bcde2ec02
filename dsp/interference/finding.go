package interference

import (
	"math"

	"nightfloor/dsp/spectrum"
)

// Findings are the interference found over the usable passband of one recording. Combs are
// not among them: they are sought in several passbands at once (comb.Seek).
//
// The P of a finding is the probability that a recording of noise and stations alone gives
// evidence at least as strong. It counts everything that was tried for this kind of finding;
// Confidence counts all kinds.
type Findings struct {
	Mains    *MainsModulation // nil: no channel was free, or the recording is too short
	Impulses *Impulses        // nil: none
	Humps    []Hump
	Notches  []Notch
}

// Swing gives the density, FS²/Hz, by which the noise swings with the mains at the most:
// two standard errors over what was measured.
func (f *Findings) Swing() float64 {
	if f.Mains == nil {
		return 0
	}
	return math.Sqrt(max(0, f.Mains.Square+2*f.Mains.Sigma))
}

// Options say what is known ahead of the interference to be sought.
type Options struct {
	Mains float64         // Hz, 50 or 60; 0: both are tried
	Quiet []spectrum.Band // that devices leave out of what they radiate: amateur bands
}

// Kinds is how many kinds of findings are sought in a recording.
const Kinds = 5

// Confidence gives 1 − the probability that a recording without any interference
// yields evidence of any kind so strong, p being that of one kind.
func Confidence(p float64) float64 { return max(0, 1-Kinds*p) }

// MainsModulation is noise whose power is modulated at twice the mains frequency, sought in
// all free channels of the passband together. It is measured whether it stands out
// or not; where it does not, at twice the nominal mains frequency. Fewer than four free
// channels cannot tell it from one station's hum: P is 1.
type MainsModulation struct {
	Mains     float64 // Hz, nominal: 50 or 60
	Envelope  float64 // Hz, of the modulation as found, within 1 % of 2·Mains
	Depth     float64 // (max − min)/(max + min) of the power folded at Envelope
	Shape     string  // course of the power within a mains period: "one hump", "two humps", "one spike", "two spikes"; "": not told
	Low, High float64 // Hz, the stretch in which it was seen
	// Square is the squared amplitude of the density's swing at Envelope, (FS²/Hz)²,
	// noise subtracted: it may be negative. Sigma is its standard error.
	Square, Sigma float64
	P             float64
}

// Impulses are pulses shorter than a millisecond, raised over the whole passband. None
// are told where fewer than four channels, or less than half of the passband, are free.
// A receiver that clips makes such pulses itself.
type Impulses struct {
	Count     int
	Rate      float64 // a second
	Low, High float64 // a second: the 95 % interval of Rate where they come at random; 0: they are regular
	Regular   bool    // they recur with a period, 1/Rate
	Strength  float64 // median of their greatest power in a channel of 10 kHz over the noise beside them, a ratio
	P         float64

	list    []impulse
	seconds float64 // in which they were sought
}

// A Hump is a broad rise over the antenna's own smooth curve.
type Hump struct {
	Low, High float64 // Hz, between the places of half its height
	Strength  float64 // its greatest height over the curve, a ratio
	P         float64
}

// A Notch is a band left out of a raised floor.
type Notch struct {
	spectrum.Band
	Strength float64 // power in it over that on its sides, a ratio under 1
	P        float64
}
