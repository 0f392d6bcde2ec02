package input

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// ErrNothing is wrapped by errors about options that leave nothing to report.
var ErrNothing = errors.New("nothing to report")

// A nothingError says which option leaves nothing over.
type nothingError struct{ text string }

func (e nothingError) Error() string        { return e.text }
func (e nothingError) Is(target error) bool { return target == ErrNothing }

func nothing(format string, args ...any) error {
	return nothingError{fmt.Sprintf(format, args...)}
}

// Refine judges the options against all that is stored, and gives them with the
// segment's name as it is stored: 31m and 9400-9900 are 31 m. The error wraps
// ErrNothing; it names the option at fault, and what there is instead.
func Refine(in Input, opts Options) (Options, error) {
	if !opts.From.IsZero() && !opts.To.IsZero() && !opts.From.Before(opts.To) {
		return opts, nothing("--to %s lies before --from %s, or on it: nothing is between", survey.LocalTime(opts.To), survey.LocalTime(opts.From))
	}
	where := "the database"
	if opts.Survey != 0 {
		where = fmt.Sprintf("survey %d", opts.Survey)
		if err := in.hasSurvey(opts.Survey); err != nil {
			return opts, err
		}
	}
	part := in.part(opts.Survey, "")
	if len(part.Sweeps) == 0 {
		if opts.Survey != 0 {
			return opts, nothing("%s: it holds no sweeps", where)
		}
		return opts, nothing("no sweeps are stored; import recordings or record a survey")
	}
	if opts.Segment != "" {
		name, err := part.segmentNamed(opts.Segment, where)
		if err != nil {
			return opts, err
		}
		opts.Segment = name
		part = part.part(opts.Survey, name)
		where = wording.Printable(name) + " in " + where
	}
	return opts, part.hasTime(opts.From, opts.To, where)
}

// part gives the sweeps of a survey (0: of all, simulated or real) with a segment ("":
// whatever they have).
func (in Input) part(id int64, segment string) (out Input) {
	for _, s := range in.Sweeps {
		named := func(r survey.Reading) bool { return r.Segment.Name == segment }
		if (id == 0 || s.Survey == id) && (segment == "" || slices.ContainsFunc(s.Readings, named)) {
			out.Sweeps = append(out.Sweeps, s)
		}
	}
	return out
}

// hasSurvey refuses a survey that is not stored, with the numbers of those that are.
func (in Input) hasSurvey(id int64) error {
	var stored []int64
	for _, s := range in.Surveys {
		stored = append(stored, s.ID)
	}
	slices.Sort(stored)
	switch {
	case slices.Contains(stored, id):
		return nil
	case len(stored) == 0:
		return nothing("survey %d: no survey is stored", id)
	case len(stored) == 1:
		return nothing("survey %d: there is only survey %d", id, stored[0])
	}
	first, last := stored[0], stored[len(stored)-1]
	if len(stored) > 2 && last-first == int64(len(stored)-1) {
		return nothing("survey %d: there are %d to %d", id, first, last)
	}
	names := make([]string, len(stored))
	for i, s := range stored {
		names[i] = strconv.FormatInt(s, 10)
	}
	return nothing("survey %d: there are %s", id, wording.List(names))
}

// segmentNamed finds a segment as a person writes it: by its name, by its name but
// for spaces and capitals, by its edges or those of the band that it is a part of.
func (in Input) segmentNamed(text, where string) (string, error) {
	segments := in.segments()
	edges, err := survey.ParseSegment(text)
	for _, fits := range []func(survey.Segment) bool{
		func(s survey.Segment) bool { return s.Name == text },
		func(s survey.Segment) bool { return folded(s.Name) == folded(text) },
		func(s survey.Segment) bool { return err == nil && s.Low == edges.Low && s.High == edges.High },
		func(s survey.Segment) bool { return err == nil && s.Name == edges.Name },
	} {
		if i := slices.IndexFunc(segments, fits); i >= 0 {
			return segments[i].Name, nil
		}
	}
	var names []string
	for _, s := range segments {
		if folded(s.Name) == folded(text)+"amateur" {
			return "", nothing("segment %q: not in %s; for the amateur band write %q", text, where, s.Name)
		}
		if name := wording.Printable(s.Name); !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	if len(names) == 0 {
		return "", nothing("segment %q: not in %s, which holds no readings", text, where)
	}
	return "", nothing("segment %q: not in %s; there are %s", text, where, strings.Join(names, ", "))
}

func folded(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), "")) }

// hasTime refuses times between which no sweep starts, with those that are covered.
func (in Input) hasTime(from, to time.Time, where string) error {
	inside := func(s *survey.Sweep) bool {
		return (from.IsZero() || !s.Start.Before(from)) && (to.IsZero() || s.Start.Before(to))
	}
	if slices.ContainsFunc(in.Sweeps, inside) {
		return nil
	}
	byStart := func(a, b *survey.Sweep) int { return a.Start.Compare(b.Start) }
	first, last := slices.MinFunc(in.Sweeps, byStart).Start, slices.MaxFunc(in.Sweeps, byStart).Start
	var asked string
	switch {
	case from.IsZero():
		asked = "before " + survey.LocalTime(to)
	case to.IsZero():
		asked = "from " + survey.LocalTime(from) + " on"
	default:
		asked = "between " + survey.LocalTime(from) + " and " + survey.LocalTime(to)
	}
	return nothing("nothing %s; %s covers %s to %s", asked, where, survey.LocalTime(first), survey.LocalTime(last))
}
