package comb

import (
	"math"
	"slices"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/lines"
	"nightfloor/dsp/stat"
)

// What programme is beside a carrier.
const (
	programmeEnd      = 800.0 // Hz from a carrier's foot, to where speech is strongest
	programmeStart    = 120.0 // Hz: sidebands of the mains are a supply's as well
	programmeSigmas   = 4.0   // standard errors, of many lines
	programmeFewLines = 4.0   // of how many lines it takes twice as many, whose scatter is known less well
	medianScatter     = 1.253 // of a mean's standard error, that of a median: √(π/2)
	programmeMinShare = 0.004 // of a carrier's power, both sidebands: stations' are on average 0.01 to 0.1
)

// foot gives the mean power from the foot of a line at column b, over times the noise, up to
// modulatedFar beyond it, on the side that has less of it, and the columns that it is of.
func (v *View) foot(b int, over float64) (power float64, columns int) {
	near := int(math.Ceil(fft.HannSkirt(over) + programmeStart/v.width))
	far := near + max(1, int(programmeEnd/v.width))
	return v.besideWithin(b, near, far), far - near
}

// dropStationRows takes stations in a row out of the search, and the candidates that are such
// rows: planners of bands put stations at even distances too, but they are modulated.
func (s *combSearch) dropStationRows(candidates []combCandidate) []combCandidate {
	return slices.DeleteFunc(candidates, func(c combCandidate) bool {
		if !c.raster {
			return false
		}
		p, low := s.rasterPValue(c.spacing)
		every := s.placesApart(c.spacing)
		if p > refinePValue {
			return false
		}
		if _, hits, sidebands := s.countInWindow(every, low); 2*sidebands <= hits && !s.hasProgramme(every, low) {
			return false
		}
		s.maskStations(every)
		return true
	})
}

// maskStations marks what stands at the multiples of every places on the raster, with its
// sidebands, as explained.
func (s *combSearch) maskStations(every int) {
	for k, v := range s.views {
		r := &s.levels[k]
		reach := int(lines.SidebandReach / v.width)
		for i, level := range r.level {
			if (r.first+i)%every != 0 || !(level >= windowLow) {
				continue
			}
			for b := max(0, r.column[i]-reach); b <= min(len(v.power)-1, r.column[i]+reach); b++ {
				s.masked[k][b] = true
			}
		}
	}
}

// hasProgramme tells whether the lines at every so many multiples of half the raster, of those
// that stand in a window of level, are modulated as carriers of stations are: what stands at
// the middle one's foot is over what stands beside the empty multiples, where other
// stations' sidebands are as well, and enough for a programme. All lines together show
// what each alone does not.
func (s *combSearch) hasProgramme(every int, low float64) bool {
	var feet, empty, share []float64
	least := 0.0 // relative scatter of what noise gives
	for k := range s.levels {
		r := &s.levels[k]
		for i, level := range r.level {
			switch {
			case math.IsNaN(level) || s.masked[k][r.column[i]]:
			case level < windowLow:
				empty = append(empty, r.foot[i])
			case (r.first+i)%every == 0 && level >= low && level < low+windowWidth:
				feet = append(feet, r.foot[i])
				share = append(share, r.share[i])
				v := s.views[k]
				least = math.Sqrt(fft.BinExcess / (v.looks * max(1, programmeEnd/v.width)))
			}
		}
	}
	if len(feet) < rasterMinLines {
		return false
	}
	about, sigma := 1.0, 0.0
	if len(empty) >= rasterMinLines {
		about = stat.Select(empty, len(empty)/2)
		sigma = medianError(empty, about)
	}
	middle := stat.Select(feet, len(feet)/2)
	sigma = math.Hypot(sigma, max(medianError(feet, middle), medianScatter*least/math.Sqrt(float64(len(feet)))))
	sure := programmeSigmas * (1 + programmeFewLines/float64(len(feet)))
	return middle-about > sure*sigma && stat.Select(share, len(share)/2)*(middle-about) > programmeMinShare
}

// medianError gives the standard error of a median by the spread of its values, as of a
// Gaussian distribution.
func medianError(x []float64, median float64) float64 {
	away := make([]float64, len(x))
	for i, v := range x {
		away[i] = math.Abs(v - median)
	}
	return medianScatter / 0.6745 * stat.Select(away, len(away)/2) / math.Sqrt(float64(len(x)))
}
