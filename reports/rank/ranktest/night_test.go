package ranktest

import (
	"math"
	"testing"

	"nightfloor/reports/stats"
)

// What is measured is what was made: without noise worth speaking of, SNR differs by the truth.
func TestRowsHoldTheTruth(t *testing.T) {
	w := Like(func(w *World) {
		w.Shared, w.Own, w.OffAir, w.Low, w.High, w.FloorError, w.Drift = 0, 0, 0, 60, 70, 0, 0
		w.Device = Device{Raises: []float64{0, 18, 0, 0}, Share: 0.3, Lasts: 4, Known: true}
	})
	n := w.Night(1)
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
	on := 0.0
	for _, h := range n.On {
		on += h.To.Sub(h.From).Hours()
	}
	if share := on / (24. / 6); share < 0.05 || share > 0.7 {
		t.Errorf("device on in %.2f of the night, want about 0.3", share)
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
