package comb

import (
	"math"

	"nightfloor/dsp/stat"
)

// Broadcasters' rasters in Hz: on shortwave carriers stand at multiples of 5 kHz, 10 kHz
// apart as a rule [RR, Appendix 11 of the ITU Radio Regulations]; on medium wave outside
// the Americas at multiples of 9 kHz. PHYSICS.md 2.2; TestStationsInARow.
const (
	wideRaster   = 10e3
	narrowRaster = 9e3
)

// detectRaster gives the raster on which stations stand, 0 where on none: the one whose
// places hold more of the strong summits than chance would put there, by rasterSigmas or
// more.
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
	rasterMinPower = 4.0 // times the noise in a column, of a strong summit; chosen, METHODS.md 12.2 (TestFalseAlarms)
	rasterSigmas   = 4.0 // standard deviations of a count over what chance puts there (TestStationsInARow)
)

// A rasterPlace is what stands at one multiple of half the raster.
type rasterPlace struct {
	column int
	level  float64 // dB over the noise in one column; NaN: the receiver's own
	beside float64 // dB over the lower floor, of the sidebands' density beside it
	foot   float64 // density at its foot, over the lower floor
	share  float64 // of the line's power that as much as the lower floor makes in both feet
}

// A rasterPlaces is what stands at each multiple of half the raster in a view.
type rasterPlaces struct {
	first  int // multiple of places[0]
	places []rasterPlace
}

// Combs on the raster: the lines of one supply are about equally strong, stations are not.
// METHODS.md 12.7; all chosen.
const (
	windowWidth      = 6.0  // dB, in which the levels of a comb's lines lie (TestRasterWindow)
	windowStep       = 2.0  // dB from one window tried to the next
	windowLow        = 2.0  // dB, of the lowest window: the highest of three columns of noise is seldom more
	windowHigh       = 60.0 // dB, of the highest
	rasterMinLines   = 5    // lines in the window; no test holds it
	rasterMinShare   = 0.5  // of the multiples in the window (TestRasterWindow)
	sidebandsVisible = 15.0 // dB of a line, from which a station's sidebands show; METHODS.md 12.6
	sidebandsMin     = 1.5  // dB over the lower floor, of sidebands (TestFalseAlarms)
)

// rasterCombs gives the spacings whose multiples all stand on the raster, and measures what
// stands there.
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

// onRaster measures what stands at each multiple of half the raster.
func (v *View) onRaster(half float64) rasterPlaces {
	first, last := v.multiples(half)
	r := rasterPlaces{first: first}
	for n := first; n <= last; n++ {
		at := v.column(float64(n) * half)
		b := int(math.Round(at))
		p := rasterPlace{column: max(0, min(b, len(v.power)-1)), level: math.NaN()}
		if b >= 1 && b+1 < len(v.power) && !v.ownAt(b) {
			noise, lower, height := v.noiseAt(at), v.lowerFloor(at), float64(max(v.power[b-1], v.power[b], v.power[b+1]))
			foot, columns := v.foot(b, height/noise)
			p.level, p.beside = stat.DB(height/noise), stat.DB(v.beside(b, 0)/lower)
			p.foot, p.share = foot/lower, 2*float64(columns)*lower/(v.enbw*height)
		}
		r.places = append(r.places, p)
	}
	return r
}

// isFree reports whether a place of view k counts: it is neither the receiver's own nor
// masked.
func (s *combSearch) isFree(k int, p rasterPlace) bool {
	return !math.IsNaN(p.level) && !s.masked[k][p.column]
}

// inWindow reports whether a place's level is in the window from low on.
func (p rasterPlace) inWindow(low float64) bool { return p.level >= low && p.level < low+windowWidth }

// rasterPValue gives the P of a spacing whose multiples all stand on the raster. As many
// places as it has multiples are drawn from all places of the raster; P is the probability
// that at least as many of those drawn have levels within one window: a hypergeometric
// tail [Fisher:1935, pp. 39-82]. Whole and half multiples of the raster are drawn apart,
// since stations prefer the former. Every window and every spacing counts as a trial. low
// is the lower edge of the best window in dB.
func (s *combSearch) rasterPValue(spacing float64) (p, low float64) {
	every := s.placesApart(spacing)
	least, trials := 1.0, 0.0
	for from := windowLow; from < windowHigh; from += windowStep {
		trials++
		if n, hits, _ := s.countInWindow(every, from); hits < rasterMinLines || float64(hits) < rasterMinShare*float64(n) {
			continue
		}
		if p := s.windowPValue(every, from); p < least {
			least, low = p, from
		}
	}
	spacings := (maxSpacing - minSpacing) / (s.raster / 2)
	return min(1, least*trials*spacings), low
}

// placesApart gives the distance of a spacing's multiples in places of the raster.
func (s *combSearch) placesApart(spacing float64) int {
	return int(math.Round(spacing / (s.raster / 2)))
}

// countInWindow counts the multiples, those whose levels are in the window from low on, and
// among these the ones that have a station's sidebands.
func (s *combSearch) countInWindow(every int, low float64) (n, hits, sidebands int) {
	for k, r := range s.levels {
		for i := (every - r.first%every) % every; i < len(r.places); i += every {
			p := r.places[i]
			if !s.isFree(k, p) {
				continue
			}
			n++
			if p.inWindow(low) {
				hits++
				if p.level > sidebandsVisible && p.beside > sidebandsMin {
					sidebands++
				}
			}
		}
	}
	return n, hits, sidebands
}

// windowPValue gives the probability for one window, trials not counted.
func (s *combSearch) windowPValue(every int, low float64) float64 {
	var places, within, multiples, hits [2]int // by half and whole multiples
	for k, r := range s.levels {
		for i, p := range r.places {
			if !s.isFree(k, p) {
				continue
			}
			class := (r.first + i) & 1
			in := 0
			if p.inWindow(low) {
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

// hypergeometric gives the probabilities of drawing 0 … draws marked places, where marked
// of all places are.
func hypergeometric(places, marked, draws int) []float64 {
	p := make([]float64, draws+1)
	for k := range p {
		p[k] = math.Exp(logChoose(marked, k) + logChoose(places-marked, draws-k) - logChoose(places, draws))
	}
	return p
}

// logChoose gives the logarithm of the number of ways to choose k of n, −Inf for none.
func logChoose(n, k int) float64 {
	if k < 0 || k > n || n < 0 {
		return math.Inf(-1)
	}
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}
