package comb

import (
	"math"

	"nightfloor/dsp/stat"
)

// Broadcasters' rasters, Hz: carriers stand at multiples of half of the first and of the
// whole of the second [trade notes 4.1].
const (
	wideRaster   = 10e3
	narrowRaster = 9e3
)

// detectRaster tells on which raster stations stand: that on which strong places are most
// over their number elsewhere; 0 where on neither.
func detectRaster(views []*View) float64 {
	best, raster := rasterSigmas, 0.0
	for _, r := range []float64{wideRaster, narrowRaster} {
		on, off, places, all := 0.0, 0.0, 0.0, 0.0
		for _, v := range views {
			for b := 1; b+1 < len(v.power); b++ {
				all++
				hz := v.first + float64(b)*v.width
				away := math.Abs(hz-r/2*math.Round(hz/(r/2))) / v.width
				strong := float64(v.power[b]) > rasterMinPower*v.noiseAt(float64(b)) && v.power[b] >= v.power[b-1] && v.power[b] > v.power[b+1]
				if away <= 1 {
					places++
				}
				switch {
				case !strong:
				case away <= 1:
					on++
				default:
					off++
				}
			}
		}
		expected := (on + off) * places / max(1, all)
		if over := (on - expected) / math.Sqrt(expected+1); over > best {
			best, raster = over, r
		}
	}
	return raster
}

const (
	rasterMinPower = 4.0 // times the noise in a column
	rasterSigmas   = 4.0 // standard deviations
)

// A rasterPlaces is what stands at each multiple of half the raster in a view.
type rasterPlaces struct {
	first  int // multiple of place 0
	column []int
	level  []float64 // dB over the noise in one column; NaN: closed
	side   []float64 // dB, of what stands beside it, where sidebands are
	foot   []float64 // over the calm floor: what stands at its foot
	share  []float64 // of the line's power in as much as the calm floor at both sides of its foot
}

// Windows of level in which a comb's lines are to stand.
const (
	windowWidth      = 6.0 // dB
	windowStep       = 2.0
	windowLow        = 2.0  // dB: of noise in three columns seldom more
	windowHigh       = 60.0 // dB
	rasterMinLines   = 5    // lines
	rasterMinShare   = 0.5  // share of the multiples that must stand in the window
	sidebandsVisible = 15.0 // dB over the noise from which sidebands would be seen
	sidebandsMin     = 1.5  // dB
)

// rasterCombs gives the spacings whose multiples all stand on the broadcasters' raster.
func (s *combSearch) rasterCombs() []combCandidate {
	if s.raster == 0 {
		return nil
	}
	half := s.raster / 2
	for _, v := range s.views {
		s.levels = append(s.levels, v.onRaster(half))
	}
	var all []combCandidate
	for m := math.Ceil(minSpacing / half); m*half <= maxSpacing; m++ {
		all = append(all, combCandidate{spacing: m * half, raster: true, refined: true})
	}
	return all
}

// onRaster measures what stands at each multiple of half a raster.
func (v *View) onRaster(half float64) rasterPlaces {
	first, last := v.multiples(half)
	r := rasterPlaces{first: first}
	for n := first; n <= last; n++ {
		at := v.column(float64(n) * half)
		b := int(math.Round(at))
		r.column = append(r.column, max(0, min(b, len(v.power)-1)))
		if b < 1 || b+1 >= len(v.power) || v.ownAt(b) {
			r.level, r.side = append(r.level, math.NaN()), append(r.side, math.NaN())
			r.foot, r.share = append(r.foot, math.NaN()), append(r.share, math.NaN())
			continue
		}
		noise, calm, height := v.noiseAt(at), v.lowerFloor(at), float64(max(v.power[b-1], v.power[b], v.power[b+1]))
		r.level = append(r.level, stat.DB(height/noise))
		r.side = append(r.side, stat.DB(v.beside(b, 0)/calm))
		foot, columns := v.foot(b, height/noise)
		r.foot = append(r.foot, foot/calm)
		r.share = append(r.share, 2*float64(columns)*calm/(v.enbw*height))
	}
	return r
}

// rasterPValue gives the P of a spacing whose multiples all stand on the raster: the
// chance that of the places there, as many as are its multiples, drawn at random, so
// many stand within one window of level. Whole and half multiples of the raster are
// drawn apart, for stations prefer the former. Every window and spacing counts as a trial.
// low is where the window begins.
func (s *combSearch) rasterPValue(spacing float64) (p, low float64) {
	every := s.placesApart(spacing)
	least, trials := 1.0, 0.0
	for from := windowLow; from < windowHigh; from += windowStep {
		trials++
		if n, hits, _ := s.countInWindow(every, from); hits < rasterMinLines || float64(hits) < rasterMinShare*float64(n) {
			continue
		}
		if chance := s.windowPValue(every, from); chance < least {
			least, low = chance, from
		}
	}
	spacings := (maxSpacing - minSpacing) / (s.raster / 2)
	return min(1, least*trials*spacings), low
}

// placesApart gives which of the places on the raster are a spacing's multiples.
func (s *combSearch) placesApart(spacing float64) int {
	return int(math.Round(spacing / (s.raster / 2)))
}

// countInWindow counts the multiples of every places, those in a window of level, and of these
// the ones that have sidebands as stations have.
func (s *combSearch) countInWindow(every int, low float64) (n, hits, sidebands int) {
	for k := range s.levels {
		r := &s.levels[k]
		for i := (every - r.first%every) % every; i < len(r.level); i += every {
			level := r.level[i]
			if math.IsNaN(level) || s.masked[k][r.column[i]] {
				continue
			}
			n++
			if level >= low && level < low+windowWidth {
				hits++
				if level > sidebandsVisible && r.side[i] > sidebandsMin {
					sidebands++
				}
			}
		}
	}
	return n, hits, sidebands
}

// windowPValue is rasterChance in one window.
func (s *combSearch) windowPValue(every int, low float64) float64 {
	var places, within, multiples, hits [2]int // by half and whole multiples
	for k, r := range s.levels {
		for i, level := range r.level {
			if math.IsNaN(level) || s.masked[k][r.column[i]] {
				continue
			}
			class := (r.first + i) & 1
			in := 0
			if level >= low && level < low+windowWidth {
				in = 1
			}
			places[class]++
			within[class] += in
			if (r.first+i)%every == 0 {
				multiples[class]++
				hits[class] += in
			}
		}
	}
	a := hypergeometric(places[0], within[0], multiples[0])
	b := hypergeometric(places[1], within[1], multiples[1])
	tail := 0.0
	for i, p := range a {
		for j, q := range b {
			if i+j >= hits[0]+hits[1] {
				tail += p * q
			}
		}
	}
	return tail
}

// hypergeometric gives the chances of 0…draws marked ones among draws of places, so
// many of which are marked.
func hypergeometric(places, marked, draws int) []float64 {
	chances := make([]float64, draws+1)
	for k := range chances {
		chances[k] = math.Exp(logChoose(marked, k) + logChoose(places-marked, draws-k) - logChoose(places, draws))
	}
	return chances
}

// logChoose gives ln of the number of ways to choose k of n, −Inf for none.
func logChoose(n, k int) float64 {
	if k < 0 || k > n || n < 0 {
		return math.Inf(-1)
	}
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}
