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
	programmeEnd      = 800.0 // Hz beyond the start, to where speech is strongest (TestFootOfAStation)
	programmeStart    = 120.0 // Hz beyond the skirt: a supply's lines have sidebands of the mains, too
	programmeSigmas   = 4.0   // standard errors over the places without stations, of very many lines
	programmeFewLines = 4.0   // lines of which twice as many standard errors are asked, for their scatter is not well known; chosen (TestProgrammeOfFewLines)
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
		if c.every == 0 {
			return false
		}
		p, low := s.rasterPValue(c.every)
		if p > refinePValue {
			return false
		}
		if hits, sidebands := countInWindow(s.freePlaces(c.every), low); 2*sidebands <= hits && !s.hasProgramme(c.every, low) {
			return false
		}
		s.maskStations(c.every)
		return true
	})
}

// maskStations masks what stands at every so many places of the raster, sidebands included.
func (s *combSearch) maskStations(every int) {
	for _, p := range s.places {
		if p.number%every != 0 || p.level < windowLow {
			continue
		}
		reach := int(lines.SidebandReach / s.views[p.view].width)
		masked := s.masked[p.view]
		for b := max(0, p.column-reach); b <= min(len(masked)-1, p.column+reach); b++ {
			masked[b] = true
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
	for _, p := range s.freePlaces(1) {
		switch {
		case p.level < windowLow:
			empty = append(empty, p.foot)
		case p.number%every == 0 && p.inWindow(low):
			feet, share = append(feet, p.foot), append(share, p.share)
			v := s.views[p.view]
			least = math.Sqrt(fft.BinExcess / (v.looks * max(1, programmeEnd/v.width)))
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
