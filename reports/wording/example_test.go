package wording_test

import (
	"fmt"
	"time"

	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// Differences bear a true sign, zero none, and what is not known is a dash.
func ExampleSigned() {
	low, high, nothing := survey.DB(-1.26), survey.DB(7.3), survey.DB(-0.02)
	fmt.Println(wording.Signed(&low, 1), wording.Signed(&nothing, 1), wording.Signed(nil, 1))
	fmt.Println(wording.Interval(&low, &high, 1))
	// Output:
	// −1.3 0.0 –
	// −1.3 … +7.3
}

// A name that came from a file must not steer the terminal.
func ExamplePrintable() {
	fmt.Println(wording.Printable("loop\x1b[2J by the window\n"))
	// Output:
	// loop\x1b[2J by the window\x0a
}

// Times are told by the reader's clocks, with their zone.
func ExampleSpan() {
	cet := time.FixedZone("CET", 3600)
	from := time.Date(2026, 11, 3, 18, 0, 0, 0, time.UTC)
	for _, long := range []time.Duration{20 * time.Second, 206 * time.Minute, 8 * time.Hour} {
		fmt.Printf("%s: %s\n", wording.Duration(long), wording.Span(from, from.Add(long), cet))
	}
	// Output:
	// 20 s: 3 Nov 2026 19:00 CET
	// 3 h 26 min: 3 Nov 2026 19:00 – 22:26 CET
	// 8 h: 3 Nov 2026 19:00 – 4 Nov 03:00 CET
}

// The edges of a segment stand beside its name, unless they are its name.
func ExampleSegment() {
	fmt.Println(wording.Segment("31 m", 9.4e6, 9.9e6))
	fmt.Println(wording.Segment("14000-14100 kHz", 14e6, 14.1e6))
	fmt.Println(wording.Segment("my kHz", 14e6, 14.1e6))
	// Output:
	// 31 m, 9.4–9.9 MHz
	// 14000-14100 kHz
	// my kHz, 14–14.1 MHz
}
