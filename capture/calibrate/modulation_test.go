package calibrate

import (
	"testing"
	"time"

	"nightfloor/capture/scene"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// Programmes of the simulated house vary a carrier's envelope by more than mostModulation in nine of ten short readings,
// and the stations about it are told from lines, whatever stands where the generator should.
func TestProgrammesAreSeen(t *testing.T) {
	if testing.Short() {
		t.Skip("the simulated house, for some seconds of its time; it runs without -short")
	}
	house, err := scene.Open("scene:house?seed=7", scene.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer house.Close()
	setup := survey.Setup{Antenna: "whip", Placement: "loft"}
	if _, err := house.Change(t.Context(), setup); err != nil {
		t.Fatal(err)
	}
	p := plan.Plan{Segments: []survey.Segment{GeneratorSegment(5.922e6)}, Dwell: 100 * time.Millisecond, Setups: []survey.Setup{setup}}
	k, err := New(house, house, p, setup)
	if err != nil {
		t.Fatal(err)
	}
	_, _, heard, err := k.Levels(t.Context(), 5.922e6, -60, 1)
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, m := range heard.modulations {
		if m > mostModulation {
			seen++
		}
	}
	if seen < 10 || 10*seen < 9*len(heard.modulations) {
		t.Errorf("modulation is seen in %d of %d readings: %.2f", seen, len(heard.modulations), heard.modulations)
	}
	if err := k.antennaInPlace(heard, 0); err == nil {
		t.Errorf("taken for a generator alone: %v", err)
	}
	heard.lines = nil
	if err := k.antennaInPlace(heard, 0); err == nil {
		t.Errorf("without the stations about it taken for a generator: %v", err)
	}
}
