package capture

import (
	"context"
	"time"

	"nightfloor/capture/drive"
	"nightfloor/survey"
)

// The looks of a pilot sweep.
const (
	pilotLook  = 50 * time.Millisecond
	pilotLooks = 6 // looks at one segment
)

// pilot finds the gain for one tuning through the setup in place: the highest
// step that drives the converter without overload.
func (s *Sweeper) pilot(ctx context.Context, t Tuning) (survey.Gain, error) {
	steps := s.info.Gains
	if len(steps) == 0 { // there is only one gain, so that levels compare
		return survey.Gain{Known: true, Exact: true}, nil
	}
	if _, err := s.receiver.Tune(ctx, t.Centre); err != nil {
		return survey.Gain{}, err
	}
	at, tooHigh := len(steps)/2, len(steps)
	tried := map[int]bool{}
	for range pilotLooks {
		tried[at] = true
		by, err := s.gainChange(ctx, steps[at])
		if err != nil {
			return survey.Gain{}, err
		}
		if by < 0 { // nor will higher steps do, even if a pause in the programme makes them seem to
			tooHigh = min(tooHigh, at)
		}
		at = max(0, min(drive.StepAtMost(steps, steps[at]+by), tooHigh-1))
		if tried[at] {
			break
		}
	}
	return s.receiver.SetGain(ctx, steps[at])
}

// gainChange sets the gain and tells by how much it may rise or must fall.
func (s *Sweeper) gainChange(ctx context.Context, gain survey.DB) (by survey.DB, err error) {
	if _, err := s.receiver.SetGain(ctx, gain); err != nil {
		return 0, err
	}
	if err := s.settle(ctx); err != nil {
		return 0, err
	}
	look := s.scratch[:2*int(float64(s.info.SampleRate)*pilotLook.Seconds())]
	if _, err := s.receiver.Read(ctx, look); err != nil {
		return 0, err
	}
	s.alive()
	return drive.Room(look), nil
}
