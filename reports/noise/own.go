package noise

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/strength"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// What is the receiver's own shows itself by staying when a terminator takes the antenna's
// place, or by moving with the tuning.

const (
	// asStrong is from how far under the strongest antenna a comb through a terminator is
	// still as strong: a few dB of mismatch change what a feed line carries.
	asStrong = -3.0 // dB
	// ownMatches is how many of a calibration's lines must lie on a comb's multiples, and
	// ownTolerance how far from them, as a share: two clocks of one receiver are one clock.
	ownMatches   = 3
	ownTolerance = 30e-6
	// movedCentres is at how many tunings a line must keep its offset.
	movedCentres = 3
	// channelRaster is how far apart the broadcasters of shortwave stand.
	channelRaster = 5000.0 // Hz
	// betweenSlots is how far a line must stand from the broadcasters' raster to tell of the
	// tuning: tunings themselves stand on it, so that stations share offsets.
	betweenSlots = 500.0 // Hz
)

// throughTerminator says that a comb is as strong without an antenna; "" where it is not,
// or that is not known. Levels are those at the receiver, so that gains must compare.
func (l *noiseLog) throughTerminator(s *noiseSource, controls map[survey.Setup]bool) string {
	sums := map[string]map[survey.Setup]*strength.Part{} // by segment
	gains := map[string]survey.Gain{}
	for i := range l.Readings {
		h, f := &l.Readings[i], s.measured[i]
		if f == nil || !s.at(h.Sweep.Survey, h.Start) {
			continue
		}
		name := h.Segment.Name
		if sums[name] == nil {
			sums[name], gains[name] = map[survey.Setup]*strength.Part{}, h.Gain
		}
		lower, ok := input.Refer(h.Gain, gains[name])
		if !ok {
			continue
		}
		if sums[name][h.Sweep.Setup] == nil {
			sums[name][h.Sweep.Setup] = &strength.Part{}
		}
		scale := stats.FromDecibel(-float64(lower))
		sums[name][h.Sweep.Setup].Join(strength.Part{Power: f.Power * scale, Over: 1, Variance: f.Sigma * f.Sigma * scale * scale, Readings: 1})
	}
	for _, e := range l.SetupSegments {
		var own, ownSigma, antenna float64
		var control survey.Setup
		compared := false // with an antenna, at a gain that compares
		for setup, p := range sums[e.Segment.Name] {
			mean, sigma := p.Power/p.Over, math.Sqrt(p.Variance)/p.Over
			if !controls[setup] {
				antenna, compared = max(antenna, mean), true
			} else if mean > own {
				own, ownSigma, control = mean, sigma, setup
			}
		}
		if compared && own > 4*ownSigma && own > stats.FromDecibel(asStrong)*antenna {
			return fmt.Sprintf("as strong through %s on %s as through any antenna", wording.Setup(control, 40), wording.Printable(e.Segment.Name))
		}
	}
	return ""
}

// calibrated gives the lines that calibrations found to be the receiver's own, in order of
// frequency, each once, with the run.
func (l *noiseLog) calibrated() (lines []survey.OwnLine, runs []*survey.Calibration) {
	seen := map[survey.Hz]bool{}
	type found struct {
		line survey.OwnLine
		run  *survey.Calibration
	}
	var all []found
	for _, s := range l.In.Sweeps {
		for i := range s.Readings {
			k := l.In.CalibrationOf(s, i)
			if k == nil {
				continue
			}
			at := slices.IndexFunc(k.Runs, func(run *survey.Calibration) bool { return run.Kind == survey.CalibrateLines })
			for _, line := range k.Lines {
				if r := &s.Readings[i]; at >= 0 && !seen[line.Frequency] && line.Frequency >= r.Segment.Low && line.Frequency <= r.Segment.High {
					seen[line.Frequency] = true
					all = append(all, found{line, k.Runs[at]})
				}
			}
		}
	}
	slices.SortFunc(all, func(a, b found) int { return cmp.Compare(a.line.Frequency, b.line.Frequency) })
	for _, f := range all {
		if n := len(lines); n > 0 && float64(f.line.Frequency-lines[n-1].Frequency) <= ownTolerance*float64(f.line.Frequency) {
			continue // the same, as another calibration found it
		}
		lines, runs = append(lines, f.line), append(runs, f.run)
	}
	return lines, runs
}

