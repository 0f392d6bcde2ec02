package comb

import "testing"

// BenchmarkSeekCombs is the search in one recording of half a second at 2.4 MS/s, on an
// empty band and on a crowded one, and in the eight of a sweep.
func BenchmarkSeekCombs(b *testing.B) {
	for _, bench := range []struct {
		name      string
		occupancy float64
		centres   []float64
		over      float64 // of the lines of three combs
	}{
		{"empty", 0, []float64{9.65e6}, 0},
		{"crowded", 0.6, []float64{9.65e6}, 0},
		{"three combs", 0.3, []float64{9.65e6}, 30},
		{"sweep", 0.3, []float64{4.9e6, 6.05e6, 7.3e6, 9.65e6, 11.85e6, 13.7e6, 15.3e6, 15.6e6}, 0},
		{"sweep with three combs", 0.3, []float64{4.9e6, 6.05e6, 7.3e6, 9.65e6, 11.85e6, 13.7e6, 15.3e6, 15.6e6}, 30},
	} {
		var views []*View
		for k, centre := range bench.centres {
			m := newMadeSpectrum(1, uint64(k), centre)
			m.addBroadcast(m.first, m.first+1.6e6, 10e3, bench.occupancy)
			for _, spacing := range []float64{65.013e3, 48.617e3, 113.29e3} {
				m.addComb(spacing, bench.over, 0.3)
			}
			views = append(views, m.view())
		}
		b.Run(bench.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Seek(views, 2e-4)
			}
		})
	}
}
