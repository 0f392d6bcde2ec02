package survey

// An Antenna is what a plan says of one beyond its name.
type Antenna struct {
	Name      string
	Kind      string // one of AntennaKinds, "" where it is not said
	CableLoss DB     // of the feed line
	Amplifier DB     // its gain, 0 for none
	Factor    *DB    // dB(1/m), field over voltage at 50 ohm, an amplifier included; nil where it is not said
	// TunedLow and TunedHigh bound the stretch that a tuned antenna is peaked
	// for; both 0: not tuned. Segments that are not wholly in it are left out
	// for it.
	TunedLow, TunedHigh Hz
	Active              bool     // it has an amplifier of its own
	Of                  string   // the antenna of which this is another condition, "" for none
	Removed             []string // antennas that are taken away while it is measured
	At                  string   // where a terminator is: AtAntenna or AtReceiver; "" counts as AtAntenna
}

// Kinds of antennas.
const (
	KindLoop       = "loop"
	KindWhip       = "whip"
	KindDipole     = "dipole"
	KindTerminator = "terminator" // in place of the antenna: a control
	// KindReplaced is an active antenna with a dummy in place of its element: a control that
	// tells its amplifier's own noise.
	KindReplaced = "element replaced"
)

// Where a terminator is.
const (
	AtAntenna  = "antenna"  // at the antenna's end of the feed line
	AtReceiver = "receiver" // at the receiver's input
)

// AntennaKinds are the kinds that a plan may name.
var AntennaKinds = []string{KindLoop, KindWhip, KindDipole, "wire", KindTerminator, KindReplaced}

// Measures tells whether a segment is measured through an antenna: a tuned one
// hears only what it is tuned to.
func (a Antenna) Measures(s Segment) bool {
	return a.TunedHigh == 0 || s.Low >= a.TunedLow && s.High <= a.TunedHigh
}

// Bidirectional tells whether the antenna cannot tell a direction from its opposite,
// so that half a turn serves all bearings: loops and dipoles.
func (a Antenna) Bidirectional() bool { return a.Kind == KindLoop || a.Kind == KindDipole }

// Control tells whether the antenna is a control, which hears nothing but what comes in by
// another way than an antenna's element: it is compared with, and never ranked.
func (a Antenna) Control() bool { return a.Kind == KindTerminator || a.Kind == KindReplaced }

// AtReceiver tells whether the antenna is a terminator at the receiver's input, which shows the receiver's own noise.
func (a Antenna) AtReceiver() bool { return a.Kind == KindTerminator && a.At == AtReceiver }

// Serves tells whether what an antenna's dummy shows holds for another one: for the antenna that it is of, and for
// that in other conditions.
func (a Antenna) Serves(other Antenna) bool {
	return a.Kind == KindReplaced && (other.Name == a.Of || other.Of == a.Of) && !other.Control()
}

// Isolates tells whether the antenna is a control that shows what leaks into another one: a terminator at the antenna's
// end of the feed line, or what serves that one.
func (a Antenna) Isolates(other Antenna) bool {
	return a.Kind == KindTerminator && !a.AtReceiver() || a.Serves(other)
}

// HasAmplifier tells whether the antenna has an amplifier of its own, which makes noise.
func (a Antenna) HasAmplifier() bool { return a.Active || a.Amplifier > 0 }
