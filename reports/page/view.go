package page

import (
	"cmp"
	"fmt"
	"html/template"
	"slices"
	"strings"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/verdict"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A view is what the template shows, in the order of the page, beside the report itself and
// the names of its setups.
type view struct {
	*result.Report
	*names
	Simulated bool
	Policy    string
	Style     template.CSS
	Charts    template.JS
	Script    template.JS
	Glance    verdict.Table
	Advice    []adviceView
	Sun       string // how the periods are told apart; "" where the place is not known
	Ranks     []rankView
	Changes   bool // of signal and floor are known in some ranking
	Nights    bool // some setup has an interval with the night as the unit
	Charted   bool // some ranking has figures
	Told      bool // some ranking has intervals
	Floors    []floorView
	Noise     *noiseView // nil where the report holds none
	Turns     []turnView
	Unturned  []string // of antennas that were turned too little
	Doubts    []doubtView
	Data      data
}

// A fact is one line of the page's head.
type fact struct {
	Name, Value string
	From, To    *time.Time // instead of Value
}

// data is what the script draws. Every list of setups goes by the index into
// Setups.
type data struct {
	Simulated bool                `json:"simulated"`
	Setups    []string            `json:"setups"`
	Palette   string              `json:"palette"` // base64 of 256 × red, green, blue
	Ranks     map[string]rankData `json:"ranks"`
	Floors    map[string]floorBox `json:"floors"`
	Noise     *timelineBox        `json:"noise"` // null where there is nothing to draw
	Sun       []sunBox            `json:"sun"`   // periods of the day over all floors and the timeline
}

// newView makes all that the page shows out of the report.
func newView(r *result.Report) (*view, error) {
	names := namesOf(r)
	floors, boxes, err := floorsOf(r, names)
	if err != nil {
		return nil, err
	}
	ranks, ranked := ranksOf(r, names)
	turns, unturned := turnsOf(r)
	noise, line := noiseOf(r.Noise, names), timelineOf(r, boxes)
	where := placeOf(r)
	style, charts, script := asset("page.css"), asset("charts.min.js"), script()
	v := &view{
		Report:    r,
		names:     names,
		Simulated: simulated(r),
		Policy:    policy(style, charts, script),
		Style:     template.CSS(style),
		Charts:    template.JS(charts),
		Script:    template.JS(script),
		Glance:    verdict.At(r.Rank),
		Advice:    adviceOf(r),
		Sun:       where.words(),
		Ranks:     ranks,
		Floors:    floors,
		Noise:     noise,
		Turns:     turns,
		Unturned:  unturned,
		Doubts:    doubtsOf(r.Doubts, "", names),
	}
	if line != nil {
		noise.Alt, noise.Silent, noise.Steps = line.words(), len(line.Silent) > 0, line.marked(markStep)
	}
	for _, s := range ranks {
		v.Changes, v.Nights = v.Changes || s.Changes, v.Nights || s.Nights
		v.Charted, v.Told = v.Charted || s.Charted, v.Told || s.Told
	}
	from, to := extent(boxes, line)
	v.Data = data{Simulated: v.Simulated, Setups: names.labels, Palette: asset("palette.txt"), Ranks: ranked, Floors: boxes, Noise: line,
		Sun: where.periods(time.UnixMilli(from), time.UnixMilli(to))}
	return v, nil
}

// extent gives from when to when anything is drawn, Unix milliseconds.
func extent(boxes map[string]floorBox, line *timelineBox) (from, to int64) {
	if line != nil {
		return line.From, line.To // it holds the floors'
	}
	for _, b := range boxes {
		if from == 0 || b.From < from {
			from = b.From
		}
		to = max(to, b.To)
	}
	return from, to
}

// simulated tells whether any part of the report comes from the simulated
// house: one simulated survey marks the whole page.
func simulated(r *result.Report) bool {
	return r.Simulated || r.Rank.Simulated || r.Floor.Simulated || r.Bearings.Simulated || r.Noise.Simulated ||
		slices.ContainsFunc(r.Surveys, func(s survey.Survey) bool { return s.Simulated }) ||
		slices.ContainsFunc(r.Quality.Surveys, func(s result.QualitySurvey) bool { return s.Simulated })
}

// factsOf gives site, dates and receiver.
func factsOf(r *result.Report) []fact {
	site := []string{wording.Printable(r.Site.Name), wording.Printable(r.Site.Locator)}
	if r.Site.Surroundings != "" {
		site = append(site, wording.Printable(r.Site.Surroundings)+" surroundings")
	}
	if r.Site.MainsHz > 0 {
		site = append(site, r.Site.MainsHz.String()+" mains")
	}
	site = slices.DeleteFunc(site, func(s string) bool { return s == "" })
	facts := []fact{{Name: "Site", Value: cmp.Or(strings.Join(site, ", "), "not noted")}}

	facts = append(facts, surveyFacts(toTheReadings(r))...)
	var receivers []string
	for _, s := range r.Surveys {
		if name := wording.Receiver(s.Receiver); name != "" && !slices.Contains(receivers, name) {
			receivers = append(receivers, name)
		}
	}
	return append(facts, fact{Name: "Receiver", Value: cmp.Or(strings.Join(receivers, "; "), "not noted")})
}

// toTheReadings gives the surveys, from the first to the last of their readings where those are known, as the summary tells.
func toTheReadings(r *result.Report) []survey.Survey {
	all := slices.Clone(r.Surveys)
	for i := range all {
		for _, q := range r.Quality.Surveys {
			if q.Survey == all[i].ID && q.First != nil && q.Last != nil {
				all[i].Start, all[i].End = *q.First, *q.Last
			}
		}
	}
	return all
}

// surveyFacts gives the dates of each survey; of more than three only how many
// there are, the first start and the last end.
func surveyFacts(surveys []survey.Survey) []fact {
	if len(surveys) > 3 {
		first := slices.MinFunc(surveys, func(a, b survey.Survey) int { return a.Start.Compare(b.Start) })
		first.End = slices.MaxFunc(surveys, func(a, b survey.Survey) int { return a.End.Compare(b.End) }).End
		return []fact{datesOf(fmt.Sprintf("%d surveys", len(surveys)), first)}
	}
	var facts []fact
	for _, s := range surveys {
		facts = append(facts, datesOf("Survey", s))
	}
	return facts
}

func datesOf(name string, s survey.Survey) fact {
	f := fact{Name: name, From: &s.Start}
	if !s.End.IsZero() {
		f.To = &s.End
	}
	return f
}
