package comb

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/dsp/stat"
)

// scoreUnit is the integer that stands for a score of one standard deviation: ±4.5 fit
// into eight bits, and rounding adds a variance of 1/(12·24²), nothing.
const scoreUnit = 24

// A scoreMap holds the scores of one view at one width. A place is a group of
// neighbouring columns as wide as a line; its score is the normal quantile of the rank of
// its power among all places of its class [Waerden:1952, pp. 453-458]. METHODS.md 12.2.
type scoreMap struct {
	view    *View
	columns int     // of a place
	stride  int     // columns from place to place: half the width
	pitch   float64 // Hz from place to place
	first   float64 // Hz, the middle of place 0
	perHz   float64 // places per Hz
	at0     float64 // places from 0 Hz to the lower edge of place 0
	score   []int8  // in scoreUnit, 0 where closed
}

// A scorer makes score maps. Buffers are reused.
type scorer struct {
	raster  float64 // Hz, of the broadcasters; 0: none are seen
	x       []float32
	closed  []bool
	apart   []bool       // closed, or ranked by its class
	classes []scoreClass // where a raster is seen
	some    []float32
}

// A scoreClass is the open places at one offset from the raster, in places.
type scoreClass struct {
	places   []int32
	separate bool // ranked by itself, for stations stand in it
}

// normaliseBlock is the least number of columns over which the median and the spread are
// taken: 9.4 kHz, a station with its sidebands. METHODS.md 12.2.
const normaliseBlock = 128

// Range and resolution of the table by which places are ranked together, in spreads over
// the local median: noise falls below it with a probability of 1e-15, and with 128 steps a
// spread at most 0.3 % of the places tie.
const (
	rankLow, rankHigh = -8.0, 24.0
	rankSteps         = 4096
)

// scoreView scores a view at a width.
func (c *scorer) scoreView(v *View, columns int) *scoreMap {
	m := &scoreMap{view: v, columns: columns, stride: max(1, columns/2), first: v.first + float64(columns-1)/2*v.width}
	m.pitch = float64(m.stride) * v.width
	m.perHz = 1 / m.pitch
	m.at0 = m.first*m.perHz - 0.5
	n := (len(v.power) - columns + m.stride) / m.stride
	if n < 8*columns/m.stride || n < noiseBlock {
		return m
	}
	m.score = make([]int8, n)
	c.logarithms(m, n)
	c.normalise(max(normaliseBlock, 8*columns)/m.stride, 0.5/math.Sqrt(v.looks*float64(columns)))
	c.classify(m)
	c.rank(m)
	return m
}

// logarithms fills x with the logarithm of each place's power.
func (c *scorer) logarithms(m *scoreMap, n int) {
	c.x, c.closed = slices.Grow(c.x[:0], n)[:n], slices.Grow(c.closed[:0], n)[:n]
	for i := range n {
		from := i * m.stride
		sum := float32(0)
		for _, p := range m.view.power[from : from+m.columns] {
			sum += p
		}
		c.closed[i] = sum <= 0 || m.view.ownAt(from) || m.view.ownAt(from+m.columns-1)
		c.x[i] = float32(math.Log(max(float64(sum), 1e-30)))
	}
}

// normalise takes the local median out of x and divides by the local spread, but no less
// than least: both by blocks, with straight lines between.
func (c *scorer) normalise(block int, least float64) {
	blocks := max(1, len(c.x)/block)
	middle, spread := make([]float32, blocks), make([]float32, blocks)
	for k := range blocks {
		from, to := k*len(c.x)/blocks, (k+1)*len(c.x)/blocks
		c.some = c.some[:0]
		for i := from; i < to; i++ {
			if !c.closed[i] {
				c.some = append(c.some, c.x[i])
			}
		}
		if len(c.some) == 0 {
			spread[k] = 1
			continue
		}
		middle[k], spread[k] = stat.MedianSpread(c.some)
		spread[k] = max(float32(least), spread[k])
	}
	for i := range c.x {
		y := max(0, min(float64(blocks-1), (float64(i)+0.5)*float64(blocks)/float64(len(c.x))-0.5))
		k := int(y)
		l, t := min(k+1, blocks-1), float32(y)-float32(k)
		c.x[i] = (c.x[i] - (1-t)*middle[k] - t*middle[l]) / ((1-t)*spread[k] + t*spread[l])
	}
}

