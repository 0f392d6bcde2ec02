package comb

import (
	"math"
	"slices"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/lines"
	"nightfloor/dsp/stat"
)

// A station's programme is the density between the foot of its carrier's skirt and the
// frequencies where speech is strongest. METHODS.md 12.8; TestStationsInARow.
const (
	programmeEnd      = 800.0 // Hz beyond the start, to where speech is strongest
	programmeStart    = 120.0 // Hz beyond the skirt: a supply's lines have sidebands of the mains, too
	programmeSigmas   = 4.0   // standard errors over the places without stations, of very many lines
	programmeFewLines = 4.0   // lines of which twice as many standard errors are asked, for their scatter is not well known; chosen
	programmeMinShare = 0.004 // of a carrier's power, both sidebands; stations have 0.01 to 0.1 on average
)

// foot gives the mean power at the foot of a line at column b, on the side that has less of
// it, and the number of columns; over is the line's power over the noise.
func (v *View) foot(b int, over float64) (power float64, columns int) {
	near := int(math.Ceil(fft.HannSkirt(over) + programmeStart/v.width))
	far := near + max(1, int(programmeEnd/v.width))
	return v.besideWithin(b, near, far), far - near
}

// dropStationRows drops the candidates that are stations, and masks what stands there.
// Broadcasters put stations at even distances, too, but stations carry programme.
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

// maskStations masks what stands at every so many places of the raster, sidebands included.
func (s *combSearch) maskStations(every int) {
	for k, v := range s.views {
		r := s.levels[k]
		reach := int(lines.SidebandReach / v.width)
		for i, p := range r.places {
			if (r.first+i)%every != 0 || !(p.level >= windowLow) {
				continue
			}
			for b := max(0, p.column-reach); b <= min(len(v.power)-1, p.column+reach); b++ {
				s.masked[k][b] = true
			}
		}
	}
}

// hasProgramme reports whether the lines at every so many places of the raster whose levels
// are in the window from low on are modulated as stations are. The median density at their
// feet must stand over that beside empty places, where the sidebands of other stations are
// as well, and hold the share of power that programme has. All lines together show what no
// single one does.
func (s *combSearch) hasProgramme(every int, low float64) bool {
	var feet, empty, share []float64
	least := 0.0 // relative standard error of one foot in noise
	for k, r := range s.levels {
		for i, p := range r.places {
			switch {
			case !s.isFree(k, p):
			case p.level < windowLow:
				empty = append(empty, p.foot)
			case (r.first+i)%every == 0 && p.inWindow(low):
				feet, share = append(feet, p.foot), append(share, p.share)
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
		about, sigma = stat.MedianSpread(empty)
		sigma /= math.Sqrt(float64(len(empty)))
	}
	middle, spread := stat.MedianSpread(feet)
	sigma = stat.MedianScatter * math.Hypot(sigma, max(spread, least)/math.Sqrt(float64(len(feet))))
	sigmas := programmeSigmas * (1 + programmeFewLines/float64(len(feet)))
	return middle-about > sigmas*sigma && stat.Select(share, len(share)/2)*(middle-about) > programmeMinShare
}
