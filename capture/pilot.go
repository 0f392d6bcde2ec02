package capture

import (
	"context"
	"time"

	"nightfloor/capture/drive"
	"nightfloor/survey"
)

// pilotLook is how long a pilot sweep looks at a tuning.
const pilotLook = 50 * time.Millisecond

// pilot finds the gain for one tuning through the setup in place: the highest step up to
// the one numbered most that drives the converter without overload. It begins at start.
func (s *Sweeper) pilot(ctx context.Context, t Tuning, start, most int) (survey.Gain, error) {
	if _, err := s.receiver.Tune(ctx, t.Centre); err != nil {
		return survey.Gain{}, err
	}
	gain, err := drive.Find(s.info.Gains, start, most, func(gain survey.DB) (drive.Level, error) { return s.look(ctx, gain) })
	if err != nil {
		return survey.Gain{}, err
	}
	return s.receiver.SetGain(ctx, gain)
}

// look gives the level at a gain.
func (s *Sweeper) look(ctx context.Context, gain survey.DB) (drive.Level, error) {
	if _, err := s.receiver.SetGain(ctx, gain); err != nil {
		return drive.Level{}, err
	}
	if err := s.settle(ctx); err != nil {
		return drive.Level{}, err
	}
	iq := s.scratch[:2*int(float64(s.info.SampleRate)*pilotLook.Seconds())]
	if _, err := s.receiver.Read(ctx, iq); err != nil {
		return drive.Level{}, err
	}
	s.options.Alive()
	s.codes.Reset()
	s.codes.AddU8(iq)
	return drive.LevelOf(s.codes), nil
}

// BeginRound raises the gains that left too little drive in the round before. Gains rise
// nowhere else, so that within a round levels compare. What a terminator takes over rises with
// it; of a setup with an antenna a pilot sweep looks at it when the setup has its turn.
func (s *Sweeper) BeginRound() {
	for key, by := range s.watch.EndRound() {
		g := s.gains[key]
		raised := s.info.Gains[drive.StepAtMost(s.info.Gains, g.DB+by)]
		if _, looked := s.raised[key]; raised > g.DB && !looked {
			s.raised[key] = g
			g.DB = raised
			s.gains[key] = g
		}
	}
}

// lookAgain finds by a pilot sweep whether a gain that was raised may stay so high, or somewhere
// between.
func (s *Sweeper) lookAgain(ctx context.Context, t Tuning, was, raised survey.Gain) (survey.Gain, error) {
	most := drive.StepAtMost(s.info.Gains, raised.DB)
	gain, err := s.pilot(ctx, t, most, most)
	if err == nil && gain.DB < was.DB {
		gain = was
	}
	return gain, err
}

// note keeps how a reading of a tuning was driven through a setup, where its gain is the
// sweeper's to choose. readings are those made of it, one a segment.
func (s *Sweeper) note(setup survey.Setup, tuning int, readings []survey.Reading) {
	_, fixed := s.prescribed(setup, s.tunings[tuning])
	_, takenOver := s.gainTakenOver(setup, tuning)
	if len(s.info.Gains) == 0 || fixed || takenOver {
		return
	}
	level := drive.LevelOf(s.codes)
	low := level.Low()
	for _, r := range readings {
		low = low || r.Quality.Has(survey.FlagLowDrive)
		if own, known := s.options.SelfNoise(r.Segment, r.Gain.DB); known && r.Floor != nil {
			low = low || r.Floor.Density.Over(own) < drive.LowMargin
		}
	}
	s.watch.Note(gainKeyOf(setup, tuning), level, low)
}
