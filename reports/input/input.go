package input

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// An Input is what the statistics work on: rows as they were stored. Sweeps
// carry their readings and carriers; spectra are not looked at.
type Input struct {
	Surveys []survey.Survey
	Sweeps  []*survey.Sweep
	Gaps    []survey.Gap
	Events  []survey.Event // of all surveys
	Visits  []survey.Visit // of all surveys
	// Calibrations of any receiver; a reading is served by those of its survey's.
	Calibrations []survey.Calibration
	// Impossible counts rows that are not here, since what they hold cannot be.
	Impossible []survey.LeftOut

	applied map[*survey.Sweep][]*CalibrationFor // by reading; nil until calibrate
	own     *ownNoises                          // that controls show; nil until calibrate
}

// Options narrow a report down. The zero value asks for everything.
type Options struct {
	Reference string    // ANTENNA[@PLACEMENT[:BEARING]]; "": the default reference
	From, To  time.Time // sweeps that start in From ≤ t < To; zero: no bound
	Segment   string    // name of a segment; "": all
	Survey    int64     // 0: all; of simulated and real ones, the real ones
	Seed      uint64    // of the resampling behind best_share
}

// A Selection is what was asked for of an Input, made once for all results of a report:
// its sweeps in order of time, with what the calibrations say of the readings, and the
// setup that the others are compared with.
type Selection struct {
	Input
	Reference survey.Setup // the zero Setup where there are no sweeps
	LeftOut   doubt.Doubt  // that simulated surveys were left out; zero: none were
	Notes     []string     // for the person who asked
}

// Select gives the part of the input that the options ask for, with what the calibrations
// say of the readings: the flag receiver-limited and measured gains. An antenna that was
// repeaked is another from then on, and bears a name of its own. Simulated surveys beside
// real ones must be asked for by number. The input itself stays as it is. The error wraps
// ErrNothing where the options leave nothing of what there is, and ErrReference where
// the reference is not in it; the Notes are there all the same.
func Select(in Input, opts Options) (Selection, error) {
	if len(in.Sweeps) > 0 {
		var err error
		if opts, err = Refine(in, opts); err != nil {
			return Selection{}, err
		}
	}
	var s Selection
	s.Input, s.LeftOut = in.choose(opts)
	for _, d := range append(ImpossibleDoubts(s.Impossible), s.LeftOut) {
		if d.Kind != "" {
			s.Notes = append(s.Notes, d.String())
		}
	}
	ref, note, err := Reference(s.Input, opts.Reference)
	if err != nil {
		return s, err
	}
	if note != "" {
		s.Notes = append(s.Notes, note)
	}
	s.Reference = ref
	return s, nil
}

// choose gives the part that the options ask for, and that simulated surveys are left out
// of it; zero where none are.
func (in Input) choose(opts Options) (out Input, left doubt.Doubt) {
	other := func(id int64) bool { return opts.Survey != 0 && id != opts.Survey }
	out = in
	out.Impossible = in.impossibleIn(opts.Survey)
	out.Surveys = slices.DeleteFunc(slices.Clone(in.Surveys), func(s survey.Survey) bool { return other(s.ID) })
	out.Gaps = slices.DeleteFunc(slices.Clone(in.Gaps), func(g survey.Gap) bool { return other(g.Survey) })
	out.Sweeps = nil
	for _, s := range in.Sweeps {
		if other(s.Survey) ||
			!opts.From.IsZero() && s.Start.Before(opts.From) ||
			!opts.To.IsZero() && !s.Start.Before(opts.To) {
			continue
		}
		if opts.Segment != "" {
			s = without(s, func(r survey.Reading) bool { return r.Segment.Name != opts.Segment })
			if len(s.Readings) == 0 {
				continue
			}
		}
		out.Sweeps = append(out.Sweeps, s)
	}
	if opts.Survey == 0 && len(out.Sweeps) > 0 && out.made(false) {
		left = out.dropSimulated()
	}
	slices.SortStableFunc(out.Sweeps, func(a, b *survey.Sweep) int { return a.Start.Compare(b.Start) })
	slices.SortStableFunc(out.Surveys, func(a, b survey.Survey) int { return a.Start.Compare(b.Start) })
	out.states()
	out.calibrate()
	return out, left
}

// dropSimulated leaves the real surveys and says what is gone: what was made in the
// simulated house says nothing of real antennas.
func (in *Input) dropSimulated() doubt.Doubt {
	gone := map[int64]bool{}
	var names []string
	for _, s := range in.Surveys {
		if s.Simulated {
			gone[s.ID] = true
			names = append(names, fmt.Sprint(s.ID))
		}
	}
	in.Surveys = slices.DeleteFunc(in.Surveys, func(s survey.Survey) bool { return gone[s.ID] })
	in.Gaps = slices.DeleteFunc(in.Gaps, func(g survey.Gap) bool { return gone[g.Survey] })
	in.Sweeps = slices.DeleteFunc(in.Sweeps, func(s *survey.Sweep) bool { return gone[s.Survey] })
	switch len(names) {
	case 0:
		return doubt.Doubt{}
	case 1:
		return doubt.New(doubt.SimulatedLeft, names[0])
	}
	return doubt.New(doubt.SimulatedMany, wording.List(names))
}

