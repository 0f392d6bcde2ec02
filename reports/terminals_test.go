package reports

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"nightfloor/reports/floor"
	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
)

// What a plan says of feed line and amplifier refers levels to the antenna's
// terminals: 1.5 dB of loss and 20 dB of gain lie before the receiver.
func TestLevelsAtTheTerminals(t *testing.T) {
	before, w := floor.Of(reporttest.Selected(noisyHouse(), input.Options{})), reporttest.NewWorld(0)
	in := noisyHouse()
	in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna A\"\ncable_loss = \"1.5 dB\"\namplifier = \"20 dB\"\n"
	after := floor.Of(reporttest.Selected(in, input.Options{}))
	if len(after.Rows) == 0 || len(after.Rows) != len(before.Rows) {
		t.Fatalf("%d rows, %d before", len(after.Rows), len(before.Rows))
	}
	for i, r := range after.Rows {
		want := before.Rows[i].DBmHz.P50
		if r.Setup == w.Setup(0) {
			want -= 18.5
		}
		if r.Fa != nil {
			t.Errorf("%v: an external noise figure without an antenna factor", r.Setup)
		}
		reporttest.Near(t, r.Setup.String(), result.DB(r.DBmHz.P50), want, 0.001)
		if *r.DBFSHz != *before.Rows[i].DBFSHz {
			t.Errorf("%v: the level at the converter changed", r.Setup)
		}
	}
}

// The external noise figure of a level is that of where the antenna's factor is told, an amplifier in it: the gain that
// was taken off the level is put back, and the line's loss stays out.
func TestExternalFigures(t *testing.T) {
	in, w := noisyHouse(), reporttest.NewWorld(0)
	in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna A\"\nkind = \"loop\"\ncable_loss = \"1.5 dB\"\namplifier = \"20 dB\"\nantenna_factor = \"8 dB\"\n"
	table, told := floor.Of(reporttest.Selected(in, input.Options{})), 0
	for _, r := range table.Rows {
		if r.Setup != w.Setup(0) {
			if r.Fa != nil {
				t.Errorf("%v: an external noise figure without an antenna factor", r.Setup)
			}
			continue
		}
		told++
		// D + 106.99 + AF − 20 log f + K, and 3.01 dB of all azimuths (PHYSICS.md 5.6).
		want := r.DBmHz.P50 + 20 + 106.99 + 8 - 20*math.Log10(float64(r.Low+r.High)/2e6) + 98.5 + 3.01
		reporttest.Near(t, "Fa", result.DB(r.Fa.P50), want, 0.001)
		if r.Fa.P10 > r.Fa.P50 || r.Fa.P90 < r.Fa.P50 {
			t.Errorf("quantiles out of order: %+v", *r.Fa)
		}
	}
	if said := fmt.Sprint(table.Doubts); told == 0 || !strings.Contains(said, "Fa is as good as the antenna factor") {
		t.Errorf("%d rows of figures, doubts %s", told, said)
	}
}
