package text

import (
	"bytes"
	"testing"

	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
)

// The table says what feed lines that were crossed and idle antennas in another state did, each with
// its interval, and what is to be held against it.
func TestGoldenHalves(t *testing.T) {
	r := threeNights().Rank
	all := &r.Segments[0]
	estimate := func(mean, half float64) *result.Estimate {
		return &result.Estimate{DB: result.DB(mean), Low: result.DB(mean - half), High: result.DB(mean + half)}
	}
	loop, loft, whip := all.Setups[0].Setup, all.Setups[1].Setup, all.Setups[2].Setup
	all.Halves = []result.Halves{
		{Changed: "feed_lines", First: "straight", Second: "crossed", RoundsFirst: 12, RoundsSecond: 12, Setups: []result.HalvesSetup{
			{Setup: loop, First: estimate(5.6, 0.5), Second: estimate(4.4, 0.6), Advantage: estimate(-1.2, 0.8), Signal: estimate(-3, 0.7), Floor: estimate(-1.8, 0.5), OwnFloor: estimate(0.4, 1.4),
				Antennas: estimate(5, 0.4), Lines: estimate(0.6, 0.4)},
			{Setup: whip, OwnFloor: estimate(2.2, 1.2)},
		}},
		{Changed: "idle", First: "open", Second: "50 ohm", RoundsFirst: 9, RoundsSecond: 9, Setups: []result.HalvesSetup{
			{Setup: loop, Advantage: estimate(0.1, 0.5), Floor: estimate(2, 0.5), OwnFloor: &result.Estimate{DB: result.DB(1.1)}},
			{Setup: loft}, // nothing is known of it
			{Setup: whip, OwnFloor: estimate(0, 0.4)},
		}},
	}
	all.Controls = []result.Control{{Setup: loft, Against: whip, Rounds: 12}}
	r.Segments = r.Segments[:1]
	for name, width := range map[string]int{"halves.txt": Width, "halves-80.txt": 80} {
		var b bytes.Buffer
		if err := WriteTable(&b, r, reporttest.Zone, width); err != nil {
			t.Fatal(err)
		}
		golden(t, name, b.Bytes())
		checkWidth(t, name, b.String())
	}
	var b bytes.Buffer
	if err := result.WriteJSON(&b, all.Halves); err != nil {
		t.Fatal(err)
	}
	golden(t, "halves.json", b.Bytes())
}
