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

// rasterOffset gives by which offset in Hz the most lines stand on the raster,
// and how many they are. The receiver's clock shifts all of a segment's lines
// alike. Of offsets with equally many lines zero is taken.
func rasterOffset(m *matrix.Matrix, lines []int) (offset float64, on int) {
	count := func(offset float64) (n int) {
		for _, line := range lines {
			if offRaster(m.Lines[line], offset) <= rasterTolerance {
				n++
			}
		}
		return n
	}
	on = count(0)
	for _, line := range lines {
		own := m.Lines[line] - raster*math.Round(m.Lines[line]/raster)
		if math.Abs(own) > clockTolerance*m.Lines[line] {
			continue
		}
		if n := count(own); n > on {
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