// calibratedComb says that a comb's lines are among the receiver's own; "" where not. More
// must match than chance puts there.
func (l *noiseLog) calibratedComb(s *noiseSource, lines []survey.OwnLine) string {
	bin := 0.0
	for i, f := range s.measured {
		if f != nil {
			bin = max(bin, float64(l.Readings[i].BinWidth))
		}
	}
	matched, expected := 0, 0.0
	for _, line := range lines {
		f := float64(line.Frequency)
		reach := max(ownTolerance*f, bin)
		expected += min(1, 2*reach/s.spacing)
		if math.Abs(math.Remainder(f, s.spacing)) <= reach {
			matched++
		}
	}
	by := distuv.Poisson{Lambda: max(expected, 1e-9)}
	if matched < ownMatches || by.Survival(float64(matched)-1) > 1e-3 {
		return ""
	}
	return fmt.Sprintf("%d of the %d lines that a calibration found with a terminator in place of the antenna stand on its multiples", matched, len(lines))
}

// ownLines lists the receiver's own lines: those of calibrations, and those that move with
// the tuning.
func (l *noiseLog) ownLines() []result.OwnLine {
	out := []result.OwnLine{}
	lines, runs := l.calibrated()
	for i, line := range lines {
		f := line.Frequency
		out = append(out, result.OwnLine{Frequency: &f, Why: fmt.Sprintf("stood there with a terminator in place of the antenna, calibration of %s", runs[i].At.UTC().Format("2006-01-02"))})
	}
	return append(out, l.moving()...)
}

// An offsetHeard is in how many readings of one tuning a carrier stood at an offset.
type offsetHeard struct {
	offset, centre float64
	times          int
}

// moving gives lines that keep their offset at several tunings, at each of which they were
// there in a good part of the readings: a comb that drifts meets any offset once.
func (l *noiseLog) moving() (out []result.OwnLine) {
	all, reach := l.offsets()
	tunings := l.tunings()
	for i := 0; i < len(all); {
		end := i
		times := map[float64]int{}
		for end < len(all) && all[end].offset-all[i].offset <= 2*reach {
			times[all[end].centre] += all[end].times
			end++
		}
		there, could := 0, 0
		if len(times) >= movedCentres {
			for centre, readings := range listeningAt(tunings, all[(i+end-1)/2].offset) {
				could++
				if float64(times[centre]) >= keenShare*float64(readings) {
					there++
				}
			}
		}
		if there < movedCentres || 2*there < could {
			i++
			continue
		}
		offset := survey.Hz(all[(i+end-1)/2].offset)
		out = append(out, result.OwnLine{Offset: &offset, Why: fmt.Sprintf("moves with the tuning: at the same offset from it at %d tunings", there)})
		i = end
	}
	return out
}

// A tuning is a segment as it was heard from a centre.
type tuning struct {
	centre  survey.Hz
	segment survey.Segment
}

// tunings counts the readings of each.
func (l *noiseLog) tunings() map[tuning]int {
	n := map[tuning]int{}
	for i := range l.Readings {
		n[tuning{l.Readings[i].Centre, l.Readings[i].Segment}]++
	}
	return n
}

// listeningAt gives how many readings of each centre hold an offset from it.
func listeningAt(tunings map[tuning]int, offset float64) map[float64]int {
	at := map[float64]int{}
	for t, n := range tunings {
		if f := t.centre + survey.Hz(offset); f >= t.segment.Low && f <= t.segment.High {
			at[float64(t.centre)] += n
		}
	}
	return at
}

// offsets gives the detected carriers off the raster by their offset from the tuning, in
// order of it, to 10 Hz, and the reach within which two are one. It is empty where there
// are too few tunings.
func (l *noiseLog) offsets() (all []offsetHeard, reach float64) {
	type key struct{ offset, centre float64 }
	times, centres := map[key]int{}, map[survey.Hz]bool{}
	for i := range l.Readings {
		h := &l.Readings[i]
		centres[h.Centre] = true
		reach = max(reach, float64(h.Resolution)/2)
		for _, c := range h.Carriers {
			if c.Detected && math.Abs(math.Remainder(float64(c.Frequency), channelRaster)) > betweenSlots {
				times[key{10 * math.Round(float64(c.Frequency-h.Centre)/10), float64(h.Centre)}]++
			}
		}
	}
	if len(centres) < movedCentres {
		return nil, reach
	}
	for k, n := range times {
		all = append(all, offsetHeard{k.offset, k.centre, n})
	}
	slices.SortFunc(all, func(a, b offsetHeard) int {
		return cmp.Or(cmp.Compare(a.offset, b.offset), cmp.Compare(a.centre, b.centre))
	})
	return all, reach
}
