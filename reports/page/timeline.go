package page

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A timelineBox is the timeline of noise sources as the script draws it, a row each.
type timelineBox struct {
	From   int64         `json:"from_ms"`
	To     int64         `json:"to_ms"`
	Rows   []timelineRow `json:"rows"`
	Silent []stretchBox  `json:"silent_s"` // when nothing was measured
}

// A timelineRow is a noise source, or what rose in one way.
type timelineRow struct {
	Mark  string       `json:"mark"`  // how its spans are drawn
	Label string       `json:"label"` // short, in the margin: the source's number
	Name  string       `json:"name"`
	More  string       `json:"more"` // beside the name where there is room
	Spans []stretchBox `json:"spans_s"`
}

// A stretchBox is a stretch of time, seconds after the timeline's beginning; −1 is an end
// that was not seen.
type stretchBox [2]int64

// shownWidth is of how many pixels the timeline is made: a desk's screen has 1,100 or, dense, twice that.
const shownWidth = 2000

// shownSteps is how many steps of the floor are drawn, the latest: more could not be told
// apart.
const shownSteps = 60

// Marks of the timeline's rows.
const (
	markHours = "hours"              // in which a source was on
	markStep  = result.RiseStep      // a device switching
	markBroad = result.RiseBroadband // interference over most of the free spectrum
	markNight = result.RiseNight     // the ionosphere
)

// riseRows are the rows of rises, in their order.
var riseRows = []timelineRow{
	{Mark: markStep, Name: "Steps of the floor", More: "each a device switching"},
	{Mark: markBroad, Name: "Broadband rises", More: text.RiseVerdicts[result.RiseBroadband]},
	{Mark: markNight, Name: "Rises at night alone", More: "the ionosphere, no interference"},
}

// timelineOf gives the timeline; nil where there is nothing to draw.
func timelineOf(r *result.Report, boxes map[string]floorBox) *timelineBox {
	sources := slices.DeleteFunc(slices.Clone(r.Noise.Sources), func(s result.NoiseSource) bool { return s.Likely == result.LikelyOwn })
	sources = sources[:min(shownSources, len(sources))]
	if len(sources)+len(r.Noise.Rises) == 0 {
		return nil
	}
	b := newTimeline(sources, r.Noise.Rises, boxes)
	for _, s := range sources {
		b.Rows = append(b.Rows, timelineRow{markHours, fmt.Sprint(s.ID), upper(wording.Printable(s.String())), wording.Printable(s.LooksLike()), b.spans(s.Hours)})
	}
	for _, row := range riseRows {
		if b.addRises(&row, r.Noise.Rises); len(row.Spans) > 0 {
			b.Rows = append(b.Rows, row)
		}
	}
	b.Silent = b.spans(silences(r.Quality, time.UnixMilli(b.From), time.UnixMilli(b.To)))
	return b
}

// newTimeline begins a timeline: it spans the floors, so that the pictures compare, and all hours
// and rises.
func newTimeline(sources []result.NoiseSource, rises []result.Rise, boxes map[string]floorBox) *timelineBox {
	b := &timelineBox{}
	b.From, b.To = extent(boxes, nil)
	var hours []result.NoiseHours
	for _, s := range sources {
		hours = append(hours, s.Hours...)
	}
	for _, r := range rises {
		hours = append(hours, riseHours(r))
	}
	for _, h := range hours {
		if from := h.From.UnixMilli(); b.From == 0 || from < b.From {
			b.From = from
		}
		b.To = max(b.To, h.To.UnixMilli())
	}
	b.To = max(b.To, b.From+time.Minute.Milliseconds()) // a moment needs a width to be seen
	return b
}

// addRises adds the spans of a kind of rise to its row. Steps stay apart, and only the latest are drawn.
func (b *timelineBox) addRises(row *timelineRow, all []result.Rise) {
	var hours []result.NoiseHours
	var steps []stretchBox
	for _, r := range all {
		if r.Kind != row.Mark {
			continue
		}
		hours, steps = append(hours, riseHours(r)), append(steps, stretchBox{-1, -1})
		for i, end := range []*time.Time{r.From, r.To} {
			if end != nil {
				steps[len(steps)-1][i] = b.after(*end)
			}
		}
	}
	if row.Mark != markStep {
		row.Spans = b.spans(hours)
		return
	}
	if left := len(steps) - shownSteps; left > 0 {
		row.More += fmt.Sprintf("; the last %d of %d", shownSteps, len(steps))
		steps = steps[left:]
	}
	row.Spans = steps
}

// after gives an instant in seconds after the beginning.
func (b *timelineBox) after(t time.Time) int64 { return (t.UnixMilli() - b.From) / 1000 }

// spans gives stretches of time, in order of it, joined where no screen shows a gap.
func (b *timelineBox) spans(hours []result.NoiseHours) []stretchBox {
	gap, out := (b.To-b.From)/1000/shownWidth, []stretchBox{}
	for _, h := range hours {
		from, to := b.after(h.From), b.after(h.To)
		if n := len(out); n > 0 && from-out[n-1][1] < gap {
			out[n-1][1] = max(out[n-1][1], to)
		} else {
			out = append(out, stretchBox{from, to})
		}
	}
	return out
}

// marked tells whether any row has a mark.
func (b *timelineBox) marked(mark string) bool {
	return slices.ContainsFunc(b.Rows, func(row timelineRow) bool { return row.Mark == mark })
}

// words tell what the timeline shows, for who does not see it.
func (b *timelineBox) words() string {
	sources, shows := 0, []string{}
	for _, row := range b.Rows {
		if row.Mark == markHours {
			sources++
		}
	}
	if sources > 0 {
		shows = append(shows, "a bar for the hours in which each of "+survey.Count(sources, "noise source")+" was on")
	}
	for _, row := range b.Rows[sources:] {
		shows = append(shows, strings.ToLower(row.Name))
	}
	return fmt.Sprintf("Timeline: %s. The sentences below hold the same times.", wording.List(shows))
}

// silences gives the gaps within surveys and the time between them, as far as they fall
// between two instants.
func silences(q result.Quality, from, to time.Time) (out []result.NoiseHours) {
	add := func(a, b time.Time) {
		if a.Before(from) {
			a = from
		}
		if b.After(to) {
			b = to
		}
		if a.Before(b) {
			out = append(out, result.NoiseHours{From: a, To: b})
		}
	}
	surveys := slices.DeleteFunc(slices.Clone(q.Surveys), func(s result.QualitySurvey) bool { return s.First == nil || s.Last == nil })
	slices.SortFunc(surveys, func(a, b result.QualitySurvey) int { return a.First.Compare(*b.First) })
	var last time.Time
	for i, s := range surveys {
		for _, g := range s.Gaps {
			add(g.From, g.To)
		}
		if i > 0 && s.First.After(last) {
			add(last, *s.First)
		}
		if s.Last.After(last) {
			last = *s.Last
		}
	}
	slices.SortStableFunc(out, func(a, b result.NoiseHours) int { return a.From.Compare(b.From) })
	return out
}
