package calibrate

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"nightfloor/survey"
	"nightfloor/survey/level"
)

// A NoiseSource stands at the receiver's input. While it is off it is a terminator.
type NoiseSource interface {
	// Turn turns it on or off and returns when that is done.
	Turn(ctx context.Context, on bool) error
}

// leastExcess is how well the noise that a source adds is to be known for its step to give a level. TestNoiseSource
// fails when it moves.
const leastExcess survey.DB = 0.5

// ReasonNoExcess says that the noise source adds too little beside the receiver's own noise.
const ReasonNoExcess = "the noise source adds too little to be measured"

// LevelsFromSource gives level references from own noise with a noise source off and on, whose excess noise ratio is
// known so well: what it adds is k·T·ENR at the input. The noise figure, ENR/(Y − 1) with Y the ratio of both
// densities, follows from full scale as from that of a generator (level.Figures).
func LevelsFromSource(off, on []survey.MeasuredNoise, enr, known survey.DB) (found []survey.LevelReference, left []survey.SkippedStep) {
	for _, n := range off {
		own, sigma, ok := level.Own(n.SelfNoise, n.Rate)
		i := slices.IndexFunc(on, func(m survey.MeasuredNoise) bool { return m.Segment == n.Segment && level.SameGain(m.Gain, n.Gain) })
		if !ok || i < 0 {
			left = append(left, hidden(n))
			continue
		}
		if slices.Contains(on[i].Flags, survey.FlagOverload) {
			left = append(left, survey.SkippedStep{Gain: n.Gain, Why: ReasonClips})
			continue
		}
		loud, loudSigma, _ := level.Own(on[i].SelfNoise, n.Rate)
		excess := loud - own
		spread := survey.DB(math.Hypot(own*float64(sigma), loud*float64(loudSigma)) / excess)
		if !(excess > 0 && spread < leastExcess) {
			left = append(left, survey.SkippedStep{Gain: n.Gain, Why: ReasonNoExcess})
			continue
		}
		found = append(found, survey.LevelReference{Frequency: (n.Segment.Low + n.Segment.High) / 2, Gain: n.Gain, Basis: survey.BasisSource,
			FullScale: survey.DBm(float64(level.RoomNoise) + float64(enr) - 10*math.Log10(excess)), Sigma: spread, Uncertainty: &known})
	}
	return found, left
}

func (r *Run) bySource(ctx context.Context) (how string, err error) {
	o := r.settings
	if err := o.Source.Turn(ctx, false); err != nil {
		return "", err
	}
	if err := r.selfNoise(ctx); err != nil {
		return "", err
	}
	defer func() { // also after an interrupt
		err = r.undone(err, o.Source.Turn(context.WithoutCancel(ctx), false))
	}()
	if err := o.Source.Turn(ctx, true); err != nil {
		return "", err
	}
	on, err := r.calibrator.SelfNoise(ctx)
	if err != nil {
		return "", err
	}
	r.Levels, r.Skipped = LevelsFromSource(r.SelfNoise, on, o.ENR, o.Uncertainty)
	if len(r.Levels) == 0 {
		return "", fmt.Errorf("at no gain does the noise source give a level (%s); check that it is off first and on then, its supply and its cable", strings.Join(ByReason(r.Skipped), "; "))
	}
	return fmt.Sprintf("noise source at the receiver's input, ENR %g ± %g dB, off and on", float64(o.ENR), float64(o.Uncertainty)), nil
}

// A ProgramSource is a noise source that a program of the user's turns on and off. It is started without a shell,
// with "on" or "off" as its last argument and as NIGHTFLOOR_SOURCE; exit status 0 says that it is done.
type ProgramSource struct {
	Argv    []string
	TimeOut time.Duration
}

// Turn starts the program and waits for its end.
func (p ProgramSource) Turn(ctx context.Context, on bool) error {
	state := "off"
	if on {
		state = "on"
	}
	return putBy(ctx, p.TimeOut, p.Argv, "NIGHTFLOOR_SOURCE", state, "the noise source was not turned")
}
