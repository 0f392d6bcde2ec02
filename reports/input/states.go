package input

import (
	"slices"
	"strings"
	"time"

	"nightfloor/survey"
)

// An antenna that was repeaked in a survey is another antenna from then on: its
// gain and its tuning are others, and the two states must not be pooled. Sweeps of
// the later state bear a name of their own, before any statistics.

// states gives sweeps that were taken after their antenna was repeaked copies with
// the state's name. Of a sweep in hand at that time the readings that had not ended
// are left out, since it is not known which state they heard. Applied again it changes
// nothing.
func (in *Input) states() {
	type antenna struct {
		survey int64
		name   string
	}
	repeaked := map[antenna][]time.Time{}
	for _, e := range in.Events {
		if e.Repeaked != "" {
			of := antenna{e.Survey, e.Repeaked}
			repeaked[of] = append(repeaked[of], e.At)
		}
	}
	if len(repeaked) == 0 {
		return
	}
	for _, times := range repeaked {
		slices.SortFunc(times, time.Time.Compare)
	}
	form := in.stateForm()
	sweeps := make([]*survey.Sweep, 0, len(in.Sweeps))
	for _, s := range in.Sweeps {
		times := repeaked[antenna{s.Survey, s.Setup.Antenna}]
		before := 0
		for before < len(times) && !times[before].After(s.Start) {
			before++
		}
		if before < len(times) {
			s = without(s, func(r survey.Reading) bool { return r.Start.Add(r.Duration).After(times[before]) })
			if len(s.Readings) == 0 {
				continue
			}
		}
		if before > 0 {
			named := *s
			named.Setup = stateOf(s.Setup, times[before-1], form)
			s = &named
		}
		sweeps = append(sweeps, s)
	}
	in.Sweeps = sweeps
}

// stateOf gives the setup with its antenna as it is since it was repeaked, the time told in
// one of the stateForms.
func stateOf(s survey.Setup, since time.Time, form string) survey.Setup {
	since = since.UTC()
	s.State = survey.State{Antenna: s.Antenna, Clock: since.Format(form[strings.LastIndexByte(form, ' ')+1:])}
	s.Antenna += " (repeaked " + since.Format(form) + " UTC)"
	return s
}

// stateForms are the ways in which a state's name tells the time, without the colon
// that parts placement and bearing.
var stateForms = []string{"2 Jan 15.04", "2 Jan 2006 15.04", "2 Jan 2006 15.04.05", "2 Jan 2006 15.04.05.000"}

// stateForm gives the shortest form that tells apart all times at which anything was
// repeaked.
func (in Input) stateForm() string {
	for _, form := range stateForms {
		times := map[string]time.Time{}
		clash := slices.ContainsFunc(in.Events, func(e survey.Event) bool {
			if e.Repeaked == "" {
				return false
			}
			text := e.At.UTC().Format(form)
			other, taken := times[text]
			times[text] = e.At
			return taken && !other.Equal(e.At)
		})
		if !clash {
			return form
		}
	}
	return stateForms[len(stateForms)-1]
}
