package trials

import (
	"testing"

	"nightfloor/capture"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// Two antennas that show the same floors and carriers at the same gain are one; the bounds are 0.3 and 3 dB.
func TestSameAntenna(t *testing.T) {
	var p plan.Plan
	p.Antennas = []survey.Antenna{{Name: "choked", Of: "loop"}, {Name: "load", Kind: survey.KindTerminator}, {Name: "cap", Kind: survey.KindTerminator}}
	trial := func(antenna string, floor survey.DBFSPerHz, gain survey.DB, carriers ...float64) capture.Trial {
		setup := survey.Setup{Antenna: antenna}
		r := survey.Reading{Segment: survey.Segment{Name: "49 m"}, Resolution: 100, Gain: survey.Gain{DB: gain, Known: true}, Floor: &survey.Floor{Density: floor}}
		for i, power := range carriers {
			r.Carriers = append(r.Carriers, survey.Carrier{Frequency: survey.Hz(6e6 + 5e3*float64(i)), Power: power, Detected: true})
		}
		return capture.Trial{Asked: setup, Reached: capture.Reached{Setup: setup}, Readings: []survey.Reading{r}}
	}
	whip := trial("whip", -96, 20.7, 1e-6, 1e-5)
	for _, test := range []struct {
		why   string
		other capture.Trial
		want  bool
	}{
		{"the same", trial("loop", -96.05, 20.7, 1e-6, 1.1e-5), true},
		{"0.28 dB", trial("loop", -96.28, 20.7, 1e-6, 1e-5), true},
		{"0.32 dB", trial("loop", -96.32, 20.7, 1e-6, 1e-5), false},
		{"carriers 2.9 dB off", trial("loop", -96, 20.7, 1.95e-6, 1.95e-5), true},
		{"carriers 3.1 dB off", trial("loop", -96, 20.7, 2.05e-6, 2.05e-5), false},
		{"carriers that are not heard", trial("loop", -96, 20.7), false},
		{"another gain", trial("loop", -96, 22.9, 1e-6, 1e-5), false},
		{"the same antenna", trial("whip", -96, 20.7, 1e-6, 1e-5), false},
		{"a terminator", trial("load", -96, 20.7, 1e-6, 1e-5), true},
	} {
		if got := sameAntenna(p, whip, test.other); got != test.want {
			t.Errorf("%s: %v", test.why, got)
		}
	}
	recorded := trial("loop", -96, 0, 1e-6)
	recorded.Readings[0].Gain = survey.Gain{}
	other := recorded
	other.Asked.Antenna, other.Reached.Setup.Antenna = "whip", "whip"
	if sameAntenna(p, recorded, other) {
		t.Error("levels at gains that are not known are compared")
	}
	if sameAntenna(p, trial("loop", -96, 20.7, 1e-6), trial("choked", -96, 20.7, 1e-6)) || sameAntenna(p, trial("load", -96, 20.7), trial("cap", -96, 20.7)) {
		t.Error("an antenna's conditions, or two terminators, count as one antenna")
	}
}
