package ranktest

import (
	"math"
	"slices"
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/stats"
)

// What is measured is what was made: without noise worth speaking of, SNR differs by the truth.
func TestRowsHoldTheTruth(t *testing.T) {
	w := Like(func(w *World) {
		w.Shared, w.Own, w.OffAir, w.Low, w.High, w.FloorError, w.Drift = 0, 0, 0, 60, 70, 0, 0
		w.Device = Device{Raises: []float64{0, 18, 0, 0}, Share: 0.3, Lasts: 4, Known: true}
	})
	n := w.Night(3)
	if len(n.On) == 0 || len(n.Off) == 0 {
		t.Fatal("the device neither came nor went: this night shows nothing")
	}
	snr := make([]map[int]float64, w.Setups) // by setup and round, mean over carriers
	for k := range snr {
		snr[k] = map[int]float64{}
	}
	for _, s := range n.Input.Sweeps {
		r := s.Readings[0]
		for _, c := range r.Carriers {
			snr[s.Setup.Antenna[len(s.Setup.Antenna)-1]-'A'][s.Round-1] += stats.Decibel(c.Power/r.Floor.Density.Linear()) / float64(w.Carriers)
		}
	}
	for k := 1; k < w.Setups; k++ {
		sum, rounds := 0.0, 0.0
		for t, counts := range n.counting(k) {
			if counts {
				sum, rounds = sum+snr[k][t]-snr[0][t], rounds+1
			}
		}
		// A power 60 dB over its error is good to 4.34·√(0.35/1e6) = 0.003 dB.
		if got := sum / rounds; math.Abs(got-n.Truth(k)) > 0.005 {
			t.Errorf("setup %d: %.2f dB, truth %.2f", k, got, n.Truth(k))
		}
	}
	// The hours of the device are those in which the floor through the second setup stood raised.
	for _, s := range n.Input.Sweeps {
		if k := int(s.Setup.Antenna[len(s.Setup.Antenna)-1] - 'A'); k == 1 {
			raised := snr[k][s.Round-1] < snr[0][s.Round-1]+n.gain[1]-n.gain[0]-9
			holds := func(h input.Span) bool { return h.Holds(s.Start) }
			on, off := slices.ContainsFunc(n.On, holds), slices.ContainsFunc(n.Off, holds)
			if on != raised || off == on {
				t.Errorf("round %d: on %v, off %v, raised %v", s.Round, on, off, raised)
			}
		}
	}
}

// With all carriers strong, and nothing correlated, the need is that of a mean by hand: differences
// of 3√2 dB from 24 × 12 cells, floors of 0.5√2 and 0.1√2 dB from 24 rounds.
func TestNeedByHand(t *testing.T) {
	w := Like(func(w *World) { w.Lag, w.DriftLag, w.OffAir, w.Low, w.High = 0, 0, 0, 60, 70 })
	want := stats.Normal95 * math.Sqrt((2*9./12+2*0.25+2*0.01)/24)
	if got := w.Night(1).Need(2); math.Abs(got/want-1) > 0.005 {
		t.Errorf("need %.3f dB, want %.3f", got, want)
	}
}

// Rounds compare two setups unless a device that both hear, or a known one that neither hears, came or went in
// their midst, or their state is met once.
func TestWhichRoundsCompare(t *testing.T) {
	for _, c := range []struct {
		raises      []float64
		known       bool
		reference   string // whether the device was on, by round
		other, want string
	}{
		{[]float64{0, 9}, false, "--x---", "-xx-x-", "yyyyyy"},
		{[]float64{0, 9}, true, "--x---", "-xx-x-", "yyyyyy"},
		{[]float64{9, 9}, false, "xx----", "-xxx--", "....yy"},
		{[]float64{9, 9}, false, "xxx---", "-xxx--", ".yy.yy"},
		{[]float64{0, 0}, true, "--x---", "-xx-x-", "y.yy.y"},
	} {
		n := &Night{World: World{Rounds: 6, Device: Device{Raises: c.raises, Known: c.known}}}
		for i := range c.reference {
			n.visits = append(n.visits, []visit{{seen: true, on: c.reference[i] == 'x'}, {seen: true, on: c.other[i] == 'x'}})
		}
		for i, counts := range n.counting(1) {
			if counts != (c.want[i] == 'y') {
				t.Errorf("%+v: round %d counts %v", c, i, counts)
			}
		}
	}
}
