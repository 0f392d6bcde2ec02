package bearings

// The pattern of a turned antenna. In linear power a loop's is P(θ) = a0 + a1 cos 2θ +
// a2 sin 2θ, whatever arrives from however many directions, since each source adds
// A cos²(θ − t) + B. What differs from round to round, fading and drift, is a scale of
// the round, fitted together with the pattern: the power in round r at bearing θ is
//
//	y = s · l · (1 + error),  l = 1 + u cos 2θ + v sin 2θ,
//
// and through the reference l = q. A scale from all of a round is better known than
// one from the reference's visit alone, which may have met a fade. With weights
// 1/(φ·(s·l)² + σ²), φ being the variance of the relative errors and σ the standard
// error of a carrier's power, the weighted errors sum up to nothing where the pattern is
// true, and a power may be negative.
//
// Intervals are those of the ranking, over blocks of rounds (package stats): plain
// resampling of the same blocks is too narrow in short surveys, for which the t
// distribution allows.

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"nightfloor/reports/matrix"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

const (
	// leastLevel is the lowest level, of 1 for the mean, that weights are taken of: else a
	// power in a null would count without bound (STATISTICS.md 6.2). With three times as much or
	// a third the depth of a perfect null, 50 dB, moves by 0.5 dB, and nulls by nothing.
	leastLevel = 1e-3
	// fitSteps bounds the work where a fit does not settle.
	fitSteps = 100
	// weakSigmas is how many standard errors of noise a round's scale must stand over 0 for
	// the round to tell of a carrier (STATISTICS.md 6.2). TestWeakRounds fails when it moves.
	weakSigmas = 3
	// floorError is the standard error of a floor's level against another that no number
	// of rounds averages out: the floor of an empty band is measured to 0.1 dB
	// (STATISTICS.md 6.4). TestPatternOfAStillWorld fails when it moves.
	floorError = 0.1 // dB
	// leastShare is the least share of the peak's power that can be told in a null: an 8-bit
	// converter's steps are 50 dB under its full scale, and no switch of this trade keeps antennas
	// 60 dB apart (chosen; STATISTICS.md 6.3). TestPerfectNullOfAStillWorld fails when it moves.
	leastShare = 1e-6
)

// A bearingSeries is what was measured of one thing through one antenna, by round and
// column: a column a bearing, and a last one for the reference where it is none of them.
type bearingSeries struct {
	bearings     []float64        // degrees, in order of those asked for
	ref          int              // the reference's column
	power, sigma [][]float64      // by round and column; NaN where not measured
	floors       [][]*matrix.Cell // whose floors these are; nil: not of the floor
	factor       [][]float64      // that brings a cell's powers to the gain of its round
	through      [][]through      // by round: what comes through controls
	square       bool             // what was measured are squares of powers: l is squared, too
}

// Through is a power that came through a control setup, in the gain of its round.
type through struct {
	setup        int
	power, sigma float64
	limited      bool // the control's floor is own noise
	atMost       bool // the power is the greatest that it may be, since gains do not compare
}

// toPower is the exponent that makes powers of what was measured.
func (t *bearingSeries) toPower() float64 {
	if t.square {
		return 0.5
	}
	return 1
}

func (t *bearingSeries) columns() int { return max(len(t.bearings), t.ref+1) }

// A patternFit is a pattern fitted to a bearingSeries.
type patternFit struct {
	*bearingSeries
	x     [3]float64 // u, v, q
	phi   float64    // variance of the relative errors
	scale []float64  // by round; NaN for those that tell nothing
	parts []evidence // by round
	whole evidence
	cells int // measured, in rounds that tell something
}

// Evidence is what some rounds say of x: their score, and how fast it falls as x
// follows.
type evidence struct {
	rounds int
	score  [3]float64
	slope  [3][3]float64
}

func (e *evidence) add(o evidence, sign float64) {
	e.rounds += int(sign) * o.rounds
	for i := range o.score {
		e.score[i] += sign * o.score[i]
		for j := range o.score {
			e.slope[i][j] += sign * o.slope[i][j]
		}
	}
}

