package stations_test

import (
	"fmt"

	"nightfloor/reports/matrix"
	"nightfloor/reports/noise"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/stations"
	"nightfloor/survey"
)

// What is heard on an amateur band: lines of three supplies, a clock in the house, and one beacon.
func Example() {
	band := survey.Segment{Name: "20 m amateur", Low: 14e6, High: 14.35e6}
	house := reporttest.NewHouse(7, band)
	house.Lines = []reporttest.Line{
		{Frequency: 14.1e6, Level: []float64{25, 29, 20}, Fade: 3},
		{Frequency: 14.31818e6, Level: []float64{25, 10, 20}},
	}
	in := house.Input()
	m := matrix.New(in, band)
	rounds := make([]int, len(m.Rounds))
	for n := range rounds {
		rounds[n] = n
	}
	found := stations.New(m, stations.Known{Found: noise.Find(readlog.New(in))}).In(rounds)
	for _, line := range found.Stations {
		fmt.Printf("a station at %.0f kHz\n", m.Lines[line]/1e3)
	}
	for _, line := range found.Unproven {
		fmt.Printf("perhaps none at %.0f kHz\n", m.Lines[line]/1e3)
	}
	fmt.Printf("%d lines heard, %d of combs\n", found.Heard(), len(found.Comb))
	// Output:
	// a station at 14100 kHz
	// perhaps none at 14318 kHz
	// 22 lines heard, 20 of combs
}
