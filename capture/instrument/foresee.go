package instrument

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"nightfloor/capture"
	"nightfloor/capture/iqfile"
	"nightfloor/capture/rtlsdr"
	"nightfloor/capture/scene"
	"nightfloor/capture/turn"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// Foresee tells what can be known of a plan's receiver and rotator without touching them,
// and joins what record would refuse to what was found wrong with the plan before. A doubt
// is what keeps a recording from being looked at.
func Foresee(p plan.Plan, found error) (info capture.Info, doubt string, wrong error) {
	if r := p.Change.Rotator; r != nil && found == nil {
		if err := (&turn.Rotator{Rotator: *r, HalfTurn: p.HalfTurn()}).CheckSetups(p.Setups); err != nil {
			found = p.AddMistake(found, "rotator.range", err)
		}
	}
	info, doubt, wrong = receiverInfo(p, found)
	return info, doubt, Check(p, info, wrong)
}

// checkedRate is the sample rate that a plan which names none is checked with.
const checkedRate = 2.4e6

// receiverInfo tells what can be known of a plan's receiver without touching it, and
// joins what record would refuse to what was found wrong before.
func receiverInfo(p plan.Plan, found error) (info capture.Info, doubt string, wrong error) {
	info.SampleRate = cmp.Or(p.SampleRate, checkedRate)
	kind, path, _ := strings.Cut(p.Receiver, ":")
	switch kind {
	case "": // one of the doubts
	case "rtlsdr":
		if _, err := rtlsdr.ParseURI(p.Receiver); err != nil {
			found = p.AddMistake(found, "receiver.uri", err)
		}
	case "file":
		played, err := iqfile.NewReceiver(path, iqfile.Options{})
		if err != nil {
			return info, err.Error(), found
		}
		info = played.Info()
		if err := played.Close(); err != nil {
			return info, err.Error(), found
		}
	case "scene":
		house, err := scene.Open(p.Receiver, scene.Options{})
		if err != nil {
			return info, "", p.AddMistake(found, "receiver.uri", err)
		}
		defer house.Close()
		if err := house.CheckSetups(p.Setups); err != nil {
			found = p.AddMistake(found, "setup", err)
		}
		atRate, err := scene.Open(p.Receiver, scene.Options{Rate: p.SampleRate})
		if err != nil {
			return info, "", p.AddMistake(found, "receiver.sample_rate", err)
		}
		defer atRate.Close()
		info = atRate.Info()
	default:
		found = p.AddMistake(found, "receiver.uri", fmt.Errorf("%q is no kind of receiver; write rtlsdr: for a dongle, file:PATH for a recording, scene:house for the simulated house", p.Receiver))
	}
	return info, "", found
}

// commonRates are sample rates that dongles run at.
var commonRates = []survey.Hz{250e3, 300e3, 1.024e6, 1.2e6, 1.6e6, 2.048e6, 2.4e6, 2.56e6, 3.2e6}

// Check joins what a plan asks of a receiver that it cannot do to what was
// found wrong before: segments that its sample rate does not take in, and gains
// that are none of its steps.
func Check(p plan.Plan, info capture.Info, wrong error) error {
	for _, s := range p.Segments {
		one := []survey.Segment{s}
		fits := func(rate survey.Hz) bool { _, err := capture.Tunings(one, rate); return err == nil }
		if fits(info.SampleRate) {
			continue
		}
		advice := "split it into narrower ones"
		if i := slices.IndexFunc(commonRates, fits); i >= 0 && !strings.HasPrefix(info.URI, "file:") {
			advice = fmt.Sprintf("set sample_rate = %q, or split it", commonRates[i].String())
		}
		wrong = p.AddMistake(wrong, p.SegmentKey(s.Name), fmt.Errorf("%s is %v wide, and a sample rate of %v takes in a third of its width, beside the DC spike; %s",
			s.Name, s.High-s.Low, info.SampleRate, advice), "receiver.sample_rate")
	}
	const near = 0.05 + 1e-9 // dB: a step, as people write it
	for i, g := range p.Gains {
		isIt := func(step survey.DB) bool { return math.Abs(float64(step-g.Gain)) <= near }
		if len(info.Gains) == 0 || slices.ContainsFunc(info.Gains, isIt) {
			continue
		}
		var steps []string
		for _, step := range info.Gains {
			steps = append(steps, fmt.Sprintf("%.1f", float64(step)))
		}
		wrong = p.AddMistake(wrong, fmt.Sprintf("gain[%d].gain", i), fmt.Errorf("%g dB is no step of the receiver; its steps are %s dB", float64(g.Gain), strings.Join(steps, ", ")))
	}
	return wrong
}