// step gives the change of x that brings the score to nothing; ok is false where the
// rounds do not tell all of x.
func (e *evidence) step() (dx [3]float64, ok bool) {
	flat := slices.Concat(e.slope[0][:], e.slope[1][:], e.slope[2][:])
	var chol mat.Cholesky
	var v mat.VecDense
	if !chol.Factorize(mat.NewSymDense(3, flat)) || chol.Cond() > 1e10 ||
		chol.SolveVecTo(&v, mat.NewVecDense(3, e.score[:])) != nil {
		return dx, false
	}
	return [3]float64(v.RawVector().Data), true
}

// level gives l of a column and its derivatives by x.
func (s *patternFit) level(column int) (l float64, d [3]float64) {
	if column == len(s.bearings) {
		return s.x[2], [3]float64{0, 0, 1}
	}
	sin, cos := math.Sincos(2 * s.bearings[column] * math.Pi / 180)
	l = 1 + s.x[0]*cos + s.x[1]*sin
	if s.square {
		l = max(0, l)
		return l * l, [3]float64{2 * l * cos, 2 * l * sin, 0}
	}
	return l, [3]float64{cos, sin, 0}
}

// newFit begins with an antenna that hears alike all around.
func (t *bearingSeries) newFit() *patternFit {
	return &patternFit{bearingSeries: t, x: [3]float64{0, 0, 1}, phi: 0.1, scale: make([]float64, len(t.power)), parts: make([]evidence, len(t.power))}
}

// fit fits the pattern; ok is false where the data do not tell its unknowns.
func (t *bearingSeries) fit() (s *patternFit, ok bool) {
	s = t.newFit()
	return s, s.solve() && (!s.dropWeak() || s.solve())
}

// solve finds x by steps of Gauss and Newton, weights and scales following it.
func (s *patternFit) solve() bool {
	for range fitSteps {
		s.look()
		dx, ok := s.whole.step()
		if !ok {
			return false
		}
		most := s.move(dx)
		before := s.phi
		s.phi = s.variance()
		if most < 1e-6 && math.Abs(s.phi-before) < 1e-3*before {
			break
		}
	}
	s.look()
	return true
}

// move takes a step, or as much of it as lets no level fall under a third of what it
// was: one that jumps below nothing would outweigh all others. It gives the largest
// change.
func (s *patternFit) move(dx [3]float64) (most float64) {
	from, share := s.x, 1.0
	for c := range s.columns() {
		before, d := s.level(c)
		fall := -(d[0]*dx[0] + d[1]*dx[1] + d[2]*dx[2])
		if before > leastLevel && fall > before*2/3 {
			share = min(share, before*2/3/fall)
		}
	}
	for i := range dx {
		s.x[i] = from[i] + share*dx[i]
		most = max(most, math.Abs(s.x[i]-from[i]))
	}
	return most
}

// contrast gives √(u² + v²): how far the pattern swings about its mean.
func (s *patternFit) contrast() float64 { return math.Hypot(s.x[0], s.x[1]) }

// look finds each round's scale, score and slope at x.
func (s *patternFit) look() {
	s.whole, s.cells = evidence{}, 0
	if s.ref < len(s.bearings) {
		s.whole.slope[2][2] = 1 // q stays where it is
	}
	for r := range s.power {
		s.parts[r] = evidence{}
		if math.IsNaN(s.scale[r]) {
			continue
		}
		for range 3 { // the weights follow the scale
			s.rescale(r)
		}
		if s.scale[r] > 0 {
			s.parts[r] = s.evidenceOf(r)
			s.whole.add(s.parts[r], 1)
		}
	}
}

// rescale brings a round's scale to what its powers say; NaN where there are none.
func (s *patternFit) rescale(r int) {
	var square, product float64
	for c, y := range s.power[r] {
		if !math.IsNaN(y) {
			l, _ := s.level(c)
			w := s.weight(r, c, l)
			square, product = square+w*l*l, product+w*l*y
		}
	}
	s.scale[r] = product / square
}

// weight gives the weight of a power, alike for all while the round's scale is not known.
func (s *patternFit) weight(r, column int, l float64) float64 {
	sigma := s.sigma[r][column]
	if s.scale[r] <= 0 {
		return 1
	}
	m := s.scale[r] * max(l, leastLevel)
	return 1 / (s.phi*m*m + sigma*sigma)
}

