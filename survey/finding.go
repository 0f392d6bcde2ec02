package survey

// Kinds of findings, as contract and database write them.
const (
	FindingComb     = "comb"            // evenly spaced lines at multiples of one switching frequency
	FindingMains    = "mains-modulated" // noise whose power goes up and down at twice the mains frequency
	FindingImpulses = "impulses"        // shorter than 1 ms, raised over the whole usable passband
	FindingHump     = "hump"            // a broad rise over the antenna's own smooth curve
	FindingNotch    = "notch"           // an amateur band left out of a raised floor
)

// Confident is the confidence from which a finding is listed: 1 less the
// probability that a recording without any interference yields evidence so strong,
// all kinds and all spacings tried taken together.
const Confident = 0.999

// A Finding is interference seen in one reading. It is sought over the whole usable
// passband of the reading's tuning, so that readings which share a tuning share it.
// Figures that do not apply to its kind are 0.
//
// A finding with a Confidence under Confident was measured by force, since it was seen in
// another reading of its survey: it says how strong the noise source is through this
// setup, however weak, and is no evidence that there is one.
type Finding struct {
	Kind      string
	Low, High Hz      // the stretch in which it was seen
	Spacing   Hz      // comb: the switching frequency
	Width     Hz      // comb: of the fundamental's wobble: line n is n·Width wide; 0: no wobble is seen
	Lines     int     // comb: multiples in view
	Envelope  Hz      // frequency of the modulation by the mains; comb: of its own lines, 0: none was found
	Mains     Hz      // 50 or 60; 0: not known; comb without Envelope: by which the noise in the same passband is modulated
	Depth     float64 // mains-modulated, comb: (max − min)/(max + min) of the power folded at Envelope
	Sought    bool    // comb: its lines were looked at, and strong enough to show a modulation
	Shape     string  // mains-modulated: how the power goes within a mains period, in words
	Rate      Hz      // impulses a second
	Regular   bool    // impulses: they recur with a period, 1/Rate
	// RateLow and RateHigh are the 95 % interval of Rate where impulses come at random; not stored.
	RateLow, RateHigh Hz
	// Strength is over the floor: comb, a line's mean power in one resolution;
	// impulses, hump, notch (negative). NaN: no floor is known, or no power was left.
	Strength   DB
	Confidence float64
	// Power is what compares between setups: comb, the mean power of a line, full-scale
	// units; mains-modulated, the square of the amplitude with which the density swings
	// at Envelope, (FS²/Hz)². Noise is subtracted, so that it may be negative: combine in
	// these units. Sigma is its standard error.
	Power, Sigma float64
}

// Detected tells whether the reading itself is evidence for the finding.
func (f Finding) Detected() bool { return f.Confidence >= Confident }
