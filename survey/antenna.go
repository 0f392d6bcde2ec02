package survey

// An Antenna is what a plan says of one beyond its name.
type Antenna struct {
	Name      string
	Kind      string // one of AntennaKinds, "" where it is not said
	CableLoss DB     // of the feed line
	Amplifier DB     // its gain, 0 for none
	// TunedLow and TunedHigh bound the stretch that a tuned antenna is peaked
	// for; both 0: not tuned. Segments that are not wholly in it are left out
	// for it.
	TunedLow, TunedHigh Hz
}

// Kinds of antennas.
const (
	KindLoop       = "loop"
	KindDipole     = "dipole"
	KindTerminator = "terminator" // at the antenna's end of the feed line: a control
)

// AntennaKinds are the kinds that a plan may name.
var AntennaKinds = []string{KindLoop, "whip", KindDipole, "wire", KindTerminator}

// Measures tells whether a segment is measured through an antenna: a tuned one
// hears only what it is tuned to.
func (a Antenna) Measures(s Segment) bool {
	return a.TunedHigh == 0 || s.Low >= a.TunedLow && s.High <= a.TunedHigh
}

// Bidirectional tells whether the antenna cannot tell a direction from its opposite,
// so that half a turn serves all bearings: loops and dipoles.
func (a Antenna) Bidirectional() bool { return a.Kind == KindLoop || a.Kind == KindDipole }
