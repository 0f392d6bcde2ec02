package page

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/reports/wording"
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
	hours []result.NoiseHours
	rises []result.Rise // of steps
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
	b := &timelineBox{}
	for _, s := range r.Noise.Sources {
		if s.Likely == result.LikelyOwn || len(b.Rows) == shownSources {
			continue
		}
		row := timelineRow{Mark: markHours, Label: fmt.Sprint(s.ID), Name: upper(wording.Printable(s.String())), More: wording.Printable(text.LikelyText(&s)), hours: s.Hours}
		b.Rows = append(b.Rows, row)
	}
	b.addRises(r.Noise.Rises)
	if len(b.Rows) == 0 {
		return nil
	}
	b.span(boxes)
	for i := range b.Rows {
		if row := &b.Rows[i]; row.Mark == markStep {
			row.Spans = b.steps(row.rises)
		} else {
			row.Spans = b.spans(row.hours)
		}
	}
	b.Silent = b.spans(silences(r.Quality, time.UnixMilli(b.From), time.UnixMilli(b.To)))
	return b
}

// addRises adds a row for each kind of rise that there is.
func (b *timelineBox) addRises(all []result.Rise) {
	for _, row := range riseRows {
		for _, r := range all {
			if r.Kind == row.Mark {
				row.hours, row.rises = append(row.hours, riseHours(r)), append(row.rises, r)
			}
		}
		if left := len(row.rises) - shownSteps; row.Mark == markStep && left > 0 {
			row.rises, row.More = row.rises[left:], row.More+fmt.Sprintf("; the last %d of %d", shownSteps, len(row.rises))
		}
		if len(row.hours) > 0 {
			b.Rows = append(b.Rows, row)
		}
	}
}

// steps gives steps up and down again, none joined.
func (b *timelineBox) steps(rises []result.Rise) (out []stretchBox) {
	after := func(t *time.Time) int64 {
		if t == nil {
			return -1
		}
		return (t.UnixMilli() - b.From) / 1000
	}
	for _, r := range rises {
		out = append(out, stretchBox{after(r.From), after(r.To)})
	}
	return out
}

// span sets the time that is drawn: that of the floors, so that the pictures compare, and
// of all hours.
func (b *timelineBox) span(boxes map[string]floorBox) {
	b.From, b.To = extent(boxes, nil)
	for _, row := range b.Rows {
		for _, h := range row.hours {
			if from := h.From.UnixMilli(); b.From == 0 || from < b.From {
				b.From = from
			}
			b.To = max(b.To, h.To.UnixMilli())
		}
	}
	b.To = max(b.To, b.From+time.Minute.Milliseconds()) // a moment needs a width to be seen
}

// spans gives stretches of time, in order of it, joined where no screen shows a gap.
func (b *timelineBox) spans(hours []result.NoiseHours) []stretchBox {
	gap, out := (b.To-b.From)/1000/shownWidth, []stretchBox{}
	for _, h := range hours {
		from, to := (h.From.UnixMilli()-b.From)/1000, (h.To.UnixMilli()-b.From)/1000
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
		shows = append(shows, "a bar for the hours in which each of "+wording.Count(sources, "noise source")+" was on")
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