// evidenceOf gives what one round says. Its scale, found from the same powers, costs
// each derivative what that has in common with the level itself.
func (s *patternFit) evidenceOf(r int) (e evidence) {
	e.rounds = 1
	var square float64
	var common [3]float64
	scale := s.scale[r]
	for c, y := range s.power[r] {
		if math.IsNaN(y) {
			continue
		}
		s.cells++
		l, d := s.level(c)
		w := s.weight(r, c, l)
		square += w * l * l
		for i := range d {
			e.score[i] += scale * w * (y - scale*l) * d[i]
			common[i] += w * l * d[i]
			for j := range d {
				e.slope[i][j] += scale * scale * w * d[i] * d[j]
			}
		}
	}
	for i := range common {
		for j := range common {
			e.slope[i][j] -= scale * scale * common[i] * common[j] / square
		}
	}
	return e
}

// variance gives φ: the mean square of the relative errors less what noise adds to it,
// each with the weight of its own certainty, for as many unknowns as were fitted.
func (s *patternFit) variance() float64 {
	var sum, weight float64
	for r := range s.power {
		for c, y := range s.power[r] {
			if s.parts[r].rounds > 0 && !math.IsNaN(y) {
				l, _ := s.level(c)
				m := s.scale[r] * max(l, leastLevel)
				e, noise := y-s.scale[r]*l, s.sigma[r][c]*s.sigma[r][c]
				sure := m * m * s.weight(r, c, l)
				sum += sure * sure * (e*e - noise) / (m * m)
				weight += sure * sure
			}
		}
	}
	free := float64(s.cells-s.whole.rounds-3) / float64(max(1, s.cells))
	return max(1e-8, min(2, sum/(weight*max(0.05, free))))
}

// dropWeak leaves out the rounds in which a carrier is not heard over all bearings
// taken together, and tells whether there are any.
func (s *patternFit) dropWeak() (any bool) {
	for r := range s.power {
		var certainty float64
		for c, y := range s.power[r] {
			if !math.IsNaN(y) {
				l, _ := s.level(c)
				certainty += l * l / (s.sigma[r][c] * s.sigma[r][c])
			}
		}
		if weak := !(s.scale[r]*math.Sqrt(certainty) > weakSigmas); weak && !math.IsNaN(s.scale[r]) {
			s.scale[r], any = math.NaN(), true
		}
	}
	return any
}

// A direction is where a pattern has its null and what is left in it, with 95 % intervals.
type direction struct {
	null, low, high    float64 // degrees, 0 ≤ … < 180
	share, least, most float64 // of the peak's power; the first may be under 0, the last is over it
	bounded            bool    // the intervals are there
	leak               leak
}

// nullAt gives the null's bearing in degrees, 0 ≤ null < 180: 90° from the peak.
func nullAt(x [3]float64) float64 { return halfTurn(math.Atan2(x[1], x[0])*90/math.Pi + 90) }

// halfTurn brings a bearing into 0 ≤ deg < 180.
func halfTurn(deg float64) float64 {
	deg = math.Mod(deg, 180)
	if deg < 0 {
		deg += 180
	}
	if deg >= 180 { // a tiny negative angle rounds up
		return 0
	}
	return deg
}

// nullShare gives the power in the null over that in the peak, under 0 where the
// curve passes below nothing.
func nullShare(x [3]float64) float64 {
	m := math.Hypot(x[0], x[1])
	return (1 - m) / (1 + m)
}

// direction gives the null and the share left in it with their 95 % intervals. A share that is
// measured under nothing by chance tells no more than one of nothing: its bound is as far from
// that as noise reaches, and never under what comes through a control. A share that is no more
// than that is taken for nothing.
func (s *patternFit) direction() direction {
	top := 1 + s.contrast()
	null, share, leak := nullAt(s.x), nullShare(s.x), s.leak(top)
	d := direction{null: null, share: share, leak: leak}
	low, high, ok := s.interval(func(x [3]float64) float64 { return math.Remainder(nullAt(x)-null, 180) })
	least, most, fine := s.interval(nullShare)
	if ok && fine {
		bias, turn := stats.Normal95*s.bias(share, top), leak.turn()
		d.bounded = true
		d.low, d.high = halfTurn(null-min(90, math.Hypot(low, turn))), halfTurn(null+min(90, math.Hypot(high, turn)))
		d.least, d.most = leak.widen(share, least, most, bias)
	}
	if share <= leak.share {
		d.share, d.least = 0, 0
	}
	return d
}

