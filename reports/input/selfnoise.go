package input

import "nightfloor/survey"

// SelfNoise gives what the calibrations of a receiver, named as surveys name it, know of its own
// noise in a segment at a gain and a sample rate. The newest that was measured holds.
func SelfNoise(calibrations []survey.Calibration, receiver string, rate survey.Hz) func(survey.Segment, survey.DB) (density survey.DBFSPerHz, known bool) {
	in := instrumentsOf(calibrations)[receiver]
	return func(segment survey.Segment, gain survey.DB) (survey.DBFSPerHz, bool) {
		if in == nil {
			return 0, false
		}
		k := in.look(calibrationKey{segment, survey.Gain{DB: gain, Known: true}, rate, len(in.runs)})
		if k == nil || k.Noise == nil {
			return 0, false
		}
		return k.Noise.Density, true
	}
}
