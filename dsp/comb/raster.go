package comb

import (
	"math"
	"slices"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/lines"
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

// rowMaxPValue is the P up to which equal levels on the raster are looked at: 50 times the P
// that is listed (METHODS.md 14.1).
const rowMaxPValue = 0.01

// dropStationRows drops the candidates that are stations, and masks what stands there.
// Broadcasters put stations at even distances, too, but stations carry programme.
func (s *combSearch) dropStationRows(candidates []combCandidate) []combCandidate {
	return slices.DeleteFunc(candidates, func(c combCandidate) bool {
		if c.every == 0 {
			return false
		}
		p, low := s.rasterPValue(c.every)
		if p > rowMaxPValue {
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
