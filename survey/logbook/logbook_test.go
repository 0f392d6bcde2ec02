package logbook

import (
	"testing"
	"time"

	"nightfloor/survey"
)

func at(hour int) time.Time { return time.Date(2026, 11, 3, hour, 0, 0, 0, time.UTC) }

// entry makes a survey that began at an hour; it ended at another, or measured until then.
func entry(id int64, begun, last int, ended, simulated bool) *Entry {
	e := &Entry{Survey: survey.Survey{ID: id, Kind: survey.KindRecord, Start: at(begun), Simulated: simulated}, Latest: at(last)}
	if ended {
		e.End = at(last)
	}
	return e
}

// The running survey is a real one before a simulated one, and the one written last.
func TestRunning(t *testing.T) {
	b := Book{Entries: []*Entry{entry(1, 1, 9, true, false), entry(2, 2, 8, false, false), entry(3, 3, 7, false, false), entry(4, 4, 10, false, true)}}
	if got := b.Running(); got == nil || got.ID != 2 {
		t.Errorf("%+v, want survey 2", got)
	}
	b.Entries = b.Entries[3:]
	if got := b.Running(); got == nil || got.ID != 4 {
		t.Errorf("%+v, want the simulated survey 4", got)
	}
	if got := (Book{}).Running(); got != nil {
		t.Errorf("%+v in an empty book", got)
	}
}

// A time belongs to the survey that covers it, of several to the one begun last; beyond
// what an open survey has measured only where that is allowed.
func TestAt(t *testing.T) {
	b := Book{Entries: []*Entry{entry(1, 1, 5, true, false), entry(2, 4, 8, false, false)}}
	for _, c := range []struct {
		hour int
		open bool
		want int64
	}{{0, true, 0}, {3, false, 1}, {5, false, 2}, {8, false, 2}, {9, false, 0}, {9, true, 2}} {
		got := b.At(at(c.hour), c.open)
		if c.want == 0 && got != nil || c.want != 0 && (got == nil || got.ID != c.want) {
			t.Errorf("%d:00, open %v: %+v, want survey %d", c.hour, c.open, got, c.want)
		}
	}
}

// A time without a day is the last one before now.
func TestParseTime(t *testing.T) {
	now := at(12)
	for text, want := range map[string]time.Time{"11:00": at(11), "13:00": at(13).AddDate(0, 0, -1), "2026-11-03 07:00": at(7)} {
		if got, err := ParseTime(text, now); err != nil || !got.Equal(want) {
			t.Errorf("%s: %v, %v, want %v", text, got, err, want)
		}
	}
}
