package dsp

// A verdict says what becomes of a frame.
type verdict uint8

const (
	kept     verdict = iota
	leftOut          // holds what is foreign: a pulse
	leftLong         // or a transmission
	pending          // begins what may end soon in the next chunk, or last
)
