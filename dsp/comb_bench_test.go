package dsp

import "testing"

// BenchmarkSeekCombs is the search in one recording of half a second at 2.4 MS/s: on an
// empty band, and on a crowded one.
func BenchmarkSeekCombs(b *testing.B) {
	for _, bench := range []struct {
		name      string
		occupancy float64
	}{{"empty", 0}, {"crowded", 0.6}} {
		m := newMadeSpectrum(1, 1, 9.65e6)
		m.addBroadcast(8.85e6, 10.45e6, 10e3, bench.occupancy)
		v := m.view()
		b.Run(bench.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				SeekCombs([]*CombView{v}, 2e-4)
			}
		})
	}
}
