package dsptest

// A Carrier is one coherent line that was put in.
type Carrier struct {
	Hz      float64
	Level   float64 // dBFS of the line itself; its mean where it fades
	Depth   float64 // rms (speech) or peak (tone) modulation, 0 for none
	Doppler float64 // Hz, 0: steady
}

// Truth is what was put in.
type Truth struct {
	Carriers []Carrier
	Comb     []float64    // Hz at the start, lines of combs
	Blocks   [][2]float64 // Hz, edges of data blocks
	Pulses   []float64    // seconds from the start, those read so far

	white    float64 // mean density of white and gated noise, FS²/Hz
	notQuiet float64 // share of it that is missing between bursts
	shapes   []func(hz float64) float64
}

// Truth tells what was put in so far.
func (s *Signal) Truth() Truth { return s.truth }

// Density gives the mean over time and over low…high (Hz) of the continuous
// noise, FS²/Hz, with the quantisation noise of step. Not in it: stations,
// data, combs, pulses, clipping, and the mirror image of the noise.
func (s *Signal) Density(low, high float64, step Step) float64 {
	return s.truth.white + s.shapedDensity(low, high) + step.Density(s.Rate)
}

// Quiet gives the density between the bursts of square gated noise.
func (s *Signal) Quiet(low, high float64, step Step) float64 {
	return s.Density(low, high, step) - s.truth.notQuiet
}

func (s *Signal) shapedDensity(low, high float64) float64 {
	const points = 256
	var sum float64
	for _, shape := range s.truth.shapes {
		for i := range points {
			sum += shape(low+(float64(i)+0.5)*(high-low)/points) / points
		}
	}
	return sum
}
