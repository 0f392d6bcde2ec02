package survey

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// String names the survey by its number and, where it has one, its name.
func (s Survey) String() string {
	if s.Name != "" {
		return fmt.Sprintf("survey %d %q", s.ID, s.Name)
	}
	return fmt.Sprintf("survey %d", s.ID)
}

// longestName is how many characters the name of a survey may have: it stands in tables.
const longestName = 60

// CheckSurveyName tells what is wrong with the name of a survey. Nobody must take it for a number.
func CheckSurveyName(name string) error {
	_, number := strconv.ParseFloat(name, 64)
	switch {
	case strings.TrimSpace(name) == "":
		return errors.New("the name of a survey is empty; give it some letters")
	case number == nil:
		return fmt.Errorf("%s is a number, and surveys have numbers of their own; give it some letters", name)
	case strings.TrimSpace(name) != name || !Printable(name):
		return fmt.Errorf("the name %q begins or ends with a space, or holds what cannot be printed; use letters, figures and spaces", name)
	case utf8.RuneCountInString(name) > longestName:
		return fmt.Errorf("the name %.20q… has more than %d characters; use fewer", name, longestName)
	}
	return nil
}
