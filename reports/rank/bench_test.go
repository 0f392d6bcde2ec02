package rank

import (
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/survey"
)

// BenchmarkRank ranks a ten-hour night: 8 segments, a sweep every 10 s through one of ten setups, 20
// carriers a reading: 28,800 readings, 45 pairs of setups.
func BenchmarkRank(b *testing.B) {
	in := night()
	b.ReportAllocs()
	for b.Loop() {
		mustRank(b, in, input.Options{})
	}
}

// night makes 3,600 sweeps through 10 setups in 8 segments.
func night() input.Input {
	w := reporttest.NewWorld(1)
	w.Rounds, w.Sweeps = 120, 3
	w.Gain, w.Floor = []float64{0, 2, 4, -3, -12, 1, 3, -1, -6, -15}, []float64{-98, -98, -100, -95, -96, -98, -99, -97, -96, -95}
	w.Levels = nil
	for c := range 20 {
		w.Levels = append(w.Levels, 8+2*float64(c))
	}
	w.Spacing, w.Pattern = 20e3, 2
	in := w.Input()
	for _, s := range in.Sweeps {
		for i := 1; i < 8; i++ {
			r := s.Readings[0]
			shift := survey.Hz(i) * 1e6
			r.Segment = survey.Segment{Name: r.Segment.Name + string(rune('a'+i)), Low: r.Segment.Low + shift, High: r.Segment.High + shift}
			r.Carriers = append([]survey.Carrier(nil), r.Carriers...)
			for c := range r.Carriers {
				r.Carriers[c].Frequency += shift
			}
			s.Readings = append(s.Readings, r)
		}
	}
	return in
}
