package verdict

import (
	"fmt"
	"slices"
	"strings"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// Halves says what changes of the wiring at half time did in a segment, a line for each change and one for each setup; none
// where nothing changed.
func Halves(s *result.RankSegment, reference survey.Setup) (lines []string) {
	for _, h := range s.Halves {
		part := survey.WiringParts[slices.IndexFunc(survey.WiringParts, func(p survey.WiringPart) bool { return p.Key == h.Changed })]
		lines = append(lines, fmt.Sprintf("Half time: %s %s in %s, %s in %d. What that did, against %s:",
			part.Name, h.First, survey.Count(h.RoundsFirst, "round"), h.Second, h.RoundsSecond, name(reference)))
		for _, x := range h.Setups {
			if said := halvesOf(&h, &x); said != "" {
				who := name(x.Setup)
				if x.Setup == reference {
					who += " (reference)"
				}
				lines = append(lines, who+": "+said+".")
			}
		}
	}
	if len(lines) > 0 {
		caution := "The halves are of other hours: what counts is the change against the reference. A setup's own floor changes with the hours, too"
		if len(s.Controls) > 0 {
			caution += "; a control's only as the receiver drifts and as its feed line picks up noise"
		}
		lines = append(lines, caution+".")
	}
	return lines
}

// halvesOf says what a change did to one setup, "" where nothing is known.
func halvesOf(h *result.Halves, x *result.HalvesSetup) string {
	var parts []string
	add := func(what string, e *result.Estimate) {
		if e != nil {
			parts = append(parts, estimate(what, e))
		}
	}
	if x.Antennas != nil {
		add(fmt.Sprintf("%s dB %s and %s dB %s make antennas", wording.Signed(x.First.DB, 1), h.First, wording.Signed(x.Second.DB, 1), h.Second), x.Antennas)
		add("lines and ports", x.Lines)
	} else {
		add("advantage", x.Advantage)
	}
	add("signal", x.Signal)
	add("floor", x.Floor)
	add("its own floor", x.OwnFloor)
	return strings.Join(parts, "; ")
}

// estimate writes what something changed by, with its interval.
func estimate(what string, e *result.Estimate) string {
	switch interval := wording.Interval(e.Low, e.High, 1); {
	case e.Low == nil || e.High == nil:
		return what + " ≈ " + wording.Signed(e.DB, 1) + " dB"
	case !e.Seen():
		return what + " " + wording.Signed(e.DB, 1) + " dB, no difference seen (" + interval + ")"
	default:
		return what + " " + wording.Signed(e.DB, 1) + " dB (" + interval + ")"
	}
}
