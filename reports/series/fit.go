package series

import (
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"nightfloor/reports/stats"
)

// A Series is one figure a round, of one pair of setups. Its slices have one entry for each round
// of the segment, also for those that do not count.
type Series struct {
	Values  []float64 // dB; NaN: the round does not count
	Times   []float64 // rising, in usual distances of rounds, as Times gives them
	Stratum []int     // of the round, from 0; −1: the round does not count
	Hidden  float64   // dB², variance of the mean that rounds do not show
}

// Counts tells whether a round counts.
func (s Series) Counts(round int) bool { return s.Stratum[round] >= 0 && !math.IsNaN(s.Values[round]) }

const (
	// closest is how far apart, in usual distances, rounds count at the least: of two at one instant,
	// of surveys beside each other, the second would have no error of its own, and a likelihood of
	// infinity. Chosen: a hundredth of a round is no distance. TestRoundsAtOneInstant.
	closest = 0.01
	// leastSquares is the least sum of squares, in dB², so that values without scatter have a
	// distribution: 1e-6 dB is far under what is measured. TestNoScatter.
	leastSquares = 1e-12
)

// A memory is one assumption on how the errors of rounds depend on each other.
type memory struct {
	rho   float64 // correlation of two rounds at the usual distance, of the part with a memory
	white float64 // share of the variance that has none
}

// grid is all that is assumed: ρ up to 0.9, since 24 rounds say nothing of more, and thirds of
// noise without memory, since what drifts and what fades are not one decay (STATISTICS.md 4.1).
// TestAgainstPlainImplementation, TestCoverage.
var grid = func() []memory {
	points := []memory{{0, 0}}
	for _, white := range []float64{0, 1. / 3, 2. / 3} {
		for tenths := 1; tenths <= 9; tenths++ {
			points = append(points, memory{float64(tenths) / 10, white})
		}
	}
	return points
}()

// Times gives instants in units of the median distance of neighbours in one survey, from the first. They come
// in order of time; survey tells which each is of, nil: all are of one. Rounds of surveys beside each other may
// lie seconds apart, and tell nothing of how long a round takes.
func Times(instants []time.Time, survey []int64) []float64 {
	times, distances := make([]float64, len(instants)), []float64{}
	last := map[int64]time.Time{}
	for i, at := range instants {
		var own int64
		if survey != nil {
			own = survey[i]
		}
		if before, ok := last[own]; ok {
			distances = append(distances, at.Sub(before).Seconds())
		}
		last[own] = at
	}
	if len(distances) == 0 && survey != nil { // each of a survey of its own
		return Times(instants, nil)
	}
	unit := stats.Median(distances)
	for i := range times {
		if times[i] = float64(i); unit > 0 {
			times[i] = instants[i].Sub(instants[0]).Seconds() / unit
		}
	}
	return times
}

// A Fit is a series fitted at every point of the grid.
type Fit struct {
	points  []point   // by point of the grid; nil where too few rounds count to tell their scatter
	rounds  []int     // that count, as indices into the series
	strata  []int     // that have rounds, in rising order
	share   []float64 // by stratum: of the rounds that count
	plain   []float64 // by stratum: the mean of its values
	freedom float64
	hidden  float64
	length  int // of the series
}

// A point is a fit by least squares once correlation has been taken out.
type point struct {
	plain, weighed                 []float64     // means by stratum: as they are, and weighed by the correlation of rounds
	plainVariance, weighedVariance *mat.SymDense // their covariance, for errors of variance 1
	variance                       float64       // of the errors, dB²
	logL                           float64       // likelihood of ρ and the white share, means and scale integrated out
	residuals                      []float64     // by round that counts, whitened
}

func (p *point) plainMeans() ([]float64, *mat.SymDense)   { return p.plain, p.plainVariance }
func (p *point) weighedMeans() ([]float64, *mat.SymDense) { return p.weighed, p.weighedVariance }

