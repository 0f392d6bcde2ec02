package stations

import (
	"math"

	"nightfloor/reports/matrix"
)

const (
	// Broadcasters on shortwave stand on a raster of 5 kHz (PHYSICS.md 2.2), within 50 Hz
	// of it. TestHowFarTheRasterReaches fails when either moves, or clockTolerance.
	raster          = 5000.0 // Hz
	rasterTolerance = 50.0   // Hz
	// clockTolerance is how far a receiver without a clock correction may be off: 100
	// parts in a million is more than any dongle shows (PHYSICS.md 7.7).
	clockTolerance = 100e-6
)

// rasterOf finds the broadcasters' raster among lines; seen is false where there is none to go by.
// A noisy house can put more lines into a band than there are stations. The raster is therefore gone
// by even where it holds a minority of the lines, if it holds clearly more of them than chance would
// put there. One or two lines show no offset of a clock: they are on it where they stand on whole
// multiples (STATISTICS.md 2.2).
func rasterOf(m *matrix.Matrix, lines []int) (on func(line int) bool, seen bool) {
	if !m.Segment.Broadcast() {
		return func(int) bool { return false }, false
	}
	expected := float64(len(lines)) * 2 * rasterTolerance / raster
	clearly := func(most int) bool { return 2*most > len(lines) || float64(most) >= 3+3*expected }
	offset, most := rasterOffset(m, lines)
	if seen = most >= 3 && clearly(most); !seen {
		offset, seen = 0, clearly(rasterCount(m, lines, 0))
	}
	return func(line int) bool { return offRaster(m.Lines[line], offset) <= rasterTolerance }, seen
}

// rasterCount counts the lines that stand on the shifted raster.
func rasterCount(m *matrix.Matrix, lines []int, offset float64) (n int) {
	for _, line := range lines {
		if offRaster(m.Lines[line], offset) <= rasterTolerance {
			n++
		}
	}
	return n
}

// rasterOffset gives by which offset in Hz the most lines stand on the raster,
// and how many they are. The receiver's clock shifts all of a segment's lines
// alike. Of offsets with equally many lines zero is taken.
func rasterOffset(m *matrix.Matrix, lines []int) (offset float64, on int) {
	on = rasterCount(m, lines, 0)
	for _, line := range lines {
		own := m.Lines[line] - raster*math.Round(m.Lines[line]/raster)
		if math.Abs(own) > clockTolerance*m.Lines[line] {
			continue
		}
		if n := rasterCount(m, lines, own); n > on {
			offset, on = own, n
		}
	}
	return offset, on
}

// offRaster gives how far a frequency stands from the shifted raster, in Hz.
func offRaster(frequency, offset float64) float64 {
	frequency -= offset
	return math.Abs(frequency - raster*math.Round(frequency/raster))
}
