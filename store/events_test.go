package store

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"nightfloor/survey"
)

// What is stored already is not stored again, whoever stored it and in however many
// transactions; what differs in anything is.
func TestAddEventsOnce(t *testing.T) {
	s := openTemp(t)
	one, two := begin(t, s), begin(t, s)
	var events []survey.Event
	for i := range eventsAtOnce + 10 {
		events = append(events, survey.Event{Survey: one, At: evening.Add(time.Duration(i) * time.Second), Text: fmt.Sprint("kettle ", i)})
	}
	if err := s.AddEvent(t.Context(), events[eventsAtOnce+5]); err != nil {
		t.Fatal(err)
	}
	for i, want := range []int{len(events) - 1, 0} {
		if n, err := s.AddEvents(t.Context(), events); err != nil || n != want {
			t.Errorf("time %d: %d added, %v; want %d", i+1, n, err, want)
		}
	}
	if got, err := s.Events(t.Context(), one); err != nil || !reflect.DeepEqual(got, events) {
		t.Errorf("%d events, %v; want the %d that were added, once each", len(got), err, len(events))
	}
	others := slices.Repeat(events[:1], 5)
	others[1].Survey, others[2].Text, others[3].Repeaked = two, "kettle", "loop"
	others[4].At = evening.Add(time.Millisecond)
	if n, err := s.AddEvents(t.Context(), others); err != nil || n != 4 {
		t.Errorf("%d added, %v; want the 4 that differ", n, err)
	}
	if n, err := s.AddEvents(t.Context(), []survey.Event{{Survey: two, At: evening}, {Survey: 99, At: evening}}); !isErr(err, ErrUnknown) || n != 0 {
		t.Errorf("%d added, %v; want ErrUnknown", n, err)
	}
	if got, err := s.Events(t.Context(), two); err != nil || len(got) != 1 {
		t.Errorf("%v, %v; want nothing of the refused", got, err)
	}
}

// The latest moment of a survey is its last reading's end, or a gap's.
func TestLatestAndSetupsOf(t *testing.T) {
	s := openTemp(t)
	id, other := begin(t, s), begin(t, s)
	latest := func(of int64, want time.Time) {
		t.Helper()
		if got, err := s.Latest(t.Context(), of); err != nil || !got.Equal(want) {
			t.Errorf("survey %d: %v, %v; want %v", of, got, err, want)
		}
	}
	latest(99, time.Time{})
	latest(id, evening)
	n := night{seeded(), 2, 3, 0}
	for _, i := range []int{4, 0} { // by time, not by number
		if err := s.AddSweep(t.Context(), n.sweep(id, i)); err != nil {
			t.Fatal(err)
		}
	}
	// Sweep 4 begins after 40 s, its second reading of 500 ms after another 600 ms.
	latest(id, evening.Add(41100*time.Millisecond))
	latest(other, evening)
	if err := s.AddGap(t.Context(), survey.Gap{Survey: id, From: evening, To: evening.Add(time.Hour)}); err != nil {
		t.Fatal(err)
	}
	latest(id, evening.Add(time.Hour))
	if got, err := s.SetupsOf(t.Context(), id); err != nil || !slices.Equal(got, nightSetups) {
		t.Errorf("%v, %v; want %v", got, err, nightSetups)
	}
	if got, err := s.SetupsOf(t.Context(), other); err != nil || len(got) != 0 {
		t.Errorf("%v, %v; want none", got, err)
	}
}
