package stations

import (
	"math"
	"slices"
	"testing"

	"nightfloor/reports/matrix"
	"nightfloor/survey"
)

func TestRasterUnderAClockError(t *testing.T) {
	m := &matrix.Matrix{Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}}
	// 40 ppm of 9.5 MHz is 380 Hz: all stations shifted, one line is local.
	for _, frequency := range []float64{9420e3, 9500e3, 9610e3, 9755e3, 9632e3} {
		m.Lines = append(m.Lines, frequency*(1+40e-6))
	}
	offset, on := rasterOffset(m, []int{0, 1, 2, 3, 4})
	if on != 4 || math.Abs(offset-380) > 30 {
		t.Errorf("offset %.0f Hz with %d lines, want about 380 with 4", offset, on)
	}
}

// A line counts that stands 2 standard errors over nothing in 3 rounds through one setup. Of
// noise alone one cell in 44 passes, 3 of 24 rounds in 2 of 100 lines; at 3 standard errors
// real lines would be lost, at 1 each sixth cell would pass.
func TestWhichLinesCount(t *testing.T) {
	levels := [][]float64{ // by line and round, in standard errors
		{2.1, 2.1, 2.1, 0, 0, 0, 0, 0},
		{2.1, 2.1, 0, 0, 0, 0, 0, 0},
		{1.9, 1.9, 1.9, 1.9, 1.9, 1.9, 1.9, 1.9},
		{9, 0, 9, 0, 9, 0, 0, 0},
	}
	m := &matrix.Matrix{Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}, Setups: make([]survey.Setup, 1), Cells: make([][]*matrix.Cell, 1)}
	rounds := []int{0, 1, 2, 3, 4, 5, 6, 7}
	for n := range rounds {
		c := &matrix.Cell{}
		for _, line := range levels {
			c.Snr, c.Sigma, c.Place = append(c.Snr, line[n]), append(c.Sigma, 1), append(c.Place, math.NaN())
		}
		m.Cells[0] = append(m.Cells[0], c)
	}
	m.Lines, m.Own = []float64{9.41e6, 9.42e6, 9.43e6, 9.44e6}, make([]bool, 4)
	if got := New(m, Known{}).In(rounds); !slices.Equal(got.Stations, []int{0, 3}) {
		t.Errorf("lines %v count, want 0 and 3", got.Stations)
	}
}

// Broadcasters stand within 50 Hz of the raster, as a receiver shows it whose clock is off by up
// to 100 parts in a million: 0.95 kHz at 9.5 MHz.
func TestHowFarTheRasterReaches(t *testing.T) {
	stations := []float64{9420e3, 9500e3, 9610e3, 9755e3, 9700e3 + 45, 9800e3 - 60}
	for ppm, want := range map[float64][3]int{0: {5, 1, 0}, 90: {5, 1, 0}, -90: {5, 1, 0}, 120: {0, 0, 6}} { // beyond, no raster is seen
		m := &matrix.Matrix{Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}, Setups: make([]survey.Setup, 1), Cells: make([][]*matrix.Cell, 1)}
		for _, f := range stations {
			m.Lines = append(m.Lines, f+9.6e6*ppm*1e-6)
		}
		m.Own = make([]bool, len(stations))
		for range 8 {
			c := &matrix.Cell{}
			for range stations {
				c.Snr, c.Sigma, c.Place = append(c.Snr, 100), append(c.Sigma, 1), append(c.Place, math.NaN())
			}
			m.Cells[0] = append(m.Cells[0], c)
		}
		got := New(m, Known{}).In([]int{0, 1, 2, 3, 4, 5, 6, 7})
		if counts := [3]int{len(got.Stations), len(got.OffRaster), len(got.Unproven)}; counts != want {
			t.Errorf("%.0f ppm: %v stations, off the raster and unproven, want %v", ppm, counts, want)
		}
	}
}