// interval gives the 95 % interval of a figure that follows from x; ok is false where too few
// rounds tell it.
func (s *patternFit) interval(of func(x [3]float64) float64) (low, high float64, ok bool) {
	if s.whole.rounds < stats.MinRounds {
		return 0, 0, false
	}
	return s.jackknife(persistence(s.alone(), s.influence(of)), of).Interval()
}

// fallAt gives by how much the thing falls at a bearing, nil where too few rounds tell it.
func (t *bearingSeries) fallAt(bearing float64) *result.Fall {
	s, ok := t.fit()
	if !ok {
		return nil
	}
	of := func(x [3]float64) float64 { return result.Curve{A0: 1, A1: x[0], A2: x[1]}.At(bearing) }
	share := of(s.x)
	least, most, ok := s.interval(of)
	if !ok {
		return nil
	}
	leak := s.leak(1)
	least, most = leak.widen(share, least, most, stats.Normal95*s.bias(share, 1))
	if share <= leak.share {
		share, least = 0, 0
	}
	return fallOf(share, least, most)
}

// bias gives the standard error of a share of what the pattern is in some direction, of 1 for its
// mean, that is alike in all rounds: the floor meter's, and that of the receiver's own noise. The
// meter measures what is in the null together with that noise, so that its error is a share of both.
func (s *patternFit) bias(share, whole float64) float64 {
	if s.floors == nil {
		return 0
	}
	var taken, sigma, cells float64
	for r, part := range s.parts {
		for c := range s.bearings {
			if part.rounds > 0 && !math.IsNaN(s.power[r][c]) {
				cell, f := s.floors[r][c], s.factor[r][c]
				taken += (cell.Floor - cell.External.Floor) * f / s.scale[r]
				sigma += cell.External.Systematic * f / s.scale[r]
				cells++
			}
		}
	}
	all := cells * whole
	return math.Hypot((max(0, share)+taken/all)*stats.Relative(floorError), sigma/all)
}

// under gives by how many dB a share stands under the whole, nil where nothing is left.
func under(share float64) *survey.DB {
	if share < leastShare {
		return nil
	}
	return result.DB(-stats.Decibel(share))
}

// fallOf gives a fall to a share of the mean over all bearings, of which the interval is known.
func fallOf(share, least, most float64) *result.Fall {
	return &result.Fall{DB: under(share), Low: under(most), High: under(least)}
}

// ofMean makes a share of the pattern's mean of one of its peak.
func ofMean(share float64) float64 { return 2 * share / (1 + share) }

// jackknife leaves out each block of rounds in turn, by one step from x.
func (s *patternFit) jackknife(r float64, of func(x [3]float64) float64) *stats.Jackknife {
	blockOf, count := stats.Blocks(len(s.power), r)
	without, sizes := make([]evidence, count), make([]int, count)
	for b := range without {
		without[b] = s.whole
	}
	for i, b := range blockOf {
		without[b].add(s.parts[i], -1)
		sizes[b] += s.parts[i].rounds
	}
	return stats.NewJackknife(of(s.x), sizes, len(s.power), r, func(b int) (float64, bool) {
		x := s.x
		dx, ok := without[b].step()
		for i := range x {
			x[i] += dx[i]
		}
		return of(x), ok
	})
}

// plain serves where no pattern can be fitted: each round's scale is what came through
// the reference.
func (t *bearingSeries) plain() *patternFit {
	s := t.newFit()
	for r := range t.power {
		s.scale[r] = math.NaN()
		if y := t.power[r][t.ref]; y > weakSigmas*t.sigma[r][t.ref] {
			s.scale[r] = y
			s.parts[r].rounds = 1
			s.whole.rounds++
		}
	}
	return s
}

