package lines

import (
	"testing"

	"nightfloor/dsp/stat"
)

// A pair about a carrier is its sidebands only within SidebandReach, where the frequencies
// lie on either side to a tenth of a hertz, the levels are alike to 6 dB and 5 dB under the
// carrier.
func TestSidebandRules(t *testing.T) {
	const carrier = 9.65e6
	for _, test := range []struct {
		name         string
		below, above float64 // Hz from the carrier
		a, b         float64 // dB over the carrier
		pair         bool
	}{
		{"hum", 100, 100, -20, -20, true},
		{"turning a little", 1000, 1000.08, -10, -10, true},
		{"turning", 1000, 1000.12, -10, -10, false},
		{"fading apart", 1000, 1000, -10, -15.7, true},
		{"unequal", 1000, 1000, -10, -16.3, false},
		{"deep modulation", 1000, 1000, -5.2, -5.2, true},
		{"too strong", 1000, 1000, -4.8, -4.8, false},
		{"highest audio", 4975, 4975, -20, -20, true},
		{"next on the raster", 4985, 4985, -20, -20, false},
	} {
		lines := []Line{{Frequency: carrier, Power: 1},
			{Frequency: carrier - test.below, Power: stat.FromDB(test.a)}, {Frequency: carrier + test.above, Power: stat.FromDB(test.b)}}
		want := 3
		if test.pair {
			want = 1
		}
		if got := dropSidebands(lines); len(got) != want {
			t.Errorf("%s: %d lines left, want %d", test.name, len(got), want)
		}
	}
}
