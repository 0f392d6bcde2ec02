package text

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// VerdictsText writes the verdicts of linearity in a line; "" where there are none.
func VerdictsText(q result.QualityCalibration) string {
	var parts []string
	for _, l := range q.Linearity {
		parts = append(parts, fmt.Sprintf("%s at %s dB: %s", wording.Printable(l.Segment.Name), wording.Number(float64(l.Gain), 1), l.Verdict))
	}
	return strings.Join(parts, "; ")
}

// FullScaleText writes how well full scale is known by a calibration in a line; "" where it told none.
func FullScaleText(q result.QualityCalibration) string {
	if q.Level == nil {
		return ""
	}
	return fmt.Sprintf("full scale known to %s dB (standard uncertainty): %s", wording.Number(float64(q.Level.Total()), 1), q.Level)
}

// writeServed lists the calibrations that served.
func writeServed(b *Sheet, all []result.QualityCalibration, zone *time.Location) {
	for i, q := range all {
		if i == 0 {
			b.WriteString("\ncalibrations that served\n")
		}
		b.Wrap(fmt.Sprintf("%d: %s, %s, of %s", q.Calibration, q.Kind, q.At.In(zone).Format("2 Jan 2006 15:04 MST"), wording.Receiver(q.Receiver)), "  ", "    ")
		for _, line := range []string{wording.Printable(q.Note), FullScaleText(q), VerdictsText(q)} {
			if line != "" {
				b.Wrap(line, "    ", "    ")
			}
		}
		writeDoubts(b, "    ", q.Doubts)
	}
}

// mostEvents is how many events of a survey a person is shown: a plug's log has
// thousands. JSON has them all.
const mostEvents = 12

// ShownEvents gives the events of the survey that a person is shown, those that make an
// antenna another before all.
func ShownEvents(s result.QualitySurvey) []result.QualityEvent {
	free := mostEvents
	for _, e := range s.Events {
		if e.Repeaked != nil {
			free--
		}
	}
	return slices.DeleteFunc(slices.Clone(s.Events), func(e result.QualityEvent) bool {
		if e.Repeaked == nil {
			free--
		}
		return e.Repeaked == nil && free < 0
	})
}

// writeEvents lists what was noted, times in the given zone.
func writeEvents(b *Sheet, s result.QualitySurvey, zone *time.Location) {
	events := ShownEvents(s)
	for _, e := range events {
		text := wording.Printable(e.Text)
		if e.Repeaked != nil {
			text = wording.Printable(*e.Repeaked) + " is another antenna from then on: " + text
		}
		b.Wrap("noted: "+e.At.In(zone).Format("2 Jan 2006 15:04:05 MST")+", "+text, "  ", "    ")
	}
	if left := len(s.Events) - len(events); left > 0 {
		b.WriteString("  noted: " + survey.Grouped(left) + " more; report quality --format json lists all\n")
	}
}

func qualityTable(b *Sheet, q result.Quality, zone *time.Location) {
	if len(q.Surveys) == 0 {
		b.WriteString("no survey is stored\n")
	}
	for i, s := range q.Surveys {
		if i > 0 {
			b.WriteString("\n")
		}
		surveyQuality(b, s, zone)
	}
	writeServed(b, q.Calibrations, zone)
}

