package reports

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A service counts what a calibration served.
type service struct {
	surveys  map[int64]bool
	readings int
	before   int // readings that were taken before it
}

// served gives the calibrations that served the readings, oldest first.
func served(in input.Input) []result.QualityCalibration {
	services := map[*survey.Calibration]*service{}
	for _, s := range in.Sweeps {
		for i := range s.Readings {
			k := in.CalibrationOf(s, i)
			if k == nil {
				continue
			}
			for _, run := range k.Runs {
				if services[run] == nil {
					services[run] = &service{surveys: map[int64]bool{}}
				}
				services[run].surveys[s.Survey] = true
				services[run].readings++
				if s.Readings[i].Start.Before(run.At) {
					services[run].before++
				}
			}
		}
	}
	out := []result.QualityCalibration{}
	for run, served := range services {
		q := result.QualityCalibration{Calibration: run.ID, Kind: run.Kind, Receiver: run.Receiver, At: run.At.UTC(), Note: run.Note,
			Surveys: slices.Sorted(maps.Keys(served.surveys)), Linearity: []result.LinearityVerdict{}, Doubts: doubtsOf(run, served)}
		for _, l := range run.Linearity {
			q.Linearity = append(q.Linearity, result.VerdictOf(l))
		}
		out = append(out, q)
	}
	slices.SortFunc(out, func(a, b result.QualityCalibration) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Calibration, b.Calibration))
	})
	return out
}

// roughNoise is the standard error from which on self-noise was measured with too few
// codes moving.
const roughNoise = 0.5 // dB

// doubtsOf says what speaks against a calibration that served.
func doubtsOf(run *survey.Calibration, served *service) []string {
	doubts := []string{}
	doubt := func(n, of int, what, words string) {
		if n > 0 {
			doubts = append(doubts, fmt.Sprintf("%d of %s %s", n, wording.Count(of, what), words))
		}
	}
	doubt(served.before, served.readings, "reading", "that it serves were taken before it: there was none of its kind before them")
	rough := 0
	for _, n := range run.Noise {
		if n.Sigma >= roughNoise {
			rough++
		}
	}
	doubt(rough, len(run.Noise), "figure", "rest on too few codes: they may be off by 2.5 dB")
	if slices.ContainsFunc(run.Levels, func(l survey.LevelReference) bool { return l.Basis == survey.BasisFigure }) {
		doubts = append(doubts, "its levels are as good as the noise figure that was given")
	}
	products := 0
	for _, l := range run.Linearity {
		if l.Verdict == survey.VerdictProducts {
			products++
		}
	}
	doubt(products, len(run.Linearity), "segment", "held intermodulation: part of what was heard there was made in the receiver")
	return doubts
}

// VerdictsText writes the verdicts of linearity in a line; "" where there are none.
func VerdictsText(q result.QualityCalibration) string {
	var parts []string
	for _, l := range q.Linearity {
		parts = append(parts, fmt.Sprintf("%s at %s dB: %s", wording.Printable(l.Segment), wording.Number(float64(l.Gain), 1), l.Verdict))
	}
	return strings.Join(parts, "; ")
}

// writeServed lists the calibrations that served.
func writeServed(b *strings.Builder, all []result.QualityCalibration, zone *time.Location) {
	for i, q := range all {
		if i == 0 {
			b.WriteString("\ncalibrations that served\n")
		}
		b.WriteString(wrap(fmt.Sprintf("%d: %s, %s, of %s", q.Calibration, q.Kind, q.At.In(zone).Format("2 Jan 2006 15:04 MST"), wording.Printable(q.Receiver)), "  ", "    ", 98))
		for _, line := range []string{wording.Printable(q.Note), VerdictsText(q)} {
			if line != "" {
				b.WriteString(wrap(line, "    ", "    ", 98))
			}
		}
		writeDoubts(b, "    ", q.Doubts)
	}
}
