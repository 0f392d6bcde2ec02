package rank

import (
	"strings"
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/rank/ranktest"
	"nightfloor/reports/reporttest"
)

// A state of a known source has a figure for every setup, also for one whose floor something else
// raises besides, which no other setup shows.
func TestStatesOfEverySetup(t *testing.T) {
	w := ranktest.Plain()
	w.Device = ranktest.Device{Raises: []float64{0, 12, 0, 0}, Share: 0.5, Lasts: 8, Known: true}
	n := w.Night(3)
	for _, s := range n.Input.Sweeps {
		if s.Setup == ranktest.Setup(2) && s.Round%2 == 0 {
			for i := range s.Readings {
				s.Readings[i].Floor.Density += 18
			}
		}
	}
	in, err := input.Select(n.Input, input.Options{Reference: ranktest.Setup(0).Antenna})
	if err != nil {
		t.Fatal(err)
	}
	told := 0
	for _, s := range Of(in, House{States: statesKnown(n)}, 1).Segments {
		if s.State == nil || !strings.HasPrefix(*s.State, "source 1 o") || strings.Contains(*s.State, ";") {
			continue
		}
		told++
		for k := 1; k < w.Setups; k++ {
			if x := reporttest.Find(t, s, ranktest.Setup(k)); x.SNRAdvantage == nil || x.Rounds < 4 {
				t.Errorf("%s: setup %d: %+v", *s.State, k, x)
			}
		}
	}
	if told != 2 {
		t.Errorf("%d states, want source 1 on and off", told)
	}
}
