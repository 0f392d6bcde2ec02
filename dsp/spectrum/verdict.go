package spectrum

// A Verdict says whether a frame is averaged.
type Verdict uint8

// The verdicts.
const (
	Kept     Verdict = iota // it is averaged
	LeftOut                 // left out: it holds a pulse
	LeftLong                // left out: it holds a short transmission
	Pending                 // it begins something whose length the next chunk will show
)