// Of fits a series: the errors by generalised least squares and REML, strata's means as they are. Weighed
// by their correlation, means would follow the ends of a survey more than its middle, and be off where
// the advantage follows the sun.
func Of(s Series) *Fit {
	f := &Fit{hidden: s.Hidden, length: len(s.Values)}
	for i := range s.Values {
		if s.Counts(i) {
			f.rounds, f.strata = append(f.rounds, i), append(f.strata, s.Stratum[i])
		}
	}
	slices.Sort(f.strata)
	f.strata = slices.Compact(f.strata)
	f.freedom = float64(len(f.rounds) - len(f.strata))
	counts := make([]float64, len(f.strata))
	f.plain = make([]float64, len(f.strata))
	for _, i := range f.rounds {
		c := f.column(s.Stratum[i])
		counts[c]++
		f.plain[c] += (s.Values[i] - f.plain[c]) / counts[c]
	}
	for _, n := range counts {
		f.share = append(f.share, n/float64(len(f.rounds)))
	}
	if f.freedom < 1 {
		return f
	}
	for _, m := range grid {
		p, ok := f.at(s, m)
		if !ok {
			f.points = nil
			return f
		}
		f.points = append(f.points, p)
	}
	return f
}

// Tells tells whether enough rounds count to tell their scatter.
func (f *Fit) Tells() bool { return f != nil && f.points != nil }

// column gives the place of a stratum among those that have rounds.
func (f *Fit) column(stratum int) int { return slices.Index(f.strata, stratum) }

// at fits the series at one point; ok is false where the strata cannot be told apart.
func (f *Fit) at(s Series, m memory) (p point, ok bool) {
	n, k := len(f.rounds), len(f.strata)
	times, columns, x := make([]float64, n), make([]int, n), mat.NewDense(n, k+1, nil) // strata, then y
	for row, i := range f.rounds {
		times[row], columns[row] = s.Times[i], f.column(s.Stratum[i])
		x.Set(row, columns[row], 1)
		x.Set(row, k, s.Values[i]-f.plain[0]) // 0 for values without scatter, whatever they are
	}
	logDet := whiten(x, times, m)
	strata, y := x.Slice(0, n, 0, k), x.ColView(k)
	var normal, inverse mat.SymDense
	normal.SymOuterK(1, strata.T())
	var chol mat.Cholesky
	if ok = chol.Factorize(&normal) && chol.InverseTo(&inverse) == nil; !ok {
		return p, false
	}
	var right, means, seen, residuals mat.VecDense
	right.MulVec(strata.T(), y)
	if chol.SolveVecTo(&means, &right) != nil {
		return p, false
	}
	seen.MulVec(strata, &means)
	residuals.SubVec(y, &seen)
	squares := max(leastSquares, mat.Dot(&residuals, &residuals))
	p = point{plain: f.plain, plainVariance: f.covariance(columns, times, m), weighedVariance: &inverse,
		variance: squares / f.freedom, residuals: residuals.RawVector().Data,
		logL: -logDet/2 - chol.LogDet()/2 - f.freedom/2*math.Log(squares)}
	for _, mean := range means.RawVector().Data {
		p.weighed = append(p.weighed, f.plain[0]+mean)
	}
	return p, true
}

// covariance gives that of the strata's plain means, for errors of variance 1 with such a memory; columns
// are the strata of the rounds that count.
func (f *Fit) covariance(columns []int, times []float64, m memory) *mat.SymDense {
	sum, carried := mat.NewSymDense(len(f.strata), nil), make([]float64, len(f.strata)) // carried: of earlier rounds, as far as they are like this one
	for i, c := range columns {
		if i > 0 {
			floats.Scale(math.Pow(m.rho, max(closest, times[i]-times[i-1])), carried)
		}
		weight := 1 / (f.share[c] * float64(len(columns)))
		for b, before := range carried {
			with := (1 - m.white) * weight * before
			if b == c {
				with = weight*weight + 2*with
			}
			sum.SetSym(c, b, sum.At(c, b)+with)
		}
		carried[c] += weight
	}
	return sum
}

// whiten frees the columns, row by row, of errors of variance 1 in all with such a memory: what
// is foretold of each row by those before it is subtracted, and the rest divided by its standard
// deviation [Harvey:1989, section 3.4]. It gives the logarithm of the determinant of their
// covariance.
func whiten(x *mat.Dense, times []float64, m memory) (logDet float64) {
	_, columns := x.Dims()
	state, variance := make([]float64, columns), 1-m.white // of the part with a memory
	for i, t := range times {
		if i > 0 {
			decay := math.Pow(m.rho, max(closest, t-times[i-1]))
			for c := range state {
				state[c] *= decay
			}
			variance = decay*decay*variance + (1-m.white)*(1-decay*decay)
		}
		total := variance + m.white
		logDet += math.Log(total)
		row := x.RawRowView(i)
		for c := range row {
			miss := row[c] - state[c]
			row[c] = miss / math.Sqrt(total)
			state[c] += variance / total * miss
		}
		variance *= 1 - variance/total
	}
	return logDet
}
