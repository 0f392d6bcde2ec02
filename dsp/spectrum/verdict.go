package spectrum

// A Verdict says what becomes of a frame.
type Verdict uint8

const (
	Kept     Verdict = iota // is averaged
	LeftOut                 // holds what is foreign: a pulse
	LeftLong                // or a transmission
	Pending                 // begins what may end soon in the next chunk, or last
)
