package calibrate

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"nightfloor/capture"
	"nightfloor/capture/droop"
	"nightfloor/survey"
	"nightfloor/survey/level"
	"nightfloor/survey/passband"
)

// UseDroop has a measured curve taken out of what is measured from now on, in place of what the
// receiver says of its own filter; that again without a curve. Gains are forgotten.
func (k *Calibrator) UseDroop(curve []survey.Droop) error {
	s, err := capture.NewSweeper(k.receiver, k.clock, k.plan, capture.SweepOptions{Droop: passband.Response(curve), Samples: func(iq []byte) {
		if k.samples != nil {
			k.samples(iq)
		}
	}})
	if err == nil {
		k.sweeper, k.curve = s, curve
	}
	return err
}

// Droop measures what the receiver's filters take off, with a terminator or a noise source at
// its input: at the highest gains, all tunings in turn. Without a curve it says why.
func (k *Calibrator) Droop(ctx context.Context) (curve []survey.Droop, why string, err error) {
	rate := k.Receiver().SampleRate
	looks, strong := droop.New(rate, level.Rounding(rate)), false
	k.samples = func(iq []byte) { strong = looks.Look(iq) }
	defer func() { k.samples = nil }()
	gains := slices.Clone(k.gains())
	slices.Reverse(gains)
	for n, i := 0, 0; len(gains) > 0 && !looks.Done(); n++ {
		if _, err := k.takeAt(ctx, n%len(k.sweeper.Tunings()), gains[i]); err != nil {
			return nil, "", err
		}
		if i++; !strong {
			gains = gains[:i-1] // lower ones deliver less
		}
		if i >= len(gains) {
			i = 0
		}
	}
	curve, why = looks.Curve()
	return curve, why, nil
}

// droopMeasured measures the passband and has it taken out from now on. It says what came of it; "" for
// nothing, which is doubted where a tuner's noise should have told.
func (r *Run) droopMeasured(ctx context.Context) (how string, err error) {
	curve, why, err := r.calibrator.Droop(ctx)
	switch {
	case err != nil:
		return "", err
	case curve == nil:
		if !r.plan.FrontEnd.Direct() {
			r.doubt("passband not measured: %s", why)
		}
		return "", nil
	}
	r.Droop, r.DroopCalibration = curve, 0
	low, high := curve[1], curve[len(curve)-2] // the edges of what is used
	how = fmt.Sprintf("; passband measured, %.1f dB at %+.1f MHz and %.1f dB at %+.1f MHz from its centre", float64(low.Response), float64(low.Offset)/1e6,
		float64(high.Response), float64(high.Offset)/1e6)
	return strings.ReplaceAll(how, "-", "−"), r.calibrator.UseDroop(curve)
}
