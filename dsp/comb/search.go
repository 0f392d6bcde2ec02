package comb

import (
	"cmp"
	"math"
	"slices"
	"sync"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/stat"
)

// combWidths are the line widths tried, in columns: lines narrower than a column, and
// lines that drift and wobble widen, in steps of three so that none is off by more than
// √3. The narrowest is used only to refine a candidate. METHODS.md 12.2; TestCombsInIQ.
var combWidths = []int{1, 2, 6, 18, 54}

// The scan, METHODS.md 12.3. The values save time; TestDetection fails where they cost
// detections.
const (
	scanEnoughLines = 40  // lines: spacings with more are found by their multiples
	scanMinZ        = 4.2 // standard deviations from which a sum makes a candidate
	maxCandidates   = 400 // refined; the strongest
	candidateGap    = 8   // scan steps: nearer sums belong to one candidate
	spreadInterval  = 16  // scan steps: every such sum enters the measured spread
	refineSteps     = 4   // on either side, of a quarter of a scan step
	roomPerWidth    = 3.0 // least spacing over the width of a line; METHODS.md 12.5
)

// A combSearch seeks combs in the views of one moment.
type combSearch struct {
	views  []*View
	raster float64 // Hz, of the broadcasters; 0: none are seen
	scales []combScale
	masked [][]bool // by view and column: taken by combs found before, or by stations
	top    float64  // Hz, the highest edge
	trials float64
	narrow bool          // refine at the narrowest width as well
	places []rasterPlace // for rasterCombs; nil until needed
}

// A combScale is one of combWidths at the top of the highest view. Lines are narrower
// below, in proportion to their multiple.
type combScale struct {
	maps   []func() *scoreMap // by view; each is made when it is first asked for
	step   float64            // of the scan, in ln spacing
	least  float64            // Hz, the least spacing tried
	part   float64            // Hz, the least whole part of a spacing tried
	spread [6]float64         // by octave of spacing: standard deviation of sums over that of noise
}

// A combCandidate is a spacing whose sum stands out.
type combCandidate struct {
	spacing float64
	scale   int
	z       float64
	refined bool // refineCandidate was called
	every   int  // places of the raster from multiple to multiple, 0 where they do not stand on it
	p       float64
	width   float64 // Hz of one multiple, once it is found
	spread  float64 // of sums at spacings near it, as combScale.spread; 0: not measured
}

func newCombSearch(views []*View) *combSearch {
	s := &combSearch{narrow: true}
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
		c := combScale{least: max(minSpacing, room), part: max(minPartSpacing, room)}
		c.step = max(0.5, float64(columns)/2) * s.views[0].width / s.top
		s.scales = append(s.scales, c)
		s.trials += 2 * math.Log(maxSpacing/c.part) / c.step
	}
	scorers := sync.Pool{New: func() any { return &scorer{raster: s.raster} }}
	for _, v := range s.views {
		var maps []func() *scoreMap // by width
		for _, columns := range combWidths {
			maps = append(maps, sync.OnceValue(func() *scoreMap {
				c := scorers.Get().(*scorer)
				defer scorers.Put(c)
				return c.scoreView(v, columns)
			}))
		}
		for i := range s.scales {
			s.scales[i].maps = append(s.scales[i].maps, maps[widthAt(i, v.high()/s.top)])
		}
	}
	return s
}

// widthAt gives the index of the width that lines have at a share of the highest view's
// frequency, where i is the index of their width at that view.
func widthAt(i int, share float64) int {
	if i < 2 {
		return i
	}
	return max(1, i+int(math.Round(math.Log(share)/math.Log(3))))
}

