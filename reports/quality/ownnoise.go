package quality

import (
	"slices"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// Own noise drifts slowly, and one visit's scatters: drift is told over means of meanVisits visits in a row,
// and from leastVisits visits on. Chosen; TestOwnNoiseOfANight fails when they move.
const (
	meanVisits  = 3
	leastVisits = 6
)

// ownNoise tells what controls show of own noise in a survey.
func ownNoise(all []*input.NoiseSeries, id int64) []result.QualityOwnNoise {
	out := []result.QualityOwnNoise{}
	for _, s := range all {
		visits := slices.DeleteFunc(slices.Clone(s.Visits), func(v input.NoiseVisit) bool { return v.Survey != id })
		if len(visits) == 0 {
			continue
		}
		q := result.QualityOwnNoise{Setup: s.Setup, Segment: s.Segment.Name, Gain: s.Gain, Visits: len(visits),
			From: visits[0].Span.First.UTC(), To: visits[len(visits)-1].Span.Last.UTC(), Drift: driftOf(visits)}
		if s.Of != "" {
			q.Of = &s.Of
		}
		out = append(out, q)
	}
	return out
}

// driftOf gives by how much the highest of the means over visits in a row stands over the lowest; nil of too few
// visits.
func driftOf(visits []input.NoiseVisit) *survey.DB {
	if len(visits) < leastVisits {
		return nil
	}
	var levels []survey.DBFSPerHz
	for i := range len(visits) - meanVisits + 1 {
		sum := 0.0
		for _, v := range visits[i : i+meanVisits] {
			sum += v.Density().Linear()
		}
		levels = append(levels, survey.DensityOf(sum/meanVisits))
	}
	return result.DB(float64(slices.Max(levels).Over(slices.Min(levels))))
}

// terminatorsOff tells of terminators at the receiver's input that show more than the receiver's own noise, as
// calibrated: what is as far over it is taken for noise from outside elsewhere.
func terminatorsOff(in input.Input) (doubts []doubt.Doubt) {
	antennas := in.Antennas()
	for _, s := range in.Surveys {
		for _, setup := range in.Setups() {
			if !antennas[setup].AtReceiver() {
				continue
			}
			off, all := 0, 0
			for _, sweep := range in.Sweeps {
				if sweep.Survey != s.ID || sweep.Setup != setup {
					continue
				}
				for i := range sweep.Readings {
					r := &sweep.Readings[i]
					margin, ok := in.CalibrationOf(sweep, i).Margin(r)
					if !ok || !input.TellsOwnNoise(r) {
						continue
					}
					if all++; margin >= input.LimitedMargin {
						off++
					}
				}
			}
			if off > 0 {
				doubts = append(doubts, doubt.New(doubt.TerminatorOff, s.ID, off, doubt.Count{N: all, Noun: "reading"}, setup))
			}
		}
	}
	return doubts
}
