package logbook_test

import (
	"fmt"
	"time"

	"nightfloor/survey"
	"nightfloor/survey/logbook"
)

// An event belongs to the survey that was under way at its time.
func ExampleBook_At() {
	clock := func(hour int) time.Time { return time.Date(2026, 11, 3, hour, 0, 0, 0, time.UTC) }
	book := logbook.Book{Now: clock(23), Entries: []*logbook.Entry{
		{Survey: survey.Survey{ID: 1, Start: clock(6), End: clock(9)}, Latest: clock(9)},
		{Survey: survey.Survey{ID: 2, Start: clock(18)}, Latest: clock(22)}, // has not ended
	}}
	for _, hour := range []int{7, 12, 20} {
		if e := book.At(clock(hour), true); e != nil {
			fmt.Printf("%s: survey %d\n", book.Clock(clock(hour)), e.ID)
		} else {
			fmt.Printf("%s: no survey\n", book.Clock(clock(hour)))
		}
	}
	// Output:
	// 07:00:00 UTC: survey 1
	// 12:00:00 UTC: no survey
	// 20:00:00 UTC: survey 2
}

// A time without a day is the last such time before now.
func ExampleParseTime() {
	now := time.Date(2026, 11, 4, 1, 30, 0, 0, time.UTC)
	for _, text := range []string{"1:05", "21:04"} {
		at, err := logbook.ParseTime(text, now)
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Println(at.Format("2 January 15:04"))
	}
	// Output:
	// 4 November 01:05
	// 3 November 21:04
}