// A point is a column's level against the reference in linear power, its mean over the
// rounds, and by how much each block of rounds moves it.
type point struct {
	*stats.Jackknife
	own    *stats.Jackknife // the same against the pattern's mean: the reference's scatter is not in it
	visits int
}

// points gives the level of each column, nil where it or the reference was not measured
// in any round that tells something, and the reference's level, of 1 for the pattern's
// mean.
func (s *patternFit) points() (out []*point, unit float64) {
	r := max(0, min(0.8, s.alone()))
	blockOf, count := stats.Blocks(len(s.power), r)
	sums := make([]levelSums, s.columns())
	for c := range sums {
		sums[c] = s.sums(c, blockOf, count)
	}
	out = make([]*point, s.columns())
	ref := sums[s.ref]
	for c, own := range sums {
		if own.all.visits == 0 || ref.all.visits == 0 || ref.all.level() <= 0 {
			continue
		}
		sizes := make([]int, count)
		for b, part := range own.blocks {
			sizes[b] = part.visits
		}
		full := own.all.level() / ref.all.level()
		leaving := func(alone bool) *stats.Jackknife {
			return stats.NewJackknife(full, sizes, len(s.power), r, func(b int) (float64, bool) {
				rest, against := own.all.less(own.blocks[b]), ref.all.less(ref.blocks[b])
				ok := against.visits > 0
				if alone {
					against = ref.all
				}
				return rest.level() / against.level(), ok
			})
		}
		out[c] = &point{leaving(false), leaving(true), own.all.visits}
	}
	return out, ref.all.level()
}

// A levelSum is a weighted mean of powers in the scales of their rounds.
type levelSum struct {
	power, weight float64
	visits        int
}

type levelSums struct {
	all    levelSum
	blocks []levelSum
}

func (l levelSum) level() float64 { return l.power / l.weight }

func (l levelSum) less(o levelSum) levelSum {
	return levelSum{l.power - o.power, l.weight - o.weight, l.visits - o.visits}
}

// sums gathers a column's powers, in all and by blocks of rounds.
func (s *patternFit) sums(column int, blockOf []int, count int) levelSums {
	out := levelSums{blocks: make([]levelSum, count)}
	l, _ := s.level(column)
	for r := range s.power {
		y, scale := s.power[r][column], s.scale[r]
		if s.parts[r].rounds == 0 || math.IsNaN(y) {
			continue
		}
		w := s.weight(r, column, l)
		for _, sum := range []*levelSum{&out.all, &out.blocks[blockOf[r]]} {
			sum.power += w * y * scale
			sum.weight += w * scale * scale
			sum.visits++
		}
	}
	return out
}

// influence gives by round what it adds to a figure that follows from x; NaN for those that tell
// nothing.
func (s *patternFit) influence(of func(x [3]float64) float64) []float64 {
	out := slices.Repeat([]float64{math.NaN()}, len(s.parts))
	for r, p := range s.parts {
		e := s.whole
		e.score = p.score
		if dx, ok := e.step(); ok && p.rounds > 0 {
			x := s.x
			for i := range x {
				x[i] += dx[i]
			}
			out[r] = of(x) - of(s.x)
		}
	}
	return out
}

// alone gives the correlation of single bearings' relative errors from round to round.
func (s *patternFit) alone() float64 {
	var l stats.Lagged
	spread := math.Sqrt(s.phi)
	for c := range s.columns() {
		series := slices.Repeat([]float64{math.NaN()}, len(s.power))
		for r := range series {
			if y := s.power[r][c]; s.parts[r].rounds > 0 && !math.IsNaN(y) {
				level, _ := s.level(c)
				e := (y/s.scale[r] - level) / max(level, leastLevel)
				series[r] = max(-3*spread, min(3*spread, e))
			}
		}
		l.Add(series)
	}
	r, _ := l.Correlation()
	return r
}

// persistence gives the correlation from round to round: that of single bearings, or
// that of what rounds do to a figure, less its standard error, where it is more.
func persistence(alone float64, series []float64) float64 {
	var l stats.Lagged
	l.Add(series)
	together, sigma := l.Correlation()
	return max(0, min(0.8, max(alone, together-2*sigma)))
}
