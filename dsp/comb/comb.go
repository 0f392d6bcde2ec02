package comb

import "math"

// Bounds of the search, METHODS.md 12.3.
const (
	minSpacing     = 15e3  // Hz, of switching supplies: PHYSICS.md 8.1 (TestStationsInARow)
	minPartSpacing = 5e3   // Hz, of a whole part of a spacing at whose multiples more stands (TestSpacingBounds)
	maxSpacing     = 500e3 // Hz, PHYSICS.md 8.1 (TestSpacingBounds)
	maxFrequency   = 60e6  // Hz; the 120th multiple of 500 kHz: wobble merges higher lines, PHYSICS.md 8.1 (TestHighestLine)
	minLines       = 4     // unmasked multiples that a comb needs; chosen (TestSpacingBounds)
	maxCombs       = 8     // listed by one search; bounds the time
)

// A Comb is a row of lines at whole multiples of one frequency.
type Comb struct {
	Spacing    float64 // Hz
	Sigma      float64 // Hz, standard error of Spacing
	Width      float64 // Hz of one multiple: line n is n·Width wide; 0 for lines narrower than the spectrum shows
	Lines      int     // multiples in view
	Strength   float64 // mean power of a line over the floor in one resolution, a ratio
	P          float64 // probability that noise and stations give evidence as strong
	Modulation Modulation
}

// Seek finds the combs whose lines stand at the multiples in all views of one moment,
// strongest evidence first. Views may be nil. Only combs with a P of at most most are
// returned.
//
// For each spacing tried, the scores of its multiples are added. A score is the normal
// quantile of a rank: the power at a place, over the local noise, is ranked among all
// places at the same offset from the broadcasters' raster. The sum of n scores is then
// Gaussian with variance n, whatever the distribution of powers, as long as the places
// were not chosen for their power. Where the scan finds that sums scatter more (a band
// full of wide blocks does that), they are divided by the excess. P is the normal tail of
// the sum times the number of trials [Dunn:1961, pp. 52-64]. METHODS.md 12.2 to 12.4.
//
// A spacing whose multiples all stand on the raster is judged by what broadcasters never
// have: equal levels (rasterPValue) and no programme (dropStationRows).
func Seek(views []*View, most float64) []Comb {
	s := newCombSearch(views)
	if s == nil {
		return nil
	}
	return s.pickCombs(append(s.scan(), s.rasterCombs()...), most)
}

// SeekAgain finds those of the combs known from an earlier moment that are still there.
// It tries only spacings within driftReach of theirs, which takes a third of the time of
// Seek and counts fewer trials, so that weaker lines are found.
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
				s.trials += 2 // refineCandidate tries more between
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

// driftReach is how far a spacing may have drifted since it was last found, as a share:
// supplies that warm up drift by some 0.1 % in half an hour (PHYSICS.md 8.1), and half a
// minute may pass. TestSeekAgain.
const driftReach = 3e-5

// pickCombs takes the strongest candidate as a comb, masks its lines and judges the rest
// anew, until none is left.
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
