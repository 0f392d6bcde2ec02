package capture

import (
	"context"
	"math"
	"slices"
	"time"

	"nightfloor/survey"
)

// The drive that a pilot sweep aims at: rms and peaks against full scale. Fading, and
// another broadcaster that comes on the air, need some 8 dB above the peaks seen now;
// the quantiser needs 2 codes rms (−36 dBFS) or more (PHYSICS.md 7.2).
const (
	pilotRMS   = -20.0 // dBFS
	pilotPeak  = -8.0  // dBFS, of the component that 1 in 10,000 exceeds
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
		at = max(0, min(stepAtMost(steps, steps[at]+by), tooHigh-1))
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
	return gainRoom(look), nil
}

// stepAtMost gives the highest step that is not above gain, else the lowest.
func stepAtMost(steps []survey.DB, gain survey.DB) int {
	at, found := slices.BinarySearch(steps, gain)
	if found {
		return at
	}
	return max(0, at-1)
}

// gainRoom tells by how much the gain may rise (or must fall) for the codes of a
// short look at the signal to stand where the pilot wants them.
func gainRoom(iq []byte) survey.DB {
	var histogram [256]int
	sum, squares := 0.0, 0.0
	for _, c := range iq {
		histogram[c]++
		x := (float64(c) - 127.5) / 128
		sum += x
		squares += x * x
	}
	n := float64(len(iq))
	mean := sum / n
	power := 2 * (squares/n - mean*mean) // of I and Q together
	beyond, peak := 0, 127.5
	for a := 0; a < 128; a++ { // from the outermost pair of codes inwards
		beyond += histogram[a] + histogram[255-a]
		if float64(beyond) > n/1e4 {
			peak = 127.5 - float64(a)
			break
		}
	}
	if peak >= 127 { // clipping hides how far it goes
		return -12
	}
	const least = 1.0 / 128 / 128 / 12 // the quantiser's own noise
	byRMS := pilotRMS - 10*math.Log10(max(power, least))
	byPeak := pilotPeak - 20*math.Log10(max(peak, 0.5)/128)
	return survey.DB(min(byRMS, byPeak))
}
