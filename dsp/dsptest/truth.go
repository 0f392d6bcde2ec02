package dsptest

// A Carrier is one coherent line that was put in.
type Carrier struct {
	Hz    float64
	Level float64 // dBFS of the line itself; its mean where it fades
}

// Truth is what was put in.
type Truth struct {
	Carriers []Carrier
	Pulses   []float64 // seconds from the start, those read so far

	white  float64 // mean density of white and gated noise, FS²/Hz
	shapes []func(hz float64) float64
}

// Truth tells what was put in so far.
func (s *Signal) Truth() Truth { return s.truth }

// Density gives the mean over time and over low…high (Hz) of the continuous noise, FS²/Hz,
// with that of rounding to codes of a step, 0 for floats. Each component's rounding error is
// uniform over one step, of variance step²/12 [Bennett:1948, pp. 446-472], and the two spread
// over the rate; it holds where the signal moves over half a step (rms) or more. Not in it:
// stations, data, combs, pulses, and the mirror image of the noise.
func (s *Signal) Density(low, high, step float64) float64 {
	const points = 256
	sum := s.truth.white + 2*step*step/12/s.Rate
	for _, shape := range s.truth.shapes {
		for i := range points {
			sum += shape(low+(float64(i)+0.5)*(high-low)/points) / points
		}
	}
	return sum
}
