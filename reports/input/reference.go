package input

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// ErrReference is wrapped by errors about a reference that is not in what was recorded.
var ErrReference = errors.New("no such setup")

// A SetupPattern is a setup as a person writes it, ANTENNA[@PLACEMENT[:BEARING]].
// What is left out matches anything.
type SetupPattern survey.Setup

// ParseSetup reads ANTENNA[@PLACEMENT[:BEARING]], the bearing in degrees from
// true north, and the form in which setups are printed, loop@attic 040°. It is split at
// the first @ and the last colon after it, or the last space before a number with °.
func ParseSetup(text string) (SetupPattern, error) {
	var p SetupPattern
	var hasPlace bool
	p.Antenna, p.Placement, hasPlace = strings.Cut(text, "@")
	if p.Antenna == "" {
		return p, fmt.Errorf("setup %q: no antenna named; write ANTENNA[@PLACEMENT[:BEARING]], such as loop@attic:40", text)
	}
	if !hasPlace {
		return p, nil
	}
	place := p.Placement
	if name, deg, ok := printedBearing(place); ok {
		p.Placement, p.Bearing = name, survey.BearingOf(deg)
	} else if i := strings.LastIndexByte(place, ':'); i >= 0 {
		deg, err := strconv.ParseFloat(strings.TrimSuffix(place[i+1:], "°"), 64)
		if err != nil || !(deg >= 0 && deg < 360) {
			return p, fmt.Errorf("setup %q: bearing %q is no number of degrees in 0 ≤ bearing < 360; write such as loop@attic:40",
				text, place[i+1:])
		}
		p.Placement, p.Bearing = place[:i], survey.BearingOf(deg)
	}
	if p.Placement == "" {
		return p, fmt.Errorf("setup %q: no placement after @; leave the @ away or name one", text)
	}
	return p, nil
}

// printedBearing splits "attic 040°".
func printedBearing(place string) (name string, deg float64, ok bool) {
	i := strings.LastIndexByte(place, ' ')
	text, hasSign := strings.CutSuffix(place[i+1:], "°")
	if i < 0 || !hasSign {
		return "", 0, false
	}
	deg, err := strconv.ParseFloat(text, 64)
	return strings.TrimRight(place[:i], " "), deg, err == nil && deg >= 0 && deg < 360
}

// Match tells whether the setup fits the pattern.
func (p SetupPattern) Match(s survey.Setup) bool {
	return s.Antenna == p.Antenna &&
		(p.Placement == "" || s.Placement == p.Placement) &&
		(!p.Bearing.Known || s.Bearing == p.Bearing)
}

// Reference gives the setup that the others are compared with: the earliest
// seen that fits the pattern, or by default the first setup of the first survey
// (where it was never used, the earliest seen). The note, where there is one, is
// for the person who asked. The error wraps ErrReference.
func Reference(in Input, pattern string) (ref survey.Setup, note string, err error) {
	setups := in.Setups()
	if len(setups) == 0 {
		return ref, "", nil
	}
	if pattern == "" {
		return defaultReference(in, setups)
	}
	p, err := ParseSetup(pattern)
	if err != nil {
		return ref, "", err
	}
	fit := slices.DeleteFunc(slices.Clone(setups), func(s survey.Setup) bool { return !p.Match(s) })
	switch len(fit) {
	case 0:
		return ref, "", fmt.Errorf("reference %q: %w in what was recorded; there is %s", pattern, ErrReference, listSetups(setups))
	case 1:
		return fit[0], "", nil
	}
	return fit[0], fmt.Sprintf("reference %q fits %d setups; taking the earliest, %s, of %s",
		pattern, len(fit), wording.Printable(fit[0].String()), listSetups(fit)), nil
}

func defaultReference(in Input, setups []survey.Setup) (survey.Setup, string, error) {
	if len(in.Surveys) == 0 {
		return setups[0], "", nil
	}
	first := in.firstSurvey().First
	if slices.Contains(setups, first) {
		return first, "", nil
	}
	if first == (survey.Setup{}) {
		return setups[0], "", nil
	}
	return setups[0], fmt.Sprintf("the first setup of the survey, %s, is not in what was asked for; taking the earliest seen, %s",
		wording.Printable(first.String()), wording.Printable(setups[0].String())), nil
}

// firstSurvey gives the earliest survey that has sweeps.
func (in Input) firstSurvey() survey.Survey {
	for _, s := range in.Surveys {
		if slices.ContainsFunc(in.Sweeps, func(w *survey.Sweep) bool { return w.Survey == s.ID }) {
			return s
		}
	}
	return in.Surveys[0]
}

func listSetups(setups []survey.Setup) string {
	names := make([]string, len(setups))
	for i, s := range setups {
		names[i] = wording.Printable(s.String())
	}
	return strings.Join(names, ", ")
}
