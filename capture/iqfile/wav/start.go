package wav

import (
	"encoding/binary"
	"math"
	"regexp"
	"time"
)

// A Start is when the samples begin, as the broadcast extension chunk says it: by clocks whose
// zone it does not say.
type Start struct {
	Day   string        // 2026-11-03; "" where it is not said
	Clock string        // 21:04:10
	Later time.Duration // than that, or earlier: under a second
}

// Where things stand in the chunk: date and time of origination, number of the first sample since
// midnight (TimeReference).
const (
	bextDate, bextTime, bextReference, bextBytes = 320, 330, 338, 346
)

// The parts of dates and times; what stands between them is free.
var (
	dateParts = regexp.MustCompile(`^(\d{4})\D(\d\d)\D(\d\d)$`)
	timeParts = regexp.MustCompile(`^(\d\d)\D(\d\d)\D(\d\d)$`)
)

// start gives when the samples begin. The number of the first sample refines the time of
// origination, which has whole seconds, where it is less than one off. Else it is a place in
// something longer, and a doubt says so.
func (w *walker) start() Start {
	b := w.bext
	if len(b) < bextBytes {
		return Start{}
	}
	day, err := time.Parse(time.DateOnly, dateParts.ReplaceAllString(string(b[bextDate:bextTime]), "$1-$2-$3"))
	if err != nil {
		return Start{}
	}
	s := Start{Day: day.Format(time.DateOnly), Clock: timeParts.ReplaceAllString(string(b[bextTime:bextReference]), "$1:$2:$3")}
	since := w.reference()
	clock, err := time.Parse(time.TimeOnly, s.Clock)
	switch {
	case err != nil && since == 0:
		return Start{}
	case err != nil:
		s.Clock = time.Time{}.Add(since).Format(time.TimeOnly)
		s.Later = since % time.Second
	case since > 0:
		said := time.Duration(clock.Hour())*time.Hour + time.Duration(clock.Minute())*time.Minute + time.Duration(clock.Second())*time.Second
		if s.Later = since - said; s.Later.Abs() >= time.Second {
			s.Later = 0
			w.doubt("its bext chunk gives two times, %s and by its TimeReference %s: the first is taken as its start", s.Clock, time.Time{}.Add(since).Format(time.TimeOnly))
		}
	}
	return s
}

// reference gives the time since midnight that TimeReference says, 0 for none.
func (w *walker) reference() time.Duration {
	samples := binary.LittleEndian.Uint64(w.bext[bextReference:])
	if seconds := float64(samples) / float64(w.Rate); seconds < 24*3600 {
		return time.Duration(math.Round(seconds * float64(time.Second)))
	}
	return 0
}