// scan tries all spacings at all widths but the narrowest and returns those that stand
// out, strongest first. Spacings with more than scanEnoughLines lines are not tried
// themselves: a multiple of each is, and addWholeParts leads back to it.
func (s *combSearch) scan() []combCandidate {
	span := 0.0
	for _, v := range s.views {
		span += v.high() - v.low()
	}
	type stretch struct {
		scale, octave int
		low, high     float64
		found         []combCandidate
	}
	var stretches []stretch
	for i := 1; i < len(s.scales); i++ {
		least := max(s.scales[i].least, min(maxSpacing/2, span/scanEnoughLines))
		for o := range s.scales[i].spread {
			low, high := math.Ldexp(minSpacing, o), math.Ldexp(minSpacing, o+1)
			if low, high = max(low, least), min(high, maxSpacing, span/(minLines-1)); low < high {
				stretches = append(stretches, stretch{scale: i, octave: o, low: low, high: high})
			}
		}
	}
	var wait sync.WaitGroup
	for i := range stretches {
		wait.Go(func() {
			t := &stretches[i]
			t.found, s.scales[t.scale].spread[t.octave] = s.scanOctave(t.scale, t.low, t.high)
		})
	}
	wait.Wait()
	var found []combCandidate
	for _, t := range stretches {
		found = append(found, t.found...)
	}
	for i := range s.scales {
		spread := &s.scales[i].spread
		for o := len(spread) - 2; o >= 0; o-- { // an octave not tried scatters like its multiples
			if spread[o] == 0 {
				spread[o] = spread[o+1]
			}
		}
	}
	found = s.addWholeParts(found)
	slices.SortFunc(found, func(a, b combCandidate) int { return cmp.Compare(b.z, a.z) })
	return found[:min(len(found), maxCandidates)]
}

// nearRaster reports whether a spacing is within 1 % of a multiple of half the raster.
func (s *combSearch) nearRaster(spacing float64) bool {
	over := 2 * spacing / s.raster
	return s.raster > 0 && math.Abs(over-math.Round(over)) <= 0.01*over
}

// partFactor is how many times the z of its multiple a spacing below minSpacing must have:
// the multiple's lines are among its own. Chosen; METHODS.md 12.3, TestCombsInIQ (closer than
// supplies).
const partFactor = 1.3

