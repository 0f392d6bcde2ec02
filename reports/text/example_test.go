package text_test

import (
	"fmt"
	"os"

	"nightfloor/reports/input"
	"nightfloor/reports/rank"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/text"
	"nightfloor/reports/verdict"
)

// A result as a table for a person, and its verdict: a simulated survey in which antenna B hears
// 3 dB better than A, while fading moves their difference by 2 dB from round to round.
func ExampleWriteTable() {
	w := reporttest.NewWorld(1)
	w.Gain, w.Fade = []float64{0, 3}, 2
	selected, err := input.Select(w.Input(), input.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	found := rank.Of(selected, rank.House{}, 1)
	found.Segments = found.Segments[:1] // the whole time, without the periods of the day
	if err := text.WriteTable(os.Stdout, found, reporttest.Zone, text.Width); err != nil {
		fmt.Println(err)
	}
	fmt.Println(verdict.Sentence(&found.Segments[0]))
	// Output:
	// SIMULATED: made in the simulated house; the figures say nothing of any real antenna.
	//
	// SNR against antenna A@attic, dB
	//
	// 31 m, 9.4–9.9 MHz, over all hours, 24 rounds
	//   antenna B@attic hears best, 2.1 dB ahead of antenna A@attic (1.1 … 3.1).
	//        setup            advantage  95 % interval  Δ signal  Δ floor   first  rounds  carriers
	//   * 1  antenna B@attic       +2.1    +1.1 … +3.1      +0.2     −1.9  > 99 %      24         4
	//     2  antenna A@attic        0.0      reference       0.0      0.0   < 1 %      24         4
	//
	// * may be the best: with 95 % the true best is among those marked.
	// Intervals are 95 %, each by itself, of conditions like those of these rounds: another night may
	// differ by more.
	// first: the chance to be first, as far as these rounds tell.
	// Δ: change from the reference. Advantage = Δ signal − Δ floor.
	//
	// SIMULATED: made in the simulated house; the figures say nothing of any real antenna.
	// antenna B@attic hears best, 2.1 dB ahead of antenna A@attic (1.1 … 3.1).
}
