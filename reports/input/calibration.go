package input

import (
	"slices"

	"nightfloor/survey"
	"nightfloor/survey/level"
)

// What calibrations say of a reading: how far its floor stands above the receiver's
// own noise, what full scale stands for at its gain, and which lines are the
// receiver's own. It is found here and put into copies of the readings, so that the
// statistics see a flag and a measured gain like any other.

// Limits of what calibrations say of a reading.
const (
	// A receiver margin, dB, under LimitedMargin leaves an upper bound only; from PlainMargin on
	// the receiver's part of a floor is under 0.46 dB (STATISTICS.md 5.2). TestReceiverMargin
	// and TestMarginPolicy fail when they move.
	LimitedMargin = 3.0
	PlainMargin   = 10.0
)

// A CalibrationFor is what the calibrations know of a receiver in a segment, at a gain and
// a time.
type CalibrationFor struct {
	Noise *OwnNoise // nil: not measured
	// Unmeasured tells that the antenna has an amplifier whose noise nothing measured: Noise, if any, is
	// the receiver's alone, and what stands over it may be the amplifier's.
	Unmeasured bool
	Level      *level.Level // nil: none
	Step       survey.DB    // standard error of the gain measured in place of a label; 0: none
	// Lines stand in the segment or near its edges, with the levels that they have at
	// this gain, by its label.
	Lines []survey.OwnLine
	Runs  []*survey.Calibration // that served, each once
}

// calibrate puts what calibrations and controls know into copies of the readings: the flag
// receiver-limited, and gains measured with a generator in place of labels.
func (in *Input) calibrate() {
	if in.applied != nil {
		return
	}
	in.own = in.ownNoises()
	if len(in.Calibrations) == 0 && len(in.own.all) == 0 && !in.own.amplified() {
		return
	}
	in.applied = map[*survey.Sweep][]*CalibrationFor{}
	instruments := instrumentsOf(in.Calibrations)
	of := map[int64]*instrument{} // by survey
	first := map[int64]survey.Setup{}
	for _, s := range in.Surveys {
		first[s.ID] = s.First
		if s.Receiver != "" { // two receivers without a name are not the same
			of[s.ID] = instruments[s.Receiver]
		}
	}
	steps := gainSteps{}
	for _, s := range in.Sweeps { // the default reference keeps its labels, where it can
		if instrument := of[s.Survey]; instrument != nil && s.Setup == first[s.Survey] {
			for j := range s.Readings {
				steps.anchor(&s.Readings[j], instrument.knows(&s.Readings[j]))
			}
		}
	}
	for i, s := range in.Sweeps {
		all := in.knownOf(s, of[s.Survey])
		if all == nil {
			continue
		}
		copied := *s
		copied.Readings = slices.Clone(s.Readings)
		for j := range copied.Readings {
			r := &copied.Readings[j]
			if all[j] == nil {
				continue
			}
			if d, ok := all[j].Margin(r); ok && d < LimitedMargin && !r.Quality.Has(survey.FlagReceiverLimited) {
				flags := append(slices.Clone(r.Quality.Flags), survey.FlagReceiverLimited)
				slices.Sort(flags)
				r.Quality.Flags = flags
			}
			steps.anchor(r, all[j])
			r.Gain = steps.measured(r, all[j])
		}
		in.Sweeps[i] = &copied
		in.applied[&copied] = all
	}
}

// knownOf gives what calibrations and controls know of a sweep's readings, nil of nothing.
func (in *Input) knownOf(s *survey.Sweep, instrument *instrument) []*CalibrationFor {
	antenna, some := AntennaOf(in.own.plans[s.Survey], s.Setup), false
	all := make([]*CalibrationFor, len(s.Readings))
	for j := range s.Readings {
		r := &s.Readings[j]
		all[j] = in.own.serve(instrument.knows(r), s, antenna, r)
		some = some || all[j] != nil
	}
	if !some {
		return nil
	}
	return all
}

// CalibrationOf gives what is known of the i-th reading of a sweep, nil where there is nothing.
func (in Input) CalibrationOf(s *survey.Sweep, i int) *CalibrationFor {
	if all := in.applied[s]; all != nil {
		return all[i]
	}
	return nil
}

// An instrument is a receiver's calibrations, in order of time.
type instrument struct {
	runs []*survey.Calibration
	seen map[calibrationKey]*CalibrationFor
}

type calibrationKey struct {
	segment survey.Segment
	gain    survey.Gain
	rate    survey.Hz // of samples
	earlier int       // how many runs came before
}

