package pair_test

import (
	"fmt"
	"math"

	"nightfloor/reports/pair"
)

// A loop hears three stations four times as well as a whip in eight rounds, and a fourth that lies
// under the whip's noise.
func ExampleCompare() {
	var cells [][]pair.Cell
	for _, fade := range []float64{1, 2, 0.5, 1.5, 1, 0.7, 1.2, 0.9} {
		var row []pair.Cell
		for _, u := range []float64{4000, 900, 2500} {
			row = append(row, pair.Cell{First: pair.Level{U: 4 * u * fade}, Second: pair.Level{U: u * fade}, Measured: true})
		}
		row = append(row, pair.Cell{First: pair.Level{U: 20 * fade}, Second: pair.Level{U: fade - 1}, Measured: true})
		cells = append(cells, row)
	}
	r := pair.Compare(cells, 0)
	fmt.Printf("%.1f dB ahead, standard error %.1f dB or more\n", r.Advantage, math.Sqrt(r.Hidden))
	for _, u := range r.Unheard {
		fmt.Printf("carrier %d is not heard through the second, which is %.1f dB behind at least\n", u.Carrier+1, u.Behind)
	}
	// Output:
	// 8.2 dB ahead, standard error 0.2 dB or more
	// carrier 4 is not heard through the second, which is 14.4 dB behind at least
}
