package survey

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// A FrontEnd is how a dongle receives shortwave, which lies below the 24 MHz at which its
// tuner begins.
type FrontEnd struct {
	Way    string  // one of the ways below
	Offset Hz      // of an external up-converter's oscillator, else 0
	PPM    float64 // how far the dongle's clock runs fast, parts per million
	Filter string  // FilterLowPass or FilterHighPass at 14.4 MHz, "" for none
	// Rejection is what the filter takes off at 28.8 MHz − f, as measured, for segments by
	// name; under "" it is that of all others.
	Rejection map[string]DB
	HighPass  Hz   // corner of a high-pass that keeps medium wave out, 0 for none
	Bias      bool // the bias tee feeds an antenna's amplifier
}

// Ways of a front end.
const (
	WayTuner   = "tuner" // as it is: 24 MHz and above only
	WayDirectI = "direct sampling I"
	WayDirectQ = "direct sampling Q"
	WayUp      = "up-converter"
	WayBuiltIn = "built-in up-converter"
)

// Filters that decide on which side of 14.4 MHz a received signal is.
const (
	FilterLowPass  = "low-pass"
	FilterHighPass = "high-pass"
)

var (
	ways    = []string{WayDirectI, WayDirectQ, WayUp, WayBuiltIn, WayTuner}
	filters = []string{FilterLowPass, FilterHighPass}
)

// Limits of what each way receives. A tuner's lowest oscillator is 27.66 MHz,
// 3.57 MHz above what it hears (PHYSICS.md 7.6); the converter samples at
// 28.8 MHz (TestReach).
const (
	TunerLowest   Hz = 24.1e6
	TunerHighest  Hz = 1750e6
	directHighest Hz = 28.8e6
	foldFrequency Hz = 14.4e6
)

// HasKnownWay tells whether the front end names one of the ways.
func (f FrontEnd) HasKnownWay() bool { return slices.Contains(ways, f.Way) }

// Direct tells whether the chip's converter samples the antenna itself.
func (f FrontEnd) Direct() bool { return f.Way == WayDirectI || f.Way == WayDirectQ }

// Check tells why there can be no such front end, nil where there can.
func (f FrontEnd) Check() error {
	switch {
	case f.Way != "" && !f.HasKnownWay():
		return fmt.Errorf("front end %q is not known; choose one of %s", f.Way, strings.Join(ways, ", "))
	case f.Filter != "" && !slices.Contains(filters, f.Filter):
		return fmt.Errorf("filter %q is not known; choose %s or %s, of 14.4 MHz", f.Filter, FilterLowPass, FilterHighPass)
	case f.Way == WayUp && f.Offset <= 0:
		return fmt.Errorf("an up-converter needs its oscillator's frequency; write offset = \"125 MHz\", for example")
	case f.Way != WayUp && f.Offset != 0:
		return fmt.Errorf("offset is that of an up-converter, and the front end is %q; leave it out", f.Way)
	case f.PPM < -200 || f.PPM > 200:
		return fmt.Errorf("a clock error of %g ppm is more than any crystal has; give it within ±200", f.PPM)
	}
	return nil
}

// Reach tells why a segment is out of what the front end receives, nil where it is not.
func (f FrontEnd) Reach(s Segment) error {
	switch {
	case f.Direct() && s.High > directHighest:
		return fmt.Errorf("segment %s: direct sampling ends at %v; use the tuner or an up-converter above", s.Name, directHighest)
	case (f.Way == WayTuner || f.Way == "") && s.Low < TunerLowest:
		return fmt.Errorf("segment %s: a dongle's tuner begins at %v; say by front_end in [receiver] how it receives below: %s, %s, %s or %s",
			s.Name, TunerLowest, WayDirectI, WayDirectQ, WayUp, WayBuiltIn)
	}
	return nil
}

// LeastRejection is what a filter must take off at 28.8 MHz − f for a segment to count as free
// of images. Chosen: a thousandth of the power is left (PHYSICS.md 7.5; TestImages).
const LeastRejection DB = 30

// Images tells why images may stand in a segment, nil where there are none. The converter of
// direct sampling runs at 28.8 MHz: it hears 28.8 MHz − f at f, mirrored, everywhere. A filter
// of 14.4 MHz of which it was measured that it takes enough off there keeps them out of what lies
// on its own side.
func (f FrontEnd) Images(s Segment) error {
	side, cut := FilterLowPass, FilterHighPass
	if s.Low >= foldFrequency {
		side, cut = cut, side
	}
	rejection, said := f.Rejection[s.Name]
	if !said {
		rejection = f.Rejection[""]
	}
	switch {
	case !f.Direct():
		return nil
	case s.Low < foldFrequency && s.High > foldFrequency:
		return errors.New("it reaches over 14.4 MHz, where direct sampling hears everything twice whatever the filter; end it there, and begin another")
	case f.Filter == cut:
		return fmt.Errorf("a %s of 14.4 MHz takes away what is to be measured; use the other filter, or leave it out", cut)
	case f.Filter == "":
		return fmt.Errorf("direct sampling hears 28.8 MHz − f at f, mirrored; put in a %s of 14.4 MHz, then say filter = %q and filter_rejection", side, side)
	case rejection <= 0:
		return fmt.Errorf("what the %s leaves of 28.8 MHz − f is not known; measure it, and say filter_rejection = \"34 dB\", with your figure", side)
	case rejection < LeastRejection:
		return fmt.Errorf("the %s takes only %g dB off at 28.8 MHz − f, and %g dB keep images out; use a steeper one, or leave it out", side, float64(rejection), float64(LeastRejection))
	}
	return nil
}

// FM broadcasters, which direct sampling hears at f from 86.4 MHz + f and 115.2 MHz − f.
const (
	FMLowest  Hz = 87.5e6
	FMHighest Hz = 108e6
)

// FoldsFM tells whether FM broadcasters may stand in a segment: direct sampling folds them in
// unless a low-pass stands in the way.
func (f FrontEnd) FoldsFM(s Segment) bool {
	const three, four Hz = 3 * directHighest, 4 * directHighest // of the converter's rates
	return f.Direct() && f.Filter != FilterLowPass &&
		(s.High > FMLowest-three && s.Low < FMHighest-three || s.High > four-FMHighest && s.Low < four-FMLowest)
}

// DongleRate tells why a dongle's chip cannot run at a sample rate, nil where it
// can (PHYSICS.md 7.1).
func DongleRate(rate Hz) error {
	if rate >= 225001 && rate <= 300e3 || rate >= 900001 && rate <= 3.2e6 {
		return nil
	}
	return fmt.Errorf("a dongle does not run at %v, only at 225.001 to 300 kHz and at 900.001 to 3200 kHz; write sample_rate = \"2.4 MHz\"", rate)
}
