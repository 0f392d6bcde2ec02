package reports

import (
	"fmt"

	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// NewReport makes every result of the rows that opts ask for. Version, Made and
// Pictures are left to the caller. The notes are for the person who asked. The
// error wraps ErrNothing where the options leave nothing of what there is, and
// ErrReference where the reference is not in it.
func NewReport(in Input, opts Options) (*Report, []string, error) {
	if len(in.Sweeps) > 0 {
		var err error
		if opts, err = Settle(in, opts); err != nil {
			return nil, nil, err
		}
	}
	all := in
	in, left := in.choose(opts)
	rank, notes, err := RankOf(in, opts)
	if left != "" {
		notes = append([]string{left}, notes...)
	}
	if err != nil {
		return nil, notes, err
	}
	r := &Report{Simulated: in.simulated(), Surveys: in.Surveys, Rank: rank,
		Floor: FloorOf(in, opts), Bearings: BearingsOf(in, opts), Noise: NoiseSourcesOf(in, opts),
		Quality: QualityOf(all, opts), Doubts: in.doubts()}
	if left != "" {
		r.Doubts = append(r.Doubts, left)
	}
	r.Doubts = append(r.Doubts, in.uncalibrated()...)
	r.Doubts = append(r.Doubts, in.pooled()...)
	r.Doubts = append(r.Doubts, r.Floor.Doubts...)
	r.Doubts = append(r.Doubts, r.Bearings.Doubts...)
	r.Doubts = append(r.Doubts, r.Noise.Doubts...)
	for _, s := range in.Surveys {
		if r.Title == "" {
			r.Title = planTitle(s)
		}
		if r.Site == (survey.Site{}) {
			r.Site = s.Site
		}
	}
	return r, notes, nil
}

// planTitle gives the title of a survey's plan, "" where it has none.
func planTitle(s survey.Survey) string {
	if s.Plan == "" {
		return ""
	}
	// A plan stored by another version may not be read by this one: no title then.
	p, err := plan.Parse([]byte(s.Plan))
	if err != nil {
		return ""
	}
	return p.Title
}

// doubts are what speaks against the survey as a whole.
func (in Input) doubts() []string {
	doubts := []string{}
	sites := map[survey.Site]bool{}
	for _, s := range in.Surveys {
		if s.Site != (survey.Site{}) {
			sites[s.Site] = true
		}
		if s.Kind == survey.KindRecord && s.Ending == "" {
			doubts = append(doubts, fmt.Sprintf("survey %d has not ended, or ended without a word: its last round may be incomplete", s.ID))
		}
	}
	if len(sites) > 1 {
		doubts = append(doubts, fmt.Sprintf("surveys of %d sites are taken together; choose one with --survey", len(sites)))
	}
	return doubts
}
