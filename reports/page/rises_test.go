package page

import (
	"slices"
	"strings"
	"testing"

	"nightfloor/reports/result"
	"nightfloor/reports/text"
)

// TestRises: what is interference is told one by one and in full, what is the ionosphere's
// in one and never among it.
func TestRises(t *testing.T) {
	r := smallNight()
	rises, nights, more := risesOf(r.Noise.Rises)
	if len(rises) != 3 || more != 0 {
		t.Fatalf("%d rises and %d more, want 3", len(rises), more)
	}
	step, broad, late := rises[0], rises[1], rises[2]
	if step.Kind != result.RiseStep || riseLevel(step.Rise) != "5.0 dB (95\u00a0% interval 4.3 to 5.7 dB)" || riseWhere(step.Rise) != "3 of 4 segments (49 m, 41 m, 31 m)" ||
		step.Through != "whip@study" || text.SourceList(step.Sources) != "source 1" || step.Span.From.Format("15:04") != "19:01" || step.Span.To.Format("15:04") != "22:58" {
		t.Errorf("the step from 19:01 to 22:58 is told as %+v", step)
	}
	if len(step.Events) != 1 || step.Events[0].Text != "dishwasher on" {
		t.Errorf("noted with the step: %+v", step.Events)
	}
	if riseLevel(broad.Rise) != "4.1 dB" || text.SourceList(broad.Sources) != "sources 2 and 4" {
		t.Errorf("the rise without an interval, with two sources, is told as %+v", broad)
	}
	if late.Span.To != nil || late.Span.From.Format("15:04") != "02:30" {
		t.Errorf("a step that is still on is told as %+v", late)
	}
	// From 17:30 to 21:00 by 4.0 dB, from 01:00 to 02:00 by 3.2 dB.
	if nights == nil || nights.Times != 2 || nights.Most != "4.0" || nights.Span.From.Format("15:04") != "17:30" || nights.Span.To.Format("15:04") != "02:00" {
		t.Errorf("the nights are told as %+v", nights)
	}
	gone := r.Noise.Rises[4]
	gone.From, gone.To = nil, gone.From
	if v := riseOf(gone); v.Span.To != nil || v.Span.From.Format("15:04") != "02:30" {
		t.Errorf("a step that was not seen to begin is told as %+v", v)
	}
	rises, nights, more = risesOf(append(slices.Repeat(r.Noise.Rises[1:2], shownRises), r.Noise.Rises[4]))
	if len(rises) != shownRises || more != 1 || rises[shownRises-1].To != nil || nights != nil {
		t.Errorf("of %d rises %d are told and %d left out, nights %v; want the last %d", shownRises+1, len(rises), more, nights, shownRises)
	}
}

// TestRisesOnTheTimeline: a row for each kind under the sources; an end that was not seen
// is none; steps are not joined, and the latest are drawn.
func TestRisesOnTheTimeline(t *testing.T) {
	r := smallNight()
	line := timelineOf(r, nil)
	var marks []string
	for _, row := range line.Rows {
		marks = append(marks, row.Mark)
	}
	if want := "hours hours hours step broadband night"; strings.Join(marks, " ") != want {
		t.Fatalf("rows %v, want %s", marks, want)
	}
	// In seconds after 16:00, where the clicks begin: 3.03 h to 6.97 h, and from 10.5 h on.
	if want := []stretchBox{{10908, 25092}, {37800, -1}}; !slices.Equal(line.Rows[3].Spans, want) {
		t.Errorf("steps at %v, want %v", line.Rows[3].Spans, want)
	}
	if want := []stretchBox{{5400, 18000}, {32400, 36000}}; !slices.Equal(line.Rows[5].Spans, want) {
		t.Errorf("nights at %v, want %v", line.Rows[5].Spans, want)
	}
	if got, want := line.words(), "Timeline: a bar for the hours in which each of 3 noise sources was on, steps of the floor, broadband rises and rises at night alone. The sentences below hold the same times."; got != want {
		t.Errorf("the timeline is told as %q, want %q", got, want)
	}
	r.Noise.Sources = nil
	r.Noise.Rises = append(slices.Repeat(r.Noise.Rises[1:2], shownSteps+5), r.Noise.Rises[4])
	line = timelineOf(r, nil)
	if n := len(line.Rows[0].Spans); len(line.Rows) != 1 || n != shownSteps || line.Rows[0].Spans[n-1][1] != -1 || !strings.Contains(line.Rows[0].More, "the last 60 of 66") {
		t.Errorf("66 steps are drawn as %+v", line.Rows)
	}
	for _, rise := range nightRises() {
		if _, ok := text.RiseVerdicts[rise.Kind]; !ok && rise.Kind != result.RiseNight {
			t.Errorf("a rise of kind %s is told without a verdict", rise.Kind)
		}
	}
}
