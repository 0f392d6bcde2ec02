package rank

import (
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
)

// A tuned antenna that was left out of a segment is named there, and nowhere else.
func TestTunedAntennaIsNamedWhereItIsLeftOut(t *testing.T) {
	in := reporttest.NewWorld(5).Input() // on 31 m
	in.Surveys[0].Plan = "[[antenna]]\nname = \"tuned loop\"\nkind = \"loop\"\ntuned = \"5.9MHz-6.2MHz\"\n[[antenna]]\nname = \"antenna B\"\ntuned = \"9.3MHz-10MHz\"\n"
	s := mustRank(t, in, input.Options{}).Segments[0]
	if !reporttest.HasDoubt(s, "tuned loop is not compared here: it is tuned to 5.9–6.2 MHz") || reporttest.HasDoubt(s, "antenna B is not compared") {
		t.Errorf("%q", s.Doubts)
	}
}
