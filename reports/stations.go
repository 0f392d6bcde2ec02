package reports

import "math"

const (
	// heardSigmas is from how many standard errors on a line counts as heard in one
	// cell. One cell of noise alone passes in 2.3 %, three of 24 in 2 %.
	heardSigmas = 2
	// heardRounds is in how many rounds a line must be heard through one setup to
	// count; with fewer than minRounds rounds, in all of them.
	heardRounds = 3

	raster     = 5000.0 // Hz, of broadcasters on shortwave
	rasterSlip = 50.0   // Hz, how far from it a broadcaster may stand
	// clockSlip is how far a receiver without a clock correction may be off: 100
	// parts in a million is more than any dongle shows.
	clockSlip = 100e-6
)

// heard tells whether the line is over its uncertainty in this cell.
func (c *cell) heard(line int) bool {
	return c != nil && c.snr[line] > heardSigmas*c.sigma[line]
}

// counting gives the lines that count in these rounds, and how many were set
// aside as local because they stand off the raster of a broadcast band. A noisy
// house can put more lines into a band than there are stations, so that the
// raster need not hold a majority: it is enough that clearly more lines stand
// on it than the share of it that is taken for raster would hold by chance.
func (f *field) counting(rounds []int) (lines []int, local int) {
	var heard []int
	for line := range f.lines {
		if f.heardOften(line, rounds) {
			heard = append(heard, line)
		}
	}
	if !f.segment.Broadcast() {
		return heard, 0
	}
	slip, on := f.rasterOffset(heard)
	chance := float64(len(heard)) * 2 * rasterSlip / raster
	if on < 3 || 2*on <= len(heard) && float64(on) < 3+3*chance { // no raster to go by
		return heard, 0
	}
	for _, line := range heard {
		if offRaster(f.lines[line], slip) <= rasterSlip {
			lines = append(lines, line)
		}
	}
	return lines, len(heard) - len(lines)
}

// heardOften tells whether the line is heard through some setup in enough of
// the rounds.
func (f *field) heardOften(line int, rounds []int) bool {
	for k := range f.setups {
		times, present := 0, 0
		for _, n := range rounds {
			if f.cells[k][n] != nil {
				present++
				if f.cells[k][n].heard(line) {
					times++
				}
			}
		}
		if times > 0 && (times >= heardRounds || present < minRounds && times == present) {
			return true
		}
	}
	return false
}

// rasterOffset gives by which offset in Hz the most lines stand on the raster,
// and how many they are. The receiver's clock shifts all of a segment's lines
// alike; zero wins a draw.
func (f *field) rasterOffset(lines []int) (offset float64, on int) {
	count := func(offset float64) (n int) {
		for _, line := range lines {
			if offRaster(f.lines[line], offset) <= rasterSlip {
				n++
			}
		}
		return n
	}
	on = count(0)
	for _, line := range lines {
		slip := f.lines[line] - raster*math.Round(f.lines[line]/raster)
		if math.Abs(slip) > clockSlip*f.lines[line] {
			continue
		}
		if n := count(slip); n > on {
			offset, on = slip, n
		}
	}
	return offset, on
}

// offRaster gives how far a frequency stands from the shifted raster, in Hz.
func offRaster(frequency, offset float64) float64 {
	slip := frequency - offset
	return math.Abs(slip - raster*math.Round(slip/raster))
}
