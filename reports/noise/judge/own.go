package judge

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"nightfloor/reports/input"
	"nightfloor/reports/noise/source"
	"nightfloor/reports/readlog"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/strength"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// What is the receiver's own shows itself by staying when a terminator takes the antenna's
// place, or by moving with the tuning (STATISTICS.md 8.9).
const (
	// asStrong is how far under the strongest antenna a comb through a terminator is still as
	// strong: a few dB of mismatch change what a feed line carries. It must stand ownSigmas
	// standard errors over the noise; TestAsStrongThroughATerminator.
	asStrong  = -3.0 // dB
	ownSigmas = 4
	// ownMatches is how many of a calibration's lines must lie on a comb's multiples,
	// ownTolerance how far from them, as a share (two clocks of one receiver are one clock), and
	// ownChance how unlikely chance must be to put them there; TestLinesOnMultiples.
	ownMatches, ownTolerance, ownChance = 3, 30e-6, 1e-3
	// movedTunings is at how many tunings a line must keep its offset, movedShare in what share of
	// the readings of each; TestOffsetsKept, as of what follows.
	movedTunings, movedShare = 3, 0.25
	// betweenSlots is how far a line must stand from the broadcasters' raster to tell of the
	// tuning: tunings themselves stand on it, so that stations share offsets.
	betweenSlots = 500.0 // Hz
	// offsetStep is what offsets from the tuning are rounded to.
	offsetStep = 10.0 // Hz
)

// receiversOwn tells whether a comb is the receiver's.
func (k *known) receiversOwn(v *Verdict, s *source.Source) bool {
	stays, calibrated := k.throughTerminator(v, s), k.onCalibratedLines(v, s)
	return stays || calibrated
}

// throughTerminator tells whether a comb is known to be as strong without an antenna. Levels are
// those at the receiver, so that gains must compare.
func (k *known) throughTerminator(v *Verdict, s *source.Source) bool {
	sums, gains := make([]strength.Part, len(k.SetupSegments)), map[string]survey.Gain{} // by segment
	for r, f := range s.WhileOn(k.Log) {
		gain, seen := gains[r.Segment.Name]
		if !seen {
			gain, gains[r.Segment.Name] = r.Gain, r.Gain
		}
		if lower, ok := input.Refer(r.Gain, gain); ok {
			scale := stats.FromDecibel(-float64(lower))
			sums[r.SetupSegment].Join(strength.Part{Power: f.Power * scale, Variance: f.Sigma * f.Sigma * scale * scale, Readings: 1})
		}
	}
	for _, e := range k.SetupSegments {
		var own, ownSigma, antenna float64
		var control survey.Setup
		compared := false // with an antenna, at a gain that compares
		for n, p := range sums {
			at, readings := k.SetupSegments[n], float64(p.Readings)
			mean, sigma := p.Power/readings, math.Sqrt(p.Variance)/readings
			switch {
			case p.Readings == 0 || at.Segment.Name != e.Segment.Name:
			case !k.controls[at.Setup]:
				antenna, compared = max(antenna, mean), true
			case mean > own:
				own, ownSigma, control = mean, sigma, at.Setup
			}
		}
		if compared && own > ownSigmas*ownSigma && own > stats.FromDecibel(asStrong)*antenna {
			v.supports("as strong through %s on %s as through any antenna", control.Short(wording.SentenceRoom), wording.Printable(e.Segment.Name))
			return true
		}
	}
	return false
}

// A calibratedLine is one that a calibration found to be the receiver's own.
type calibratedLine struct {
	frequency survey.Hz
	run       *survey.Calibration
}

// calibrated gives the lines that calibrations found, in order of frequency, each once.
func calibrated(l *readlog.Log) (lines []calibratedLine) {
	found := map[survey.Hz]*survey.Calibration{}
	for _, s := range l.In.Sweeps {
		for i := range s.Readings {
			k := l.In.CalibrationOf(s, i)
			if k == nil {
				continue
			}
			at := slices.IndexFunc(k.Runs, func(run *survey.Calibration) bool { return run.Kind == survey.CalibrateLines })
			for _, line := range k.Lines {
				segment, f := s.Readings[i].Segment, line.Frequency
				if at >= 0 && found[f] == nil && f >= segment.Low && f <= segment.High {
					found[f] = k.Runs[at]
				}
			}
		}
	}
	for _, f := range slices.Sorted(maps.Keys(found)) {
		n := len(lines) // the same line may stand in several calibrations
		if n == 0 || float64(f-lines[n-1].frequency) > ownTolerance*float64(f) {
			lines = append(lines, calibratedLine{f, found[f]})
		}
	}
	return lines
}

