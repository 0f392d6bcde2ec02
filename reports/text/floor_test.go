package text

import (
	"bytes"
	"strings"
	"testing"

	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// A margin says over what it is where that is not the receiver alone.
func TestWhatMarginsAreOver(t *testing.T) {
	amplifier, terminator := survey.KindReplaced, "terminator"
	row := func(antenna string, over *string) result.FloorRow {
		return result.FloorRow{Segment: "31 m", Low: 9.4e6, High: 9.9e6, Setup: survey.Setup{Antenna: antenna, Placement: "attic"}, Readings: 4,
			DBFSHz: &result.Quantiles{P10: -101, P50: -100, P90: -99}, Gain: result.DB(30), Margin: result.DB(6.2), MarginOver: over}
	}
	for _, width := range []int{80, Width} {
		var b bytes.Buffer
		if err := WriteTable(&b, result.FloorTable{Rows: []result.FloorRow{row("whip", &amplifier), row("loop", &terminator)}}, reporttest.Zone, width); err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(b.String()) {
			if strings.Contains(line, "attic") && (!strings.Contains(line, "6.2") || strings.Contains(line, "amp. 6.2") != strings.Contains(line, "whip")) && width == Width {
				t.Errorf("%s", line)
			}
		}
		checkWidth(t, "margins", b.String())
	}
}
