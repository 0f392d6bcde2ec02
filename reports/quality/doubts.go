package quality

import (
	"slices"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/survey"
)

// uncalibrated tells of surveys without a calibration of their receiver: the names must agree
// word for word, and often differ by one.
func uncalibrated(in input.Input) (doubts []doubt.Doubt) {
	removed := func(c survey.Calibration) bool { return c.Kind == survey.CalibratePassband }
	calibrations := slices.DeleteFunc(slices.Clone(in.Calibrations), removed)
	if len(calibrations) == 0 {
		return nil
	}
	for _, s := range in.Surveys {
		fits := func(c survey.Calibration) bool { return c.Receiver == s.Receiver }
		shown := func(n *input.NoiseSeries) bool { // by a terminator in turns
			return n.Of == "" && slices.ContainsFunc(n.Visits, func(v input.NoiseVisit) bool { return v.Survey == s.ID })
		}
		if s.Receiver != "" && !slices.ContainsFunc(calibrations, fits) && !slices.ContainsFunc(in.OwnNoise(), shown) {
			doubts = append(doubts, doubt.New(doubt.Uncalibrated, s.ID, survey.ReceiverText(s.Receiver)))
		}
	}
	return doubts
}

// Doubts are what speaks against what was selected as a whole.
func Doubts(in input.Selection) []doubt.Doubt {
	doubts := []doubt.Doubt{}
	sites := map[survey.Site]bool{}
	for _, s := range in.Surveys {
		if s.Site != (survey.Site{}) {
			sites[s.Site] = true
		}
		if s.Kind == survey.KindRecord && s.Ending == "" {
			doubts = append(doubts, doubt.New(doubt.NotEnded, s.ID))
		}
	}
	if len(sites) > 1 {
		doubts = append(doubts, doubt.New(doubt.ManySites, len(sites)))
	}
	if in.LeftOut.Kind != "" {
		doubts = append(doubts, in.LeftOut)
	}
	doubts = append(doubts, input.ImpossibleDoubts(in.Impossible)...)
	doubts = append(doubts, notRewired(in.Input)...)
	doubts = append(doubts, uncalibrated(in.Input)...)
	doubts = append(doubts, terminatorsOff(in.Input)...)
	doubts = append(doubts, curvesApart(in.Input)...)
	return append(doubts, pooled(in.Input)...)
}

// notRewired tells of surveys that ended and whose wiring was to change at half time and did not.
func notRewired(in input.Input) (doubts []doubt.Doubt) {
	plans := in.Plans()
	for _, s := range in.Surveys {
		part, changing := plans[s.ID].Changing()
		if !changing || s.Ending == "" {
			continue
		}
		state := part.Of(plans[s.ID].Halves[1])
		if !slices.ContainsFunc(in.Visits, func(v survey.Visit) bool {
			return v.Survey == s.ID && v.Reached != (survey.Setup{}) && part.Of(v.Wiring) == state
		}) {
			doubts = append(doubts, doubt.New(doubt.NotRewired, s.ID, part.Name, state))
		}
	}
	return doubts
}

// pooled tells of surveys whose sweeps through an antenna count as its first state,
// although another survey had repeaked it before: whether it was put back is not known.
func pooled(in input.Input) (doubts []doubt.Doubt) {
	taken := map[int64]bool{}
	for _, s := range in.Sweeps {
		taken[s.Survey] = true
	}
	type pair struct {
		survey  int64
		antenna string
	}
	said := map[pair]bool{}
	for _, e := range in.Events {
		if e.Repeaked == "" || !taken[e.Survey] {
			continue
		}
		for _, s := range in.Sweeps {
			p := pair{s.Survey, s.Setup.Antenna}
			if s.Survey == e.Survey || p.antenna != e.Repeaked || s.Start.Before(e.At) || said[p] {
				continue
			}
			said[p] = true
			doubts = append(doubts, doubt.New(doubt.Pooled, s.Survey, e.Repeaked, e.Survey))
		}
	}
	return doubts
}