func surveyQuality(b *Sheet, s result.QualitySurvey, zone *time.Location) {
	fmt.Fprintf(b, "survey %d", s.Survey)
	if s.Name != nil {
		b.WriteString(` "` + wording.Printable(*s.Name) + `"`)
	}
	if s.Simulated {
		b.WriteString(" (SIMULATED)")
	}
	if s.First != nil && s.Last != nil {
		b.WriteString(", " + wording.Span(*s.First, *s.Last, zone))
	}
	fmt.Fprintf(b, "\n  %s, %s, %s\n", survey.Count(s.Rounds, "round"), survey.Count(s.Sweeps, "sweep"), survey.Count(s.Readings, "reading"))
	var flags []string
	for _, f := range qualityFlags {
		if n := s.Flagged[f]; n > 0 {
			flags = append(flags, survey.Grouped(n)+" "+f)
		}
	}
	if len(flags) == 0 {
		flags = []string{"none"}
	}
	b.Wrap("flagged: "+strings.Join(flags, ", "), "  ", "    ")
	for _, g := range s.Gaps {
		b.Wrap(fmt.Sprintf("gap: %s (%s), %s", wording.Span(g.From, g.To, zone),
			wording.Duration(g.To.Sub(g.From)), wording.Printable(g.Why)), "  ", "    ")
	}
	for _, line := range slices.Concat(VisitLines(s.Visits, zone), PassbandLines(s.DroopCalibration), OwnNoiseLines(s.OwnNoise)) {
		b.Wrap(line, "  ", "    ")
	}
	writeEvents(b, s, zone)
	if s.Ending != nil {
		b.Wrap("ended: "+wording.Printable(*s.Ending), "  ", "    ")
	}
}

// shownReasons is how many reasons a person is shown; JSON has them all.
const shownReasons = 6

// VisitLines says how the visits went, a line each; none where all reached what was asked.
func VisitLines(q *result.QualityVisits, zone *time.Location) (lines []string) {
	if q == nil {
		return nil
	}
	if q.Unconfirmed > 0 {
		lines = append(lines, fmt.Sprintf("%s of %d to what was in place before, with nobody to confirm it", survey.Count(q.Unconfirmed, "visit"), q.Asked))
	}
	for i, m := range q.Why {
		if i == shownReasons {
			lines = append(lines, fmt.Sprintf("and for %d more reasons; report quality --format json lists all", len(q.Why)-i))
			break
		}
		what := "reached another setup than asked for"
		if m.Missed {
			what = "missed, nothing measured"
		}
		when := m.From.In(zone).Format("2 Jan 15:04 MST")
		if m.Visits > 1 {
			when += " to " + m.To.In(zone).Format("2 Jan 15:04 MST")
		}
		lines = append(lines, fmt.Sprintf("%s of %d %s, %s: %s", survey.Count(m.Visits, "visit"), q.Asked, what, when, wording.Printable(m.Why)))
	}
	return lines
}

// PassbandLines says in a line which calibration's curve of the passband was taken out of the readings; none where none was.
func PassbandLines(calibration *int64) []string {
	if calibration == nil {
		return nil
	}
	return []string{fmt.Sprintf("passband corrected as calibration %d measured it", *calibration)}
}

// OwnNoiseLines says by how much own noise drifted, a line for each control: where it drifted most.
func OwnNoiseLines(all []result.QualityOwnNoise) (lines []string) {
	var setups []survey.Setup
	for _, q := range all {
		if slices.Contains(setups, q.Setup) {
			continue
		}
		setups = append(setups, q.Setup)
		for _, o := range all {
			if o.Setup == q.Setup && o.Drift != nil && (q.Drift == nil || *o.Drift > *q.Drift) {
				q = o
			}
		}
		lines = append(lines, ownNoiseLine(q))
	}
	return lines
}

func ownNoiseLine(q result.QualityOwnNoise) string {
	whose := "the receiver's own noise"
	if q.Of != nil {
		whose = "noise of the amplifier of " + wording.Printable(*q.Of) + " and the receiver"
	}
	through := " (through " + q.Setup.Short(wording.SentenceRoom) + ")"
	if q.Drift == nil {
		return whose + " was measured in too few visits for its drift to be told" + through
	}
	return fmt.Sprintf("%s drifted by %s dB within %s on %s at %s dB%s", whose, wording.Figure(q.Drift, 1), wording.Duration(q.To.Sub(q.From)), wording.Printable(q.Segment), wording.Number(float64(q.Gain), 1), through)
}