// addWholeParts appends, for each candidate, that half, third, … of its spacing which has
// the highest z, where this exceeds the candidate's own. Of parts below minSpacing those near
// the raster are passed over: stations make them (TestPartsNearTheRaster).
func (s *combSearch) addWholeParts(found []combCandidate) []combCandidate {
	for _, c := range found[:len(found):len(found)] {
		best := c
		for k := 2.0; c.spacing/k >= s.scales[c.scale].part; k++ {
			part := c.spacing / k
			if part < minSpacing && s.nearRaster(part) {
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

// scanOctave tries all spacings from low to high at one width. spread is the standard
// deviation of the sums over that of noise, at least 1.
func (s *combSearch) scanOctave(scale int, low, high float64) (found []combCandidate, spread float64) {
	var maps []*scoreMap
	for _, m := range s.scales[scale].maps {
		maps = append(maps, m())
	}
	grow := math.Exp(s.scales[scale].step)
	var square, count float64
	last, spacing := -candidateGap, low
	for k := 0; spacing < high; k++ {
		sum, n := int32(0), 0 // masked columns and the receiver's own lines with them, which is fast
		for _, m := range maps {
			part, lines := m.scanSum(spacing)
			sum, n = sum+part, n+lines
		}
		if sum >= scanLimits[min(n, len(scanLimits)-1)] && n >= minLines {
			candidate := combCandidate{spacing: spacing, scale: scale, z: float64(sum) / (scoreUnit * math.Sqrt(float64(n)))}
			if k-last >= candidateGap {
				found = append(found, candidate)
			} else if have := &found[len(found)-1]; candidate.z > have.z { // neighbours are one candidate
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

// scanLimits are the least sums of scores that make a candidate, by number of lines.
var scanLimits = func() (limits [1024]int32) {
	for n := range limits {
		limits[n] = int32(scanMinZ * scoreUnit * math.Sqrt(float64(n)))
	}
	return limits
}()

// exactScore gives the sum of the scores at the multiples of a spacing in standard
// deviations, and their number, without masked columns and the receiver's own lines.
func (s *combSearch) exactScore(scale int, spacing float64) (z float64, n int) {
	var sum int
	for k, made := range s.scales[scale].maps {
		m := made()
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

// refineCandidate moves a candidate to the spacing near it with the highest z. Candidates
// of narrow lines are also tried at the narrowest width.
func (s *combSearch) refineCandidate(c *combCandidate) {
	about, scales := c.spacing, []int{c.scale}
	if c.scale == 1 && s.narrow {
		scales = []int{1, 0}
	}
	step := s.scales[c.scale].step
	c.refined, c.z = true, -1
	for _, scale := range scales {
		for k := -refineSteps; k <= refineSteps; k++ {
			spacing := about * math.Exp(float64(k)*step/refineSteps)
			if z, n := s.exactScore(scale, spacing); n >= minLines && z > c.z {
				c.spacing, c.scale, c.z = spacing, scale, z
			}
		}
	}
}

// pValue gives a candidate's P: the normal tail of its z over the spread of sums, times
// the number of trials.
func (s *combSearch) pValue(c *combCandidate) float64 {
	if c.every > 0 {
		p, _ := s.rasterPValue(c.every)
		return p // z stays 0: its lines are too few and too strong for ranks
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
	p := s.trials * stat.NormalTail(z/spread)
	if p > refinePValue {
		return min(1, p)
	}
	if c.spread == 0 {
		c.spread = 1
		if combWidths[c.scale] < wideColumns { // spacings nearby meet the same wide lines
			c.spread = s.spreadAbout(c)
		}
	}
	if s.mostlyStations(c.spacing) {
		return 1
	}
	return min(1, s.trials*stat.NormalTail(z/max(spread, c.spread)))
}

// wideColumns is the width in columns from which spreadAbout is not asked: its spacings,
// 0.3 to 1.3 % off, would meet lines as wide as that. METHODS.md 12.4.
const wideColumns = 18

// refinePValue is the P above which a candidate is not looked at closer: 50 times the P
// that is listed (METHODS.md 14.1). It saves time.
const refinePValue = 0.01

// spreadAbout gives the standard deviation of sums at spacings near a candidate's over
// that of noise. It exceeds 1 where stations or blocks stand at planned distances.
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

// spreadMin is a spread that 64 sums of noise do not reach: it has a standard error of
// 1/√128, so that 1.25 is 2.8 of these. METHODS.md 12.4; TestSpreadNearASpacing.
const spreadMin = 1.25

// mostlyStations reports whether stations, told by their sidebands, stand at 30 % or more
// of the multiples of a spacing near the raster's. METHODS.md 12.6.
func (s *combSearch) mostlyStations(spacing float64) bool {
	const share = 0.3
	if !s.nearRaster(spacing) {
		return false
	}
	lines, found := 0, 0
	for k, v := range s.views {
		for _, at := range v.multiplesOf(spacing) {
			b := int(math.Round(at))
			if b < 1 || b+1 >= len(v.power) || v.own[b] || s.masked[k][b] {
				continue
			}
			lines++
			lower := v.lowerFloor(at)
			if stat.DB(float64(max(v.power[b-1], v.power[b], v.power[b+1]))/lower) > sidebandsVisible && stat.DB(v.beside(b, 0)/lower) > sidebandsMin {
				found++
			}
		}
	}
	return float64(found) >= share*float64(max(1, lines))
}

// strongest gives the candidate with the least P, nil where none has at most most.
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

// describe measures the comb of a candidate.
func (s *combSearch) describe(c *combCandidate) Comb {
	out := Comb{P: c.p}
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
		over, n := v.strength(out)
		strength, weight = strength+over*float64(n), weight+float64(n)
	}
	out.Strength = strength / max(1, weight)
	return out
}

// maskComb masks the columns that a comb's lines fill, with their skirts.
func (s *combSearch) maskComb(c *combCandidate) {
	columns := float64(combWidths[c.scale])
	for k, v := range s.views {
		for n, at := range v.multiplesOf(c.spacing) {
			b := max(0, min(len(v.power)-1, int(math.Round(at))))
			reach := max(columns+3, math.Abs(float64(n))*c.width/v.width+3, fft.HannSkirt(float64(v.power[b])/v.noiseAt(at)))
			for i := max(0, int(at-reach)); i <= min(len(v.power)-1, int(at+reach)+1); i++ {
				s.masked[k][i] = true
			}
		}
	}
}
