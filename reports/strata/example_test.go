package strata_test

import (
	"fmt"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/strata"
)

// Eight rounds, half an hour each, through a loop and the reference. A source that is known, heard in
// the first two hours, raises the floor of the loop by 12 dB. It went while the loop was measured: that round is
// neither.
func ExampleChoose() {
	evening := time.Date(2026, 10, 3, 18, 0, 0, 0, time.UTC)
	at := func(minutes int) time.Time { return evening.Add(time.Duration(minutes) * time.Minute) }
	s := strata.Segment{
		Floors: [][]float64{
			{-88.1, -87.7, -88.0, -88.2, -91.1, -99.8, -100.3, -99.9}, // the loop
			{-98.2, -98.0, -98.1, -98.3, -98.1, -97.9, -98.2, -98.0},  // the reference
		},
		Visits:    make([][]time.Time, 2),
		Sources:   []strata.Source{{ID: 2, On: []input.Span{{First: at(0), Last: at(125)}}, Off: []input.Span{{First: at(130), Last: at(240)}}}},
		Reference: 1,
	}
	for n := range 8 {
		s.Visits[0], s.Visits[1] = append(s.Visits[0], at(30*n)), append(s.Visits[1], at(30*n+15))
	}
	p := strata.Choose(s).Pair(0, 1)
	fmt.Println(p.Stratum)
	for i, state := range p.States {
		fmt.Println(i, state)
	}
	for _, l := range p.Left {
		fmt.Printf("round %d left out: %s\n", l.Round, strata.Reasons([]strata.Left{l}))
	}
	// Output:
	// [0 0 0 0 -1 1 1 1]
	// 0 source 2 on
	// 1 source 2 off
	// round 4 left out: source 2 was switched in the midst of the round
}