// classify sorts the places into classes by their offset from the raster, and marks as
// separate the classes in which stations stand, with their neighbours.
func (c *scorer) classify(m *scoreMap) {
	if c.raster == 0 {
		return
	}
	period := c.raster / m.pitch
	n := int(math.Ceil(period))
	c.classes = slices.Grow(c.classes[:0], n)[:n]
	for k := range c.classes {
		c.classes[k] = scoreClass{places: c.classes[k].places[:0]}
	}
	off := math.Mod(math.Mod(m.first, c.raster)+c.raster, c.raster) / m.pitch
	for i, closed := range c.closed {
		if k := &c.classes[int(off+0.5)%n]; !closed {
			k.places = append(k.places, int32(i))
		}
		if off++; off >= period {
			off -= period
		}
	}
	for k := range c.classes {
		if c.holdsStations(c.classes[k].places) {
			for d := -1; d <= 1; d++ {
				c.classes[(k+d+n)%n].separate = true
			}
		}
	}
}

// A class holds stations where its median is further from 0 or its upper decile is higher
// than this, in spreads; noise has 0 and 1.28. Chosen; METHODS.md 12.2, TestClassOfStations.
const (
	classMaxMedian = 0.6
	classMaxDecile = 2.2
)

// holdsStations reports whether the places of a class do not look like noise.
func (c *scorer) holdsStations(places []int32) bool {
	c.some = c.some[:0]
	for _, i := range places {
		c.some = append(c.some, c.x[i])
	}
	if len(c.some) == 0 {
		return false
	}
	upper := stat.Select(c.some, len(c.some)*9/10)
	median := stat.Select(c.some, len(c.some)/2)
	return math.Abs(float64(median)) > classMaxMedian || upper > classMaxDecile
}

// rank writes the scores. The places of all classes that look like noise are ranked
// together, those of a separate class among themselves.
func (c *scorer) rank(m *scoreMap) {
	var counts, scores [rankSteps]int
	step := func(x float32) int {
		return max(0, min(rankSteps-1, int((float64(x)-rankLow)*(rankSteps/(rankHigh-rankLow)))))
	}
	c.apart = append(c.apart[:0], c.closed...)
	for _, k := range c.classes {
		for _, i := range k.places {
			c.apart[i] = k.separate
		}
	}
	all := 0
	for i, x := range c.x {
		if !c.apart[i] {
			counts[step(x)]++
			all++
		}
	}
	below := 0
	for k, n := range counts {
		if n > 0 {
			scores[k] = int(normalScore(float64(below)+float64(n)/2, all))
			below += n
		}
	}
	for i, x := range c.x {
		if !c.apart[i] {
			m.score[i] = int8(scores[step(x)])
		}
	}
	for _, k := range c.classes {
		if k.separate {
			c.rankClass(m, k.places)
		} else {
			m.centreClass(k.places)
		}
	}
}

// centreClass takes the mean out of the scores of one class. Stations raise every class a
// little, and a spacing near the raster would meet that at every line.
func (m *scoreMap) centreClass(places []int32) {
	sum := 0
	for _, i := range places {
		sum += int(m.score[i])
	}
	mean := int8(math.Round(float64(sum) / float64(max(1, len(places)))))
	for _, i := range places {
		m.score[i] -= mean
	}
}

// rankClass ranks the places of one class among themselves.
func (c *scorer) rankClass(m *scoreMap, places []int32) {
	slices.SortFunc(places, func(a, b int32) int { return cmp.Compare(c.x[a], c.x[b]) })
	for r, i := range places {
		m.score[i] = normalScore(float64(r)+0.5, len(places))
	}
}

// normalScore gives the normal quantile of a rank among n, held to ±4.5: of 20,000 places
// the highest has 4.1. METHODS.md 12.2.
func normalScore(rank float64, n int) int8 {
	z := math.Sqrt2 * math.Erfinv(2*rank/float64(n)-1)
	return int8(math.Round(scoreUnit * max(-4.5, min(4.5, z))))
}

// scanSum sums and counts the scores at the multiples of a spacing. Places are counted in
// fixed point, 32 bits behind the point, which is what makes the scan fast.
func (m *scoreMap) scanSum(spacing float64) (sum int32, n int) {
	if len(m.score) == 0 {
		return 0, 0
	}
	const one = 1 << 32
	columns := spacing * m.perHz
	first := m.at0 / columns // multiples below place 0
	at := uint64((1 - first + math.Floor(first)) * columns * one)
	step, end := uint64(columns*one), uint64(len(m.score))<<32
	score := m.score
	for ; at < end; at += step {
		sum += int32(score[at>>32])
		n++
	}
	return sum, n
}
