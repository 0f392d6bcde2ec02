package series_test

import (
	"fmt"

	"nightfloor/reports/series"
)

// Sixteen rounds of one antenna against another, 5 dB better while a device in the house is off and
// 7 dB worse while it is on. Its states are strata: what lies between them is no scatter.
func ExampleOf() {
	s := series.Series{
		Values:  []float64{5.3, 4.6, 5.8, 5.1, -7.2, -6.5, -7.9, -7.3, 4.4, 5.2, 5.9, 4.9, -6.8, -7.4, -6.6, -7.1},
		Stratum: []int{0, 0, 0, 0, 1, 1, 1, 1, 0, 0, 0, 0, 1, 1, 1, 1},
	}
	for n := range s.Values {
		s.Times = append(s.Times, float64(n))
	}
	fit := series.Of(s)
	weights := series.Pool([]*series.Fit{fit}, 2) // one pair of two setups
	for _, m := range []struct {
		of string
		*series.Mixture
	}{{"all rounds", fit.By(weights, nil)}, {"device off", fit.Only(weights, 0)}, {"device on", fit.Only(weights, 1)}} {
		low, high, _ := m.Interval()
		fmt.Printf("%s: %.1f dB, 95 %% interval %.1f to %.1f dB\n", m.of, m.Mean, low, high)
	}
	// Output:
	// all rounds: -1.0 dB, 95 % interval -1.3 to -0.6 dB
	// device off: 5.1 dB, 95 % interval 4.7 to 5.6 dB
	// device on: -7.1 dB, 95 % interval -7.6 to -6.6 dB
}
