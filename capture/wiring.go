package capture

import (
	"context"
	"time"

	"nightfloor/survey"
)

// A Rewirer is a Changer that can bring feed lines, idle antennas and chokes into another state.
type Rewirer interface {
	// Rewire gives what is in place then: what was asked for, or what was before. It is called before the
	// Change of a visit, with what was in place as far as anybody knows. Errors are as those of Change.
	Rewire(ctx context.Context, was, asked survey.Wiring) (survey.Wiring, error)
}

// A wiringState is how far the recorder is with the wiring.
type wiringState struct {
	second  bool          // the second half has begun; it stays so
	asked   survey.Wiring // in this run
	inPlace survey.Wiring
}

// chooseHalf decides before a round of which half it is. Until this run has made a whole round, rounds are reckoned to take as
// long as those of the run before did, whatever came between.
func (r *Recorder) chooseHalf() {
	left, each := time.Duration(0), r.roundLength
	if !r.Until.IsZero() {
		left = r.Until.Sub(r.Clock.Now())
	}
	if p := r.Resume; each == 0 && p != nil && p.Round > 0 {
		each = p.Last.Sub(p.Survey.Start) / time.Duration(p.Round)
	}
	r.wiring.second = r.wiring.second || r.Plan.SecondHalf(r.round.number, each, left)
}

// rewire brings the wiring into the state of this half. It asks for it once in each, and again where a survey is taken up.
func (r *Recorder) rewire(ctx context.Context) (err error) {
	asked := r.Plan.Halves[0]
	if r.wiring.second {
		asked = r.Plan.Halves[1]
	}
	if asked == r.wiring.asked {
		return nil
	}
	inPlace := asked
	if changer, ok := r.Changer.(Rewirer); ok {
		if inPlace, err = changer.Rewire(ctx, r.wiring.inPlace, asked); err != nil {
			return err
		}
	}
	if r.wiring.asked, r.wiring.inPlace = asked, inPlace; inPlace != asked {
		r.Log.Warn("another wiring is in place than was asked for; visits bear what is in place", "asked", asked.String(), "in place", inPlace.String())
	}
	return nil
}
