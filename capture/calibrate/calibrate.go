package calibrate

import (
	"cmp"
	"context"
	"maps"
	"math"
	"slices"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
	"nightfloor/survey/level"
	"nightfloor/survey/plan"
)

// A Calibrator measures the receiver itself, with what the operator has
// connected to it. It changes no antenna. Not for concurrent use.
type Calibrator struct {
	// Progress is called with how much of the work is done.
	Progress func(done, total int)

	receiver   capture.Receiver
	plan       plan.Plan
	sweeper    *capture.Sweeper
	curve      []survey.Droop  // that is taken out; nil: what the receiver says of its own filter
	samples    func(iq []byte) // is handed the I/Q of every reading; nil: it is not
	clock      capture.Clock
	setup      survey.Setup
	pass       [][]survey.Reading // of the first tuning, by gains, the last that was gone through
	changes    []change           // of levels, by watching them
	clockMoved []change           // of the clock's error, by listening
	tunerError survey.Hz          // how far the tuner's own steps may put what was tuned off, either way
}

// New prepares measurements over the plan's segments, with its dwell.
// Setup is what the plan is asked about where it prescribes gains. The error
// names segments that do not fit the receiver's sample rate.
func New(r capture.Receiver, c capture.Clock, p plan.Plan, setup survey.Setup) (*Calibrator, error) {
	p.Antennas = nil // whatever they are tuned to, the receiver is measured on every segment
	k := &Calibrator{Progress: func(int, int) {}, receiver: r, plan: p, clock: c, setup: setup}
	if err := k.UseDroop(nil); err != nil {
		return nil, err
	}
	if !p.FrontEnd.Direct() && r.Info().Library != "" {
		k.tunerError = tunerStep / 2
	}
	return k, nil
}

// tunerStep is the spacing of the frequencies that a tuner can be set to, about
// (PHYSICS.md 7.6; TestTunerStep): what was realised is not known to better than half of it.
const tunerStep survey.Hz = 55

// Receiver gives what the receiver says of itself.
func (k *Calibrator) Receiver() capture.Info { return k.receiver.Info() }

// gains gives the steps to go through: 0 alone where there is no gain to set.
func (k *Calibrator) gains() []survey.DB {
	if steps := k.sweeper.Info().Gains; len(steps) > 0 {
		return steps
	}
	return []survey.DB{0}
}

// takeAt gives the readings of one tuning at a gain.
func (k *Calibrator) takeAt(ctx context.Context, tuning int, gain survey.DB) ([]survey.Reading, error) {
	k.sweeper.SetGain(k.setup, tuning, gain)
	return k.sweeper.Read(ctx, k.setup, tuning)
}

// Noise that moves few codes is measured wrong. If zero lies between two codes it reads
// 1/4 of a squared code, if zero lies on a code next to nothing, in place of its power
// plus 1/12 for rounding. The error is some 2.5 dB either way under low drive, 0.6 dB at
// 0.4 codes rms (TestDoubtsOfRounding), 0.1 dB at half a code.
const (
	doubtLowDrive survey.DB = 2.5
	doubtNear     survey.DB = 0.6
	dithered                = 0.25 + 1.0/12 // squared codes in a component
)

// dithers tells whether a reading's noise moves the codes enough for rounding to act as
// noise of its own, independent of the signal.
func dithers(r survey.Reading) bool {
	return r.Floor != nil && r.Floor.Density.Linear()*float64(r.SampleRate)/2*128*128 >= dithered && !r.Quality.Has(survey.FlagLowDrive)
}

// SelfNoise measures the floor of every segment at every gain step, lowest gain
// first, with a terminator at the receiver's input. A segment that has no floor
// is left out.
func (k *Calibrator) SelfNoise(ctx context.Context) ([]survey.MeasuredNoise, error) {
	found, _, err := k.terminated(ctx)
	return found, err
}

// codesMoved gives the mean square in a component about its mean, in codes.
func codesMoved(iq []byte) float64 {
	var sum, squares [2]float64
	for i, c := range iq {
		x := float64(c)
		sum[i%2] += x
		squares[i%2] += x * x
	}
	n := float64(len(iq)) / 2
	return (squares[0] + squares[1] - (sum[0]*sum[0]+sum[1]*sum[1])/n) / (2 * n)
}

