package quality

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/wording"
	"nightfloor/survey"
	"nightfloor/survey/passband"
)

// leastApart is from how far apart two curves of the passband tell: own noise itself is known to 0.1 dB (PHYSICS.md 7.2).
// TestOwnNoiseOfAnotherCurve fails when it moves.
const leastApart survey.DB = 0.1

// corrected says in words what a curve of the passband rests on.
func corrected(by int64) string {
	if by == 0 {
		return "as the receiver's filter is known"
	}
	return fmt.Sprintf("as calibration %d measured it", by)
}

// curveOf gives the curve of a calibration, nil where that is not there.
func curveOf(in input.Input, id int64) []survey.Droop {
	for _, c := range in.Calibrations {
		if c.ID == id {
			return c.Droop
		}
	}
	return nil
}

// curveGone tells that the curve which was taken out of something is not there any more: another program removed it.
func curveGone(in input.Input, what string, id, by int64) []doubt.Doubt {
	if by == 0 || len(curveOf(in, by)) > 0 {
		return nil
	}
	return []doubt.Doubt{doubt.New(doubt.CurveGone, what, id, by)}
}

// A measured is own noise as something measured it.
type measured struct{ run, curve int64 }

// curvesApart tells by how much own noise may be off against readings of which another curve of the passband was taken out.
func curvesApart(in input.Input) (doubts []doubt.Doubt) {
	for _, s := range in.Surveys {
		doubts = append(doubts, curveGone(in, "survey", s.ID, s.DroopCalibration)...)
		apart := apartIn(in, s)
		for _, own := range slices.SortedFunc(maps.Keys(apart), func(a, b measured) int { return cmp.Or(cmp.Compare(a.run, b.run), cmp.Compare(a.curve, b.curve)) }) {
			whose := "that a control showed"
			if own.run != 0 {
				whose = fmt.Sprintf("of calibration %d", own.run)
			}
			var where []string
			for _, name := range slices.Sorted(maps.Keys(apart[own])) {
				where = append(where, fmt.Sprintf("%s dB on %s", wording.Number(float64(apart[own][name]), 1), name))
			}
			doubts = append(doubts, doubt.New(doubt.CurvesApart, s.ID, corrected(s.DroopCalibration), whose, corrected(own.curve), wording.List(where)))
		}
	}
	return doubts
}

// apartIn gives by how much the curves differ within the segments of a survey, by own noise and segment: where that tells. Own
// noise is taken to have been measured in the tuning of the readings.
func apartIn(in input.Input, s survey.Survey) map[measured]map[string]survey.DB {
	response := func(by int64, rate survey.Hz) func(survey.Hz) float64 {
		if by == 0 {
			return passband.Known(s.Receiver, rate)
		}
		return passband.Response(curveOf(in, by))
	}
	type place struct {
		measured
		segment      survey.Segment
		centre, rate survey.Hz
	}
	apart, seen := map[measured]map[string]survey.DB{}, map[place]bool{}
	for _, sweep := range in.Sweeps {
		for i := range sweep.Readings {
			r, k := &sweep.Readings[i], in.CalibrationOf(sweep, i)
			if _, ok := k.Margin(r); sweep.Survey != s.ID || !ok || k.Noise.Curve == s.DroopCalibration {
				continue
			}
			own := measured{k.Noise.Run, k.Noise.Curve}
			at := place{own, r.Segment, r.Centre, r.SampleRate}
			if seen[at] {
				continue
			}
			seen[at] = true
			a, b := response(s.DroopCalibration, r.SampleRate), response(own.curve, r.SampleRate)
			if a == nil || b == nil { // it is gone
				continue
			}
			if by := passband.Apart(a, b, r.Segment.Low-r.Centre, r.Segment.High-r.Centre); by > leastApart {
				if apart[own] == nil {
					apart[own] = map[string]survey.DB{}
				}
				apart[own][r.Segment.Name] = max(apart[own][r.Segment.Name], by)
			}
		}
	}
	return apart
}
