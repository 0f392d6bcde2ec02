package comb

import (
	"cmp"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/stat"
)

// combWidths are the widths tried, in columns: lines narrower than a column, and what
// wobble and drift make of them, in steps of three. The narrowest serves to look closer.
var combWidths = []int{1, 2, 6, 18, 54}

// Economy of the scan.
const (
	scanEnoughLines = 40  // multiples are enough to raise a candidate
	scanMinZ        = 4.2 // standard deviations that make a candidate
	maxCandidates   = 400 // candidates looked at closer
	candidateGap    = 8   // steps between two candidates
	spreadInterval  = 16  // steps from one to the next that tells how sums scatter
	refineSteps     = 4   // to either side, of a quarter of the scan's step
	roomPerWidth    = 3.0 // of the spacing over the width, at the least
)

// A combSearch looks for combs in several views of one moment.
type combSearch struct {
	views  []*View
	raster float64 // Hz, of the broadcasters; 0: none are seen
	maps   map[combMapKey]*scoreMap
	scales []combScale
	masked [][]bool // by view and column: explained by combs found
	top    float64  // Hz, the highest edge
	trials float64
	narrow bool           // look at the narrowest width as well
	levels []rasterPlaces // for rasterCombs; nil until needed
}

type combMapKey struct{ view, width int }

// A combScale is a width, at the highest view: lines are narrower below, as the
// multiple is smaller.
type combScale struct {
	columns int
	maps    []*scoreMap
	step    float64    // of ln spacing, of the scan
	least   float64    // Hz, of spacings tried
	part    float64    // Hz, of whole parts of these
	spread  [6]float64 // by octave of spacing: how far sums scatter, in what noise does
}

// A combCandidate is a spacing that stands out.
type combCandidate struct {
	spacing float64
	scale   int
	z       float64
	refined bool // looked at closely
	raster  bool
	p       float64
	width   float64 // Hz of one multiple, once it is found
	spread  float64 // of sums at spacings about it; 0: not looked at
}

func newCombSearch(views []*View) *combSearch {
	s := &combSearch{maps: map[combMapKey]*scoreMap{}, narrow: true}
	for _, v := range views {
		if v != nil && len(v.power) >= 8*noiseBlock {
			s.views = append(s.views, v)
			s.masked = append(s.masked, make([]bool, len(v.power)))
			s.top = max(s.top, v.high())
		}
	}
	if len(s.views) == 0 || s.top <= 0 || s.top > maxFrequency {
		return nil
	}
	s.raster = detectRaster(s.views)
	for _, columns := range combWidths {
		room := roomPerWidth * float64(columns) * s.views[0].width
		c := combScale{columns: columns, least: max(minSpacing, room), part: max(minPartSpacing, room)}
		c.step = max(0.5, float64(columns)/2) * s.views[0].width / s.top
		s.scales = append(s.scales, c)
		s.trials += 2 * math.Log(maxSpacing/c.part) / c.step
	}
	return s
}

// widthAt gives the width, by number, of lines that are width number i wide at the
// highest view, at share of its frequency.
func widthAt(i int, share float64) int {
	if i < 2 {
		return i
	}
	return max(1, i+int(math.Round(math.Log(share)/math.Log(3))))
}

// mapsOf gives the scores of all views at a width, by number, of the highest; made once.
func (s *combSearch) mapsOf(scale int) []*scoreMap {
	c := &s.scales[scale]
	if c.maps == nil {
		s.makeMaps(scale)
		for k, v := range s.views {
			c.maps = append(c.maps, s.maps[combMapKey{k, widthAt(scale, v.high()/s.top)}])
		}
	}
	return c.maps
}

// makeMaps makes what the scales need of scores and is not there, several at a time.
func (s *combSearch) makeMaps(scales ...int) {
	var keys []combMapKey
	for _, scale := range scales {
		for k, v := range s.views {
			key := combMapKey{k, widthAt(scale, v.high()/s.top)}
			if s.maps[key] == nil && !slices.Contains(keys, key) {
				keys = append(keys, key)
			}
		}
	}
	made := make([]*scoreMap, len(keys))
	parallelFor(len(keys), func() func(int) {
		scorer := scorer{raster: s.raster}
		return func(i int) { made[i] = scorer.scoreView(s.views[keys[i].view], combWidths[keys[i].width]) }
	})
	for i, key := range keys {
		s.maps[key] = made[i]
	}
}

