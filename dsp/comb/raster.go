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
		on, summits, places, all := 0.0, 0.0, 0.0, 0.0
		for _, v := range views {
			for b := 1; b+1 < len(v.power); b++ {
				all++
				hz := v.first + float64(b)*v.width
				away := math.Abs(hz-r/2*math.Round(hz/(r/2))) / v.width
				strong := 0.0
				if float64(v.power[b]) > rasterMinPower*v.noiseAt(float64(b)) && v.power[b] >= v.power[b-1] && v.power[b] > v.power[b+1] {
					strong = 1
				}
				summits += strong
				if away <= 1 {
					places++
					on += strong
				}
			}
		}
		expected := summits * places / max(1, all)
		if over := (on - expected) / math.Sqrt(expected+1); over > best {
			best, raster = over, r
		}
	}
	return raster
}

const (
	rasterMinPower = 4.0 // times the noise in a column, of a strong summit; chosen, METHODS.md 12.2 (TestRasterOfWeakStations)
	rasterSigmas   = 4.0 // standard deviations of a count over what chance puts there (TestStationsInARow)
)

// A rasterPlace is what stands at one multiple of half the raster in a view.
type rasterPlace struct {
	view   int
	number int // which multiple
	column int
	level  float64 // dB over the noise in one column
	beside float64 // dB over the lower floor, of the sidebands' density beside it
	foot   float64 // density at its foot, over the lower floor
	share  float64 // of the line's power that as much as the lower floor makes in both feet
}

// Combs on the raster: the lines of one supply are about equally strong, stations are not.
// METHODS.md 12.7; all chosen.
const (
	windowWidth      = 6.0  // dB, in which the levels of a comb's lines lie (TestRasterWindow)
	windowStep       = 2.0  // dB from one window tried to the next (TestRasterWindowsOverlap)
	windowLow        = 2.0  // dB, of the lowest window: the highest of three columns of noise is seldom more (TestRasterWindow)
	windowHigh       = 60.0 // dB, of the highest (TestRasterWindow)
	rasterMinLines   = 5    // lines in the window (TestRasterWindow)
	rasterMinShare   = 0.5  // of the multiples in the window (TestRasterWindow)
	sidebandsVisible = 15.0 // dB of a line, from which a station's sidebands show; METHODS.md 12.6 (TestSidebandsOfARow)
	sidebandsMin     = 1.5  // dB over the lower floor, of sidebands (TestSidebandsOfARow)
)

// rasterCombs gives the spacings whose multiples all stand on the raster, and measures what
// stands there.
func (s *combSearch) rasterCombs() []combCandidate {
	if s.raster == 0 {
		return nil
	}
	half := s.raster / 2
	for k, v := range s.views {
		s.places = append(s.places, v.onRaster(k, half)...)
	}
	var all []combCandidate
	for m := int(math.Ceil(minSpacing / half)); float64(m)*half <= maxSpacing; m++ {
		all = append(all, combCandidate{spacing: float64(m) * half, every: m, refined: true})
	}
	return all
}

// onRaster measures what stands at each multiple of half the raster in view k, save the
// receiver's own lines.
func (v *View) onRaster(k int, half float64) (places []rasterPlace) {
	for n, at := range v.multiplesOf(half) {
		b := int(math.Round(at))
		if b < 1 || b+1 >= len(v.power) || v.own[b] {
			continue
		}
		noise, lower, height := v.noiseAt(at), v.lowerFloor(at), float64(max(v.power[b-1], v.power[b], v.power[b+1]))
		foot, columns := v.foot(b, height/noise)
		places = append(places, rasterPlace{
			view: k, number: n, column: b, level: stat.DB(height / noise), beside: stat.DB(v.beside(b, 0) / lower),
			foot: foot / lower, share: 2 * float64(columns) * lower / (v.enbw * height),
		})
	}
	return places
}

// freePlaces gives those at every so many places of the raster that are not masked.
func (s *combSearch) freePlaces(every int) (free []*rasterPlace) {
	for i := range s.places {
		if p := &s.places[i]; p.number%every == 0 && !s.masked[p.view][p.column] {
			free = append(free, p)
		}
	}
	return free
}

// inWindow reports whether a place's level is in the window from low on.
func (p *rasterPlace) inWindow(low float64) bool { return p.level >= low && p.level < low+windowWidth }

// rasterPValue gives the P of a spacing whose multiples all stand on the raster. As many
// places as it has multiples are drawn from all places of the raster; P is the probability
// that at least as many of those drawn have levels within one window: a hypergeometric
// tail [Fisher:1935, pp. 39-82]. Whole and half multiples of the raster are drawn apart,
// since stations prefer the former. Every window and every spacing counts as a trial. low
// is the lower edge of the best window in dB.
func (s *combSearch) rasterPValue(every int) (p, low float64) {
	multiples := s.freePlaces(every)
	least, trials := 1.0, 0.0
	for from := windowLow; from < windowHigh; from += windowStep {
		trials++
		if hits, _ := countInWindow(multiples, from); hits < rasterMinLines || float64(hits) < rasterMinShare*float64(len(multiples)) {
			continue
		}
		if p := s.windowPValue(every, from); p < least {
			least, low = p, from
		}
	}
	spacings := (maxSpacing - minSpacing) / (s.raster / 2)
	return min(1, least*trials*spacings), low
}

// countInWindow counts the places whose levels are in the window from low on, and among these
// the ones that have a station's sidebands.
func countInWindow(places []*rasterPlace, low float64) (hits, sidebands int) {
	for _, p := range places {
		if p.inWindow(low) {
			hits++
			if p.level > sidebandsVisible && p.beside > sidebandsMin {
				sidebands++
			}
		}
	}
	return hits, sidebands
}

// windowPValue gives the probability for one window, trials not counted.
func (s *combSearch) windowPValue(every int, low float64) float64 {
	var places, within, multiples, hits [2]int // by half and whole multiples
	for _, p := range s.freePlaces(1) {
		class, in := p.number&1, 0
		if p.inWindow(low) {
			in = 1
		}
		places[class]++
		within[class] += in
		if p.number%every == 0 {
			multiples[class]++
			hits[class] += in
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