// measuredNoise makes self-noise of a reading that has a floor, whose samples moved so many squared codes in a
// component: fewer than its density over the sample rate where the receiver's filters are narrower.
func measuredNoise(r survey.Reading, moved float64) survey.MeasuredNoise {
	n := survey.MeasuredNoise{Flags: append([]string{}, r.Quality.Flags...), Carriers: len(r.Carriers), Rate: r.SampleRate,
		SelfNoise: survey.SelfNoise{Segment: r.Segment, Gain: r.Gain.DB, Density: r.Floor.Density, Sigma: r.Floor.Sigma}}
	if n.Doubtful = moved < dithered || r.Quality.Has(survey.FlagLowDrive); n.Doubtful {
		// With an antenna, whose noise moves the codes, rounding adds its 1/12.
		n.Density = max(n.Density, survey.DensityOf(level.Rounding(r.SampleRate)))
		doubt := doubtNear
		if r.Quality.Has(survey.FlagLowDrive) {
			doubt = doubtLowDrive
		}
		if !(n.Sigma > doubt) { // it is NaN if no code ever moved
			n.Sigma = doubt
		}
		return n
	}
	n.Sigma = survey.DB(math.Hypot(float64(n.Sigma), roundingOff(n.SelfNoise, n.Rate, moved)))
	return n
}

// roundingOff gives by how much rounding puts noise off, in dB, either way, by where zero lies between
// codes: of noise of σ codes the power of its rounding is not 1/12 but up to (4σ² + 1/π²)·exp(−2π²σ²) off it, the
// first term of the series that its characteristic function gives (TestDoubtsOfRounding).
func roundingOff(n survey.SelfNoise, rate survey.Hz, moved float64) float64 {
	power := n.Density.Linear() * float64(rate) / 2 * 128 * 128
	square := max(0, moved-1.0/12)
	return 10 * math.Log10(1+(4*square+1/(math.Pi*math.Pi))*math.Exp(-2*math.Pi*math.Pi*square)/power)
}

// An observed is a carrier in one of several readings.
type observed struct {
	survey.Carrier
	reading int // counts the readings
	at      time.Time
}

// A steadyLine is a carrier that is in several readings, the strongest of each.
type steadyLine []observed

// frequency gives the median frequency.
func (l steadyLine) frequency() survey.Hz {
	return medianOf(l, func(s observed) survey.Hz { return s.Frequency })
}

// power gives the median power.
func (l steadyLine) power() float64 { return medianOf(l, func(s observed) float64 { return s.Power }) }

// steadyLines gathers carriers that lie within a distance of each other into lines,
// lowest frequency first, and keeps those that are in at least so many readings.
func steadyLines(carriers []observed, within survey.Hz, least int) []steadyLine {
	rising := slices.SortedFunc(slices.Values(carriers), func(a, b observed) int { return cmp.Compare(a.Frequency, b.Frequency) })
	var lines []steadyLine
	for from := 0; from < len(rising); {
		to, sum := from, survey.Hz(0)
		for to < len(rising) && (to == from || rising[to].Frequency-sum/survey.Hz(to-from) <= within) {
			sum += rising[to].Frequency
			to++
		}
		strongest := map[int]observed{}
		for _, c := range rising[from:to] {
			if had, ok := strongest[c.reading]; !ok || c.Power > had.Power {
				strongest[c.reading] = c
			}
		}
		if len(strongest) >= least {
			lines = append(lines, slices.SortedFunc(maps.Values(strongest), func(a, b observed) int { return cmp.Compare(a.reading, b.reading) }))
		}
		from = to
	}
	return lines
}

// detectedCarriers gives the carriers of a reading that were detected in it, not measured
// by force.
func detectedCarriers(r survey.Reading, reading int) []observed {
	var out []observed
	for _, c := range r.Carriers {
		if c.Detected && c.Power > 0 {
			out = append(out, observed{c, reading, r.Start})
		}
	}
	return out
}

// medianOf gives the median of a property of some things, one or more.
func medianOf[T any, N ~float64](some []T, of func(T) N) N {
	values := make([]N, len(some))
	for i, v := range some {
		values[i] = of(v)
	}
	slices.Sort(values)
	n := len(values)
	return (values[(n-1)/2] + values[n/2]) / 2
}

func identity[N ~float64](x N) N { return x }
