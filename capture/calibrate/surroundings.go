package calibrate

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"nightfloor/survey"
	"nightfloor/survey/level"
)

// Rules that tell a generator from a broadcaster that an antenna hears.
const (
	// mostModulation is the most that a generator's envelope varies by, rms, as a share of its mean: 21 % of
	// amplitude modulation by a tone. Programmes of the simulated house vary it by 0.2 to 0.4 in most readings
	// of 0.1 s (TestProgrammesAreSeen); a generator's is clean to 0.01 (TestModulatedCarrierIsNoGenerator).
	mostModulation = 0.15
	// clean is by how much a carrier stands over the noise in programme's width at the least for its modulation
	// to be measured: noise alone then varies the envelope by 0.07, and that is subtracted.
	clean survey.DB = 20
	// programme is half the width of what is looked at for modulation: broadcasters stand 5 kHz apart.
	programme survey.Hz = 5e3
	// elsewhere is from how far off on it is said where a carrier was found: a clock that is off by 8 ppm puts it
	// there through an up-converter of 125 MHz. Chosen (TestGeneratorFoundElsewhere).
	elsewhere survey.Hz = 1e3
	// edge is how far what is looked at beside the generator stays off the passband's edges and the spike at its
	// centre: a little more than a tuning wants.
	edge survey.Hz = 6e3
)

// lookAround has the rest of the passband measured in the same I/Q as the generator's segment.
func (k *Calibrator) lookAround() error {
	if len(k.plan.Segments) > 1 {
		return nil
	}
	alone, centre := k.plan.Segments, k.sweeper.Tunings()[0].Centre
	reach := k.Receiver().SampleRate/3 - edge
	for _, s := range []survey.Segment{{Name: "below", Low: max(edge, centre-reach), High: centre - edge}, {Name: "above", Low: alone[0].High, High: centre + reach}} {
		if s.High-s.Low > 2*edge {
			k.plan.Segments = append(slices.Clone(k.plan.Segments), s)
		}
	}
	err := k.UseDroop(k.curve)
	if err == nil && len(k.sweeper.Tunings()) == 1 {
		return nil
	}
	k.plan.Segments = alone // they do not fit into one tuning
	return k.UseDroop(k.curve)
}

// Surroundings are what was heard with a generator's carrier, at all gains at which it was measured.
type Surroundings struct {
	gains       int
	carriers    []survey.Hz // the generator's
	beside      []string    // doubts
	modulations []float64   // of what stands out of the noise well enough
	lines       []observed
	resolution  survey.Hz
}

// add takes what one gain shows: the carrier, its reading, all readings, and the I/Q of them.
func (s *Surroundings) add(carrier survey.Carrier, r survey.Reading, all []survey.Reading, iq []byte) {
	s.carriers, s.resolution = append(s.carriers, carrier.Frequency), r.Resolution
	if text := besideText(carrier, r.Carriers); text != "" {
		s.beside = append(s.beside, text)
	}
	density := level.Rounding(r.SampleRate)
	if r.Floor != nil {
		density = r.Floor.Density.Linear()
	}
	if m, ok := modulation(iq, float64(r.SampleRate), float64(carrier.Frequency-r.Centre), density); ok {
		s.modulations = append(s.modulations, m)
	}
	for _, r := range all {
		if dithers(r) { // else the converter makes lines of its own
			s.lines = append(s.lines, detectedCarriers(r, s.gains)...)
		}
	}
	s.gains++
}

// carrier gives where the generator's carrier was found, 0 for nowhere.
func (s Surroundings) carrier() survey.Hz {
	if len(s.carriers) == 0 {
		return 0
	}
	return medianOf(s.carriers, identity)
}

// besideDoubt says that others stand beside the carrier at most gains; "" where none do.
func (s Surroundings) besideDoubt() string {
	if 2*len(s.beside) <= s.gains {
		return ""
	}
	return s.beside[len(s.beside)-1]
}

// antennaInPlace tells by what was heard that the carrier is not a generator's, or not a generator's alone.
func (k *Calibrator) antennaInPlace(s Surroundings, offset survey.Hz) error {
	least := max(1, s.gains/leastGainShare)
	var lines []clockLine
	for _, l := range steadyLines(s.lines, s.resolution, least) {
		lines = append(lines, clockLine{heard: l.frequency()})
	}
	if n := k.broadcasters(lines, offset); n > 0 {
		return fmt.Errorf("%d of %d lines stand on the raster of broadcasters: an antenna seems to be connected; connect the generator in its place, and measure again", n, len(lines))
	}
	modulated := slices.DeleteFunc(slices.Clone(s.modulations), func(m float64) bool { return m < mostModulation })
	if len(modulated) > 0 && len(modulated) >= len(s.modulations)/leastGainShare {
		return fmt.Errorf("the carrier at %v by the receiver's clock is modulated, by %.0f %% rms, and a generator's is clean: a broadcaster, or the generator's modulation is on; take the antenna off, turn modulation off, and measure again",
			roundHz(s.carrier(), 10), 100*medianOf(modulated, identity))
	}
	return nil
}

// modulation gives how much the envelope of a carrier at an offset from the centre varies, rms, as a share of its mean,
// less what noise of a density does. Not ok where noise hides it.
func modulation(iq []byte, rate, offset, density float64) (m float64, ok bool) {
	hop := int(rate / float64(2*programme))
	window := make([]float64, 2*hop)
	sum, squares := 0.0, 0.0
	for i := range window {
		window[i] = 1 - math.Cos(math.Pi*(float64(i)+0.5)/float64(hop))
		sum, squares = sum+window[i], squares+window[i]*window[i]
	}
	var mean [2]float64
	for i, code := range iq {
		mean[i%2] += float64(code)
	}
	for i := range mean {
		mean[i] /= float64(len(iq)) / 2
	}
	turn := cmplx.Rect(1, -2*math.Pi*offset/rate)
	total, power, n := 0.0, 0.0, 0.0
	for from := 0; from+len(window) <= len(iq)/2; from += hop {
		z, phase := complex(0, 0), complex(1, 0) // the envelope has no phase: each window has its own
		for i, w := range window {
			z += complex(w*(float64(iq[2*(from+i)])-mean[0]), w*(float64(iq[2*(from+i)+1])-mean[1])) * phase
			phase *= turn
		}
		a := cmplx.Abs(z) / sum / 128
		total, power, n = total+a, power+a*a, n+1
	}
	noise := density * rate * squares / (sum * sum)
	amplitude := total / n
	if !(amplitude*amplitude >= noise*math.Pow(10, float64(clean)/10)) {
		return 0, false
	}
	varies := power/n - amplitude*amplitude - noise/2
	return math.Sqrt(max(0, varies)) / amplitude, true
}

// FoundWords says where the generator's carrier was found; "" where that is what was told.
func (r *Run) FoundWords() string {
	off := r.Found - r.settings.Frequency
	if r.Found == 0 || math.Abs(float64(off)) < float64(elsewhere) {
		return ""
	}
	side := "higher"
	if off < 0 {
		side = "lower"
	}
	return fmt.Sprintf("found at %v, %v %s, by the receiver's clock", roundHz(r.Found, 10), roundHz(survey.Hz(math.Abs(float64(off))), 100), side)
}

// roundHz rounds a frequency to so many hertz.
func roundHz(f, to survey.Hz) survey.Hz { return to * survey.Hz(math.Round(float64(f/to))) }
