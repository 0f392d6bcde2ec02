package input

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"nightfloor/survey"
)

// ErrReference is wrapped by errors about a reference that is not in what was recorded.
var ErrReference = errors.New("no such setup")

// Reference gives the setup that the others are compared with: the earliest
// seen that fits the pattern, or by default the first setup of the first survey
// (where it was never used, or is no candidate, the earliest seen that is one). The note, where there is one, is
// for the person who asked. The error wraps ErrReference.
func Reference(in Input, pattern string) (ref survey.Setup, note string, err error) {
	setups := in.Setups()
	if len(setups) == 0 {
		return ref, "", nil
	}
	if pattern == "" {
		return defaultReference(in, setups)
	}
	p, err := survey.ParseSetup(pattern)
	if err != nil {
		return ref, "", err
	}
	fit := slices.DeleteFunc(slices.Clone(setups), func(s survey.Setup) bool { return !s.Matches(p) })
	switch len(fit) {
	case 0:
		return ref, "", fmt.Errorf("reference %q: %w in what was recorded; there is %s", pattern, ErrReference, listSetups(setups))
	case 1:
		return fit[0], "", nil
	}
	return fit[0], fmt.Sprintf("reference %q fits %d setups; taking the earliest, %s, of %s",
		pattern, len(fit), fit[0].String(), listSetups(fit)), nil
}

func defaultReference(in Input, setups []survey.Setup) (survey.Setup, string, error) {
	if len(in.Surveys) == 0 {
		return setups[0], "", nil
	}
	first, apart := in.firstSurvey().First, in.Apart()
	if antennas := slices.DeleteFunc(slices.Clone(setups), func(s survey.Setup) bool { return apart[s] }); len(antennas) > 0 {
		setups = antennas
	}
	if slices.Contains(setups, first) {
		return first, "", nil
	}
	if first == (survey.Setup{}) || apart[first] {
		return setups[0], "", nil
	}
	return setups[0], fmt.Sprintf("the first setup of the survey, %s, is not in what was asked for; taking the earliest seen, %s",
		first.String(), setups[0].String()), nil
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
		names[i] = s.String()
	}
	return strings.Join(names, ", ")
}