// without gives the sweep without some readings; one that has none of them is given back itself.
func without(s *survey.Sweep, gone func(survey.Reading) bool) *survey.Sweep {
	if !slices.ContainsFunc(s.Readings, gone) {
		return s
	}
	rest := *s
	rest.Readings = slices.DeleteFunc(slices.Clone(s.Readings), gone)
	return &rest
}

// Simulated tells whether anything that the input holds was made in the
// simulated house. A survey without sweeps counts only where there are none at all.
func (in Input) Simulated() bool { return in.made(true) }

// made tells whether anything was made in the simulated house, or not in it.
func (in Input) made(simulated bool) bool {
	how := map[int64]bool{}
	for _, s := range in.Surveys {
		how[s.ID] = s.Simulated
	}
	if len(in.Sweeps) == 0 {
		return slices.ContainsFunc(in.Surveys, func(s survey.Survey) bool { return s.Simulated == simulated })
	}
	return slices.ContainsFunc(in.Sweeps, func(s *survey.Sweep) bool { return how[s.Survey] == simulated })
}

// Ranked gives the segments to be ranked, in order of frequency. Recordings at
// slightly different centres are cut to slightly different edges: cuts under one
// name that have most of their width in common are one segment, their overlap.
func (in Input) Ranked() []survey.Segment {
	var out []survey.Segment
	for _, s := range in.segments() {
		i := slices.IndexFunc(out, func(o survey.Segment) bool { return mostly(o, s) })
		if i < 0 {
			out = append(out, s)
			continue
		}
		out[i], _ = out[i].Within(s.Low, s.High)
	}
	return out
}

// segments gives the segments in order of frequency.
func (in Input) segments() []survey.Segment {
	seen := map[survey.Segment]bool{}
	for _, s := range in.Sweeps {
		for i := range s.Readings {
			seen[s.Readings[i].Segment] = true
		}
	}
	return slices.SortedFunc(maps.Keys(seen), func(a, b survey.Segment) int {
		return cmp.Or(cmp.Compare(a.Low, b.Low), cmp.Compare(a.High, b.High), cmp.Compare(a.Name, b.Name))
	})
}

// Setups gives the setups in order of appearance.
func (in Input) Setups() []survey.Setup {
	var found []survey.Setup
	for _, s := range in.Sweeps {
		if !slices.Contains(found, s.Setup) {
			found = append(found, s.Setup)
		}
	}
	return found
}

// Plans reads the plans of the surveys. Of a plan that another version wrote, what this one
// can read is given.
func (in Input) Plans() map[int64]plan.Plan {
	plans := map[int64]plan.Plan{}
	for _, s := range in.Surveys {
		plans[s.ID], _ = plan.Parse([]byte(s.Plan))
	}
	return plans
}

// Listed gives the frequencies that the surveys' plans list in a segment, in order, each once.
func (in Input) Listed(segment string) (all []survey.Hz) {
	for _, p := range in.Plans() {
		all = append(all, p.Listed[segment]...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// AntennaOf gives what a plan says of a setup's antenna, whatever state it is in.
func AntennaOf(p plan.Plan, s survey.Setup) survey.Antenna {
	return p.Antenna(cmp.Or(s.State.Antenna, s.Antenna))
}

// Antennas gives what the plans say of each setup's antenna, of several plans the first, unless another
// says that it is a control.
func (in Input) Antennas() map[survey.Setup]survey.Antenna {
	found, plans := map[survey.Setup]survey.Antenna{}, in.Plans()
	for _, s := range in.Sweeps {
		a := AntennaOf(plans[s.Survey], s.Setup)
		if had, ok := found[s.Setup]; !ok || a.Control() && !had.Control() {
			found[s.Setup] = a
		}
	}
	return found
}

// Controls tells which setups are controls: a plan says so by the kind, or the name terminator does.
func (in Input) Controls() map[survey.Setup]bool {
	found := map[survey.Setup]bool{}
	for s, a := range in.Antennas() {
		if a.Control() {
			found[s] = true
		}
	}
	return found
}

// Removed gives the setups that were measured with other antennas removed, with what plans say of their antenna.
func (in Input) Removed() map[survey.Setup]survey.Antenna {
	found := in.Antennas()
	maps.DeleteFunc(found, func(_ survey.Setup, a survey.Antenna) bool { return len(a.Removed) == 0 })
	return found
}

// Apart gives the setups that are no candidates for the best: controls, and antennas with others removed.
func (in Input) Apart() map[survey.Setup]bool {
	apart := in.Controls()
	for s := range in.Removed() {
		apart[s] = true
	}
	return apart
}

// EventsOf gives the events of a survey in order of time.
func EventsOf(all []survey.Event, id int64) []result.QualityEvent {
	events := []result.QualityEvent{}
	for _, e := range all {
		if e.Survey != id {
			continue
		}
		event := result.QualityEvent{At: e.At.UTC(), Text: e.Text}
		if e.Repeaked != "" {
			event.Repeaked = &e.Repeaked
		}
		events = append(events, event)
	}
	slices.SortStableFunc(events, func(a, b result.QualityEvent) int { return a.At.Compare(b.At) })
	return events
}