// instrumentsOf gives the instruments by their names.
func instrumentsOf(all []survey.Calibration) map[string]*instrument {
	found := map[string]*instrument{}
	for i := range all {
		in := found[all[i].Receiver]
		if in == nil {
			in = &instrument{seen: map[calibrationKey]*CalibrationFor{}}
			found[all[i].Receiver] = in
		}
		in.runs = append(in.runs, &all[i])
	}
	for _, in := range found {
		slices.SortStableFunc(in.runs, func(a, b *survey.Calibration) int { return a.At.Compare(b.At) })
	}
	return found
}

// knows gives what the calibrations know of the reading's receiver, nil for nothing.
func (in *instrument) knows(r *survey.Reading) *CalibrationFor {
	if in == nil {
		return nil
	}
	earlier := 0
	for earlier < len(in.runs) && !in.runs[earlier].At.After(r.Start) {
		earlier++
	}
	key := calibrationKey{r.Segment, r.Gain, r.SampleRate, earlier}
	k, ok := in.seen[key]
	if !ok {
		k = in.look(key)
		in.seen[key] = k
	}
	return k
}

// look goes through the runs, the newest before the reading first, back to the
// oldest, then those after it, the newest first: whoever measured wrongly measures again.
func (in *instrument) look(key calibrationKey) *CalibrationFor {
	runs := slices.Concat(in.runs[key.earlier:], in.runs[:key.earlier])
	slices.Reverse(runs)
	k := &CalibrationFor{}
	var noise *survey.SelfNoise
	var noiseRun *survey.Calibration
	sought, judged := false, false
	if l, ok := level.Of(runs, (key.segment.Low+key.segment.High)/2, key.gain.DB); ok && key.gain.Known {
		k.Level = &l
	}
	for _, run := range runs {
		serves := false
		if run.Kind == survey.CalibrateLines && !sought { // none is an answer, too
			sought, serves = true, true
			k.Lines = linesNear(run.Lines, key)
		}
		if noise == nil && key.gain.Known {
			noise = noiseOf(run.Noise, key.segment, key.gain.DB)
			serves, noiseRun = serves || noise != nil, run
			if noise != nil && noise.Rough() {
				if computed, ok := level.Computed(*noise, run.Noise, key.rate, runs); ok {
					noise = &computed
				}
			}
		}
		if !judged && slices.ContainsFunc(run.Linearity, func(l survey.Linearity) bool { return mostly(l.Segment, key.segment) }) {
			judged, serves = true, true
		}
		if serves || k.Level != nil && slices.Contains(k.Level.Runs, run) {
			k.Runs = append(k.Runs, run)
		}
	}
	if noise != nil {
		k.Noise = ownOf(*noise, ByCalibration, k.Level)
		k.Noise.Run, k.Noise.Curve = noiseRun.ID, noiseRun.Curve()
	}
	if k.Level != nil && k.Level.Measured() && !key.gain.Exact {
		k.Step = k.Level.Sigma
	}
	if len(k.Runs) == 0 {
		return nil
	}
	return k
}

// linesNear gives the lines that may meet a carrier of the segment, at the levels
// that they have at the reading's gain. Labels are good enough for that.
func linesNear(lines []survey.OwnLine, key calibrationKey) (some []survey.OwnLine) {
	const edge survey.Hz = 1000 // more than any tolerance
	for _, l := range lines {
		if l.Frequency < key.segment.Low-edge || l.Frequency > key.segment.High+edge {
			continue
		}
		if key.gain.Known {
			l.Level += survey.DBFS(key.gain.DB - l.Gain)
			l.Gain = key.gain.DB
		}
		some = append(some, l)
	}
	return some
}

// noiseOf gives the self-noise in the segment at the gain, nil where there is none. A
// segment that was cut to other edges serves where most of both is in common.
func noiseOf(all []survey.SelfNoise, segment survey.Segment, gain survey.DB) *survey.SelfNoise {
	var found *survey.SelfNoise
	for i := range all {
		n := &all[i]
		if !level.SameGain(n.Gain, gain) {
			continue
		}
		if n.Segment == segment {
			return n
		}
		if mostly(n.Segment, segment) {
			found = n
		}
	}
	return found
}

// mostly tells whether two cuts under one name have most of both in common.
func mostly(a, b survey.Segment) bool {
	both, share := a.Within(b.Low, b.High)
	return a.Name == b.Name && share > 0.5 && both.High-both.Low > (b.High-b.Low)/2
}
