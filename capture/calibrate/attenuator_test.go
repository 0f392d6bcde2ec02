package calibrate_test

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/calibrate"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// A stuckAttenuator does not come out again. Once it is in, every reading fails.
type stuckAttenuator struct {
	put    []bool
	faults map[int]error // of the receiver's readings
}

func (*stuckAttenuator) ByHand() bool { return false }

func (a *stuckAttenuator) Put(_ context.Context, in bool) error {
	a.put = append(a.put, in)
	for n := range 1000 * len(a.put[1:]) {
		a.faults[n] = capture.ErrUnplugged
	}
	if !in && len(a.put) > 1 {
		return errors.New("the attenuator was not put out: the relay sticks")
	}
	return nil
}

// Where the dongle is pulled out and the attenuator then stays in, both are said: the first as the error.
func TestAttenuatorStaysIn(t *testing.T) {
	setup := survey.Setup{Antenna: "loop", Placement: "attic"}
	sky := capturetest.Sky{Floor: -120, Gains: []survey.DB{30}, Faults: map[int]error{}}
	f := capturetest.New(sky)
	p := plan.Plan{Segments: []survey.Segment{part31m}, Dwell: 100 * time.Millisecond, Setups: []survey.Setup{setup}, Sweeps: 1}
	k, err := calibrate.New(f, f, p, setup)
	if err != nil {
		t.Fatal(err)
	}
	var told []string
	a := &stuckAttenuator{faults: sky.Faults}
	r := calibrate.NewRun(k, p, survey.Calibration{Kind: survey.CalibrateLinearity}, calibrate.Settings{Attenuation: 10, Attenuator: a,
		Tell: func(text string) { told = append(told, text) }})
	err = r.Measure(t.Context())
	if got := fmt.Sprint(a.put); got != "[false true false]" || !errors.Is(err, capture.ErrUnplugged) || fmt.Sprint(told) != "[the attenuator was not put out: the relay sticks]" {
		t.Errorf("%s: %v, told %q", got, err, told)
	}
}
