package reports

import (
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
		reporttest.Near(t, r.Setup.String(), result.DB(r.DBmHz.P50), want, 0.001)
		if *r.DBFSHz != *before.Rows[i].DBFSHz {
			t.Errorf("%v: the level at the converter changed", r.Setup)
		}
	}
}