// onCalibratedLines tells whether a comb's lines are among the receiver's own. More must match
// than chance puts there.
func (k *known) onCalibratedLines(v *Verdict, s *source.Source) bool {
	bin := 0.0
	for i, f := range s.Measured {
		if f != nil {
			bin = max(bin, float64(k.Readings[i].BinWidth))
		}
	}
	matched, expected := 0, 0.0
	for _, line := range k.own {
		f := float64(line.frequency)
		reach := max(ownTolerance*f, bin)
		expected += min(1, 2*reach/s.Comb.Spacing)
		if math.Abs(math.Remainder(f, s.Comb.Spacing)) <= reach {
			matched++
		}
	}
	by := distuv.Poisson{Lambda: max(expected, 1e-9)}
	if matched < ownMatches || by.Survival(float64(matched)-1) > ownChance {
		return false
	}
	v.supports("%d of the %d lines that a calibration found with a terminator in place of the antenna stand on its multiples", matched, len(k.own))
	return true
}

// OwnLines lists the receiver's own lines: those of calibrations, and those that move with
// the tuning.
func OwnLines(l *readlog.Log) []result.OwnLine {
	out := []result.OwnLine{}
	for _, line := range calibrated(l) {
		f := line.frequency
		out = append(out, result.OwnLine{Frequency: &f, Why: fmt.Sprintf("stood there with a terminator in place of the antenna, calibration of %s", line.run.At.UTC().Format("2006-01-02"))})
	}
	return append(out, moving(l)...)
}

// A lineOffset is how far from the tuning a carrier stood.
type lineOffset struct{ offset, centre survey.Hz }

// moving gives lines that keep their offset at several tunings, at each of which they were
// there in a good part of the readings: a comb that drifts meets any offset once.
func moving(l *readlog.Log) (out []result.OwnLine) {
	tunings, times, reach := offsets(l)
	all := slices.SortedFunc(maps.Keys(times), func(a, b lineOffset) int {
		return cmp.Or(cmp.Compare(a.offset, b.offset), cmp.Compare(a.centre, b.centre))
	})
	for i := 0; i < len(all); {
		end := i
		own := map[survey.Hz]int{} // by tuning
		for end < len(all) && all[end].offset-all[i].offset <= 2*reach {
			own[all[end].centre] += times[all[end]]
			end++
		}
		offset, there, could := all[(i+end-1)/2].offset, 0, 0
		for centre, readings := range readingsAt(tunings, offset) {
			could++
			if float64(own[centre]) >= movedShare*float64(readings) {
				there++
			}
		}
		if there < movedTunings || 2*there < could {
			i++
			continue
		}
		out = append(out, result.OwnLine{Offset: &offset, Why: fmt.Sprintf("moves with the tuning: at the same offset from it at %d tunings", there)})
		i = end
	}
	return out
}

// A tuning is a segment as it was taken from a centre.
type tuning struct {
	centre  survey.Hz
	segment survey.Segment
}

// readingsAt counts by centre the readings that hold an offset from it.
func readingsAt(tunings map[tuning]int, offset survey.Hz) map[survey.Hz]int {
	at := map[survey.Hz]int{}
	for t, n := range tunings {
		if f := t.centre + offset; f >= t.segment.Low && f <= t.segment.High {
			at[t.centre] += n
		}
	}
	return at
}

// offsets counts the readings of each tuning, and those in which a detected carrier off the
// raster stood at an offset, to offsetStep. Within reach two offsets are one.
func offsets(l *readlog.Log) (tunings map[tuning]int, times map[lineOffset]int, reach survey.Hz) {
	tunings, times = map[tuning]int{}, map[lineOffset]int{}
	for i := range l.Readings {
		r := &l.Readings[i]
		tunings[tuning{r.Centre, r.Segment}]++
		reach = max(reach, r.Resolution/2)
		for _, c := range r.Carriers {
			if c.Detected && math.Abs(math.Remainder(float64(c.Frequency), channelRaster)) > betweenSlots {
				times[lineOffset{survey.Hz(offsetStep * math.Round(float64(c.Frequency-r.Centre)/offsetStep)), r.Centre}]++
			}
		}
	}
	return tunings, times, reach
}
