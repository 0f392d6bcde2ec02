package lines

import (
	"math"
	"slices"
	"testing"

	"nightfloor/dsp/floor"
	"nightfloor/dsp/spectrum"
)

// Masked are a line, all columns that it passed while it drifted, and its image where that would
// raise the floor by 1 dB: here 20 dB under the line.
func TestMaskedColumns(t *testing.T) {
	s := spectrum.NewSpectrogram(75e3, 1024, 1)
	mean, rough := make([]float64, s.Bins), make([]float64, s.Bins)
	for b := range rough {
		mean[b], rough[b] = 1, 1
	}
	const line, image = 10e3, -10e3
	bin := s.BinWidth()
	for _, test := range []struct {
		power, drift float64 // over the floor; Hz on either side
		offset       float64
		masked       bool
	}{
		{100, 0, line, true}, {100, 0, line + 3*bin, false}, {100, 3 * bin, line + 3*bin, true}, {100, 3 * bin, line - 2*bin, true},
		{100, 0, image, true}, {25, 0, image, false}, // 1 and 0.25 of the floor
	} {
		w := Tracker{mirror: Imbalance{Gamma: 0.1}, mirrors: true}
		w.track.lines = []trackedLine{{offset: line, low: line - test.drift, high: line + test.drift, power: test.power, frames: 1}}
		_, masks := w.Lines(s, mean, rough, 0)
		column := test.offset/bin - float64(s.Lowest)
		masked := slices.ContainsFunc(masks, func(l floor.Line) bool { return math.Abs(l.Column-column) <= 0.5 })
		if masked != test.masked {
			t.Errorf("line %.0f times the floor, drifting by ±%.0f Hz: %.0f Hz masked %v, want %v", test.power, test.drift, test.offset, masked, test.masked)
		}
	}
}
