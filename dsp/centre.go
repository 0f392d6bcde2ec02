package dsp

import "math"

const (
	// usualOffset is the power of the DC offset, in full-scale units, over which a line at the centre is more than
	// receivers of this kind have: real dongles had −58 and −60 dBFS, mean codes 0.3 off −50.
	// METHODS.md 6.12; TestLineAtCentre.
	usualOffset = 1e-4 // −40 dBFS
	// movingOver is how many times the power of the mean a line at the centre has that is no constant. A station
	// turns with the error of both clocks, a hertz and more at 10 MHz where they agree to 0.1 ppm; an offset stands still.
	// METHODS.md 6.12; TestLineAtCentre.
	movingOver = 2.0 // 3 dB
	// centreOverFloor is what such a line has over the noise of its bin for this to be told; TestLineAtCentre.
	centreOverFloor = 10.0
)

// lineAtCentre tells whether what stands at the centre, which is taken for the receiver's DC offset, may be a station's
// carrier: it is stronger than such an offset, or does not stand still.
func (m *Meter) lineAtCentre(bands []BandResult) bool {
	middle := -m.chunk.Lowest
	power := max(m.averages.Mean[middle-1], m.averages.Mean[middle], m.averages.Mean[middle+1])
	noise := math.Inf(1)
	for _, b := range bands {
		if b.Floor != nil {
			noise = min(noise, b.Floor.Density*m.chunk.Resolution())
		}
	}
	return power > centreOverFloor*noise && (power > usualOffset || power-noise > movingOver*m.moments.Offset())
}