// parallelFor calls the functions that worker gives for 0…n−1, on all processors, each on
// one of its own.
func parallelFor(n int, worker func() func(i int)) {
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wait.Go(func() {
			do := worker()
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	wait.Wait()
}

// scan tries all spacings at all widths but the narrowest and gives what stands out.
// Where there would be more lines than it takes to raise a candidate, only a multiple of
// the spacing is tried: all spacings have one in the upper octave.
func (s *combSearch) scan() []combCandidate {
	span := 0.0
	for _, v := range s.views {
		span += v.high() - v.low()
	}
	s.makeMaps(1, 2, 3, 4)
	type stretch struct {
		scale, octave int
		low, high     float64
		found         []combCandidate
	}
	var stretches []stretch
	for i := 1; i < len(s.scales); i++ {
		s.mapsOf(i)
		least := max(s.scales[i].least, min(maxSpacing/2, span/scanEnoughLines))
		for o := range s.scales[i].spread {
			low, high := math.Ldexp(minSpacing, o), math.Ldexp(minSpacing, o+1)
			if low, high = max(low, least), min(high, maxSpacing, span/(minLines-1)); low < high {
				stretches = append(stretches, stretch{scale: i, octave: o, low: low, high: high})
			}
		}
	}
	parallelFor(len(stretches), func() func(int) {
		return func(i int) {
			t := &stretches[i]
			t.found, s.scales[t.scale].spread[t.octave] = s.scanOctave(t.scale, t.low, t.high)
		}
	})
	var found []combCandidate
	for _, t := range stretches {
		found = append(found, t.found...)
	}
	for i := range s.scales {
		spread := &s.scales[i].spread
		for o := len(spread) - 2; o >= 0; o-- { // what was not tried itself scatters like its multiples
			if spread[o] == 0 {
				spread[o] = spread[o+1]
			}
		}
	}
	found = s.addWholeParts(found)
	slices.SortFunc(found, func(a, b combCandidate) int { return cmp.Compare(b.z, a.z) })
	return found[:min(len(found), maxCandidates)]
}

// onRaster tells whether a spacing is within 1 % of a multiple of the broadcasters'.
func (s *combSearch) onRaster(spacing float64) bool {
	if s.raster == 0 {
		return false
	}
	over := spacing / (s.raster / 2)
	return math.Abs(over-math.Round(over)) <= 0.01*over
}

// partFactor is by how much more has to stand at a spacing closer than those of supplies
// than at its multiple.
const partFactor = 1.3

// addWholeParts adds the whole parts of candidates at which more stands than at the candidates.
func (s *combSearch) addWholeParts(found []combCandidate) []combCandidate {
	for _, c := range found[:len(found):len(found)] {
		best := c
		for k := 2.0; c.spacing/k >= s.scales[c.scale].part; k++ {
			part := c.spacing / k
			if part < minSpacing && s.onRaster(part) {
				continue
			}
			if z, n := s.exactScore(c.scale, part); n >= minLines && z > best.z && (part >= minSpacing || z > partFactor*c.z) {
				best.spacing, best.z = part, z
			}
		}
		if best.spacing != c.spacing {
			found = append(found, best)
		}
	}
	return found
}

// scanOctave tries all spacings from low to high at one width. spread is how far the sums
// scatter, in what those of noise do, 1 or more.
func (s *combSearch) scanOctave(scale int, low, high float64) (found []combCandidate, spread float64) {
	maps, grow := s.scales[scale].maps, math.Exp(s.scales[scale].step)
	var square, count float64
	last, spacing := -candidateGap, low
	for k := 0; spacing < high; k++ {
		sum, n := scanScore(maps, spacing)
		if sum >= scanLimits[min(n, len(scanLimits)-1)] && n >= minLines {
			candidate := combCandidate{spacing: spacing, scale: scale, z: float64(sum) / (scoreUnit * math.Sqrt(float64(n)))}
			if k-last >= candidateGap {
				found = append(found, candidate)
			} else if have := &found[len(found)-1]; candidate.z > have.z { // neighbours tell of the same
				*have = candidate
			}
			last = k
		} else if k%spreadInterval == 0 && n >= minLines {
			square += float64(sum) * float64(sum) / float64(n)
			count++
		}
		spacing *= grow
	}
	if count < 100 {
		return found, 1
	}
	return found, max(1, math.Sqrt(square/count)/scoreUnit)
}

// scanLimits are the sums of scores that make a candidate, by number of lines.
var scanLimits = func() (limits [1024]int32) {
	for n := range limits {
		limits[n] = int32(scanMinZ * scoreUnit * math.Sqrt(float64(n)))
	}
	return limits
}()

// scanScore sums the scores at a spacing and counts them.
func scanScore(maps []*scoreMap, spacing float64) (sum int32, n int) {
	for _, m := range maps {
		part, lines := m.scanSum(spacing)
		sum, n = sum+part, n+lines
	}
	return sum, n
}

// exactScore gives the sum of scores at a spacing in standard deviations, without the DC
// spike and what combs found before explain.
func (s *combSearch) exactScore(scale int, spacing float64) (z float64, n int) {
	var sum int
	for k, m := range s.mapsOf(scale) {
		first, last := m.view.multiples(spacing)
		for i := first; i <= last; i++ {
			place := int(math.Floor(float64(i)*spacing*m.perHz - m.at0))
			if place < 0 || place >= len(m.score) {
				continue
			}
			from := place * m.stride
			if m.view.ownAt(from+(m.columns-1)/2) || slices.Contains(s.masked[k][from:from+m.columns], true) {
				continue
			}
			sum += int(m.score[place])
			n++
		}
	}
	return float64(sum) / (scoreUnit * math.Sqrt(float64(max(1, n)))), n
}

// refineCandidate looks closer at a candidate: at spacings about it, and narrow lines also at the
// narrowest width.
func (s *combSearch) refineCandidate(c *combCandidate) {
	c.refined = true
	best := combCandidate{spacing: c.spacing, scale: c.scale, z: -1, refined: true}
	scales := []int{c.scale}
	if c.scale == 1 && s.narrow {
		scales = []int{1, 0}
	}
	step := s.scales[c.scale].step
	for _, scale := range scales {
		for k := -refineSteps; k <= refineSteps; k++ {
			spacing := c.spacing * math.Exp(float64(k)*step/refineSteps)
			if z, n := s.exactScore(scale, spacing); n >= minLines && z > best.z {
				best.spacing, best.scale, best.z = spacing, scale, z
			}
		}
	}
	*c = best
}

// pValue gives a candidate's P.
func (s *combSearch) pValue(c *combCandidate) float64 {
	if c.raster {
		p, _ := s.rasterPValue(c.spacing)
		return p // its z stays 0: its lines are strong, and few
	}
	if !c.refined {
		s.refineCandidate(c)
	}
	z, n := s.exactScore(c.scale, c.spacing)
	if n < minLines {
		return 1
	}
	octave := min(len(s.scales[0].spread)-1, max(0, int(math.Log2(c.spacing/minSpacing))))
	spread := max(1, s.scales[max(1, c.scale)].spread[octave]) // 0 where nothing was scanned
	p := s.trials * math.Erfc(z/spread/math.Sqrt2) / 2
	if p > refinePValue {
		return min(1, p)
	}
	if c.spread == 0 {
		c.spread = 1
		if s.scales[c.scale].columns < wideColumns { // wide lines are met at spacings about theirs, too
			c.spread = s.spreadAbout(c)
		}
	}
	if s.mostlyStations(c.spacing) {
		return 1
	}
	return min(1, s.trials*math.Erfc(z/max(spread, c.spread)/math.Sqrt2)/2)
}

// wideColumns is the width from which lines are wide.
const wideColumns = 18

// refinePValue is the P over which a candidate is not looked at more closely.
const refinePValue = 0.01

// spreadAbout tells how far the sums scatter at spacings about a candidate's, in what
// those of noise do: more where a band is filled by a plan.
func (s *combSearch) spreadAbout(c *combCandidate) float64 {
	const near, step, steps = 0.003, 0.0003, 32 // shares of the spacing
	square, count := 0.0, 0.0
	for i := range steps {
		for _, side := range []float64{-1, 1} {
			z, n := s.exactScore(c.scale, c.spacing*(1+side*(near+step*float64(i))))
			if n >= minLines {
				square, count = square+z*z, count+1
			}
		}
	}
	if spread := math.Sqrt(square / max(1, count)); spread > spreadMin {
		return spread
	}
	return 1
}

// spreadMin is a spread that 64 sums of noise do not show.
const spreadMin = 1.25

// mostlyStations tells whether much of what stands at the multiples of a spacing next to the
// raster's is stations, which have sidebands.
func (s *combSearch) mostlyStations(spacing float64) bool {
	const share = 0.3
	if !s.onRaster(spacing) {
		return false
	}
	lines, found := 0, 0
	for k, v := range s.views {
		first, last := v.multiples(spacing)
		for n := first; n <= last; n++ {
			at := v.column(float64(n) * spacing)
			b := int(math.Round(at))
			if b < 1 || b+1 >= len(v.power) || v.own[b] || s.masked[k][b] {
				continue
			}
			lines++
			calm := v.lowerFloor(at)
			if stat.DB(float64(max(v.power[b-1], v.power[b], v.power[b+1]))/calm) > sidebandsVisible && stat.DB(v.beside(b, 0)/calm) > sidebandsMin {
				found++
			}
		}
	}
	return float64(found) >= share*float64(max(1, lines))
}

// strongest gives the candidate with the strongest evidence, nil where none has a P up
// to most.
func (s *combSearch) strongest(candidates []combCandidate, most float64) *combCandidate {
	var best *combCandidate
	for i := range candidates {
		c := &candidates[i]
		if c.p = s.pValue(c); c.p <= most && (best == nil || c.p < best.p || c.p == best.p && c.z > best.z) {
			best = c
		}
	}
	return best
}

// describe describes what a candidate found.
func (s *combSearch) describe(c *combCandidate) Comb {
	out := Comb{Low: math.Inf(1), P: c.p}
	var below, above float64
	for _, v := range s.views {
		b, a := v.lineEdges(c.spacing)
		below, above = max(below, b), max(above, a)
	}
	c.width = below + above
	c.spacing, out.Sigma = s.refineSpacing(c.spacing+(above-below)/2, c.width, c.z)
	out.Spacing, out.Width = c.spacing, c.width
	var strength, weight float64
	for _, v := range s.views {
		first, last := v.multiples(c.spacing)
		out.Lines += max(0, last-first+1)
		out.Low, out.High = min(out.Low, v.low()), max(out.High, v.high())
		over, n := v.strength(out)
		strength, weight = strength+over*float64(n), weight+float64(n)
	}
	out.Strength = strength / max(1, weight)
	return out
}

// maskComb marks the columns that a comb explains: its lines with their skirts.
func (s *combSearch) maskComb(c *combCandidate) {
	columns := float64(s.scales[c.scale].columns)
	for k, v := range s.views {
		first, last := v.multiples(c.spacing)
		for n := first; n <= last; n++ {
			at := v.column(float64(n) * c.spacing)
			b := max(0, min(len(v.power)-1, int(math.Round(at))))
			reach := max(columns+3, math.Abs(float64(n))*c.width/v.width+3, fft.HannSkirt(float64(v.power[b])/v.noiseAt(at)))
			for i := max(0, int(at-reach)); i <= min(len(v.power)-1, int(at+reach)+1); i++ {
				s.masked[k][i] = true
			}
		}
	}
}
