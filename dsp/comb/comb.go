package comb

import "math"

// Bounds of the search for combs.
const (
	minSpacing     = 15e3  // Hz [trade notes 6.1: switching supplies]
	minPartSpacing = 5e3   // Hz: a part of a spacing, where more stands at its multiples
	maxSpacing     = 500e3 // Hz
	maxFrequency   = 60e6  // Hz: beyond, multiples are so high that no supply keeps its lines apart
	minLines       = 4     // free multiples that can be evidence for a comb
	maxCombs       = 8     // found in one search
)

// A Comb is a row of lines at whole multiples of one frequency.
type Comb struct {
	Spacing    float64 // Hz
	Sigma      float64 // Hz, standard error of Spacing
	Width      float64 // Hz of one multiple: line n is n·Width wide; 0 for lines narrower than the spectrum shows
	Lines      int     // multiples in view
	Strength   float64 // mean power of a line over the floor in one resolution, a ratio
	Low, High  float64 // Hz, of the stretch searched
	P          float64 // see Findings
	Modulation Modulation
}

// Seek finds combs in one recording, or in several of one moment taken together,
// strongest evidence first: their lines must stand at multiples in all of them. Views
// may be nil. Only combs with P up to most are given.
//
// For each spacing tried the scores of its multiples are added up. A score is the normal
// quantile of the rank that the power about a place has among those of all places like
// it, after the local noise: places alike stand at the same offset from the
// broadcasters' raster. The sum over n places is then Gaussian with variance n, whatever
// the distribution of powers, unless the places were chosen for their power. Where the
// scan shows that it scatters more (a band full of wide blocks), it is divided by as much.
// P counts every spacing and width tried.
//
// Spacings whose multiples all stand on the raster are told apart from broadcasters by
// what these never have: one level and no programme. See rasterChance and closeStations.
func Seek(views []*View, most float64) []Comb {
	s := newCombSearch(views)
	if s == nil {
		return nil
	}
	return s.pickCombs(append(s.scan(), s.rasterCombs()...), most)
}

// SeekAgain tells which combs known from a moment before are there still, in views of
// another moment: only spacings within some 30 ppm of theirs are tried, which takes a
// third of the time of Seek and counts fewer trials.
func SeekAgain(views []*View, known []Comb, most float64) []Comb {
	s := newCombSearch(views)
	if s == nil || len(known) == 0 {
		return nil
	}
	s.trials, s.narrow = 0, false
	onRaster := s.rasterCombs()
	var candidates []combCandidate
	for _, k := range known {
		if k.Spacing < minPartSpacing || k.Spacing > maxSpacing {
			continue
		}
		columns := s.top / k.Spacing * k.Width / s.views[0].width
		for scale := 1; scale < len(s.scales); scale++ {
			if wide := float64(combWidths[scale]); wide > 4*max(1, columns) || 4*wide < columns || s.scales[scale].part > k.Spacing {
				continue
			}
			step := s.scales[scale].step
			about := math.Ceil(driftReach / step)
			for i := -about; i <= about; i++ {
				candidates = append(candidates, combCandidate{spacing: k.Spacing * math.Exp(i*step), scale: scale})
				s.trials += 2 // look tries more between
			}
		}
		for _, c := range onRaster {
			if math.Abs(c.spacing/k.Spacing-1) < driftReach {
				candidates = append(candidates, c)
			}
		}
	}
	return s.pickCombs(candidates, most)
}

// driftReach is how far a spacing is sought from where it was: it drifts by some 0.1 % in
// half an hour [trade notes 6.1], and half a minute may pass.
const driftReach = 3e-5

// pickCombs gives the combs that explain the candidates, strongest evidence first.
func (s *combSearch) pickCombs(candidates []combCandidate, most float64) (found []Comb) {
	candidates = s.dropStationRows(candidates)
	for range maxCombs {
		best := s.strongest(candidates, most)
		if best == nil {
			break
		}
		if c := s.describe(best); c.Strength > 0 {
			c.Modulation = s.modulation(c)
			found = append(found, c)
		}
		s.maskComb(best)
	}
	return found
}
