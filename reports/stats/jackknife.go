package stats

// Intervals under fading. Rounds next to each other are alike, so that the
// scatter of single rounds says too little. Rounds are put into blocks; the
// scatter of what each block changes gives the variance, studentised.
//
//	[Busing] Busing, Meijer, van der Leeden, "Delete-m jackknife for unequal m",
//	Statistics and Computing 9 (1999), eqs. 2-4.
//	[Kunsch] H. R. Künsch, "The jackknife and the bootstrap for general stationary
//	observations", Annals of Statistics 17 (1989).

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

const (
	// MinRounds is the least number of rounds for an interval (STATISTICS.md 4.2).
	// TestFewRounds fails when it moves.
	MinRounds = 6
	// fewBlocks is under how many blocks a t interval says little (STATISTICS.md 4.10).
	// TestBlocks fails when it moves.
	fewBlocks = 5
	// Normal95 is how many standard errors the 95 % interval of a normal error reaches.
	Normal95 = 1.96
)

// Blocks cuts n consecutive rounds into blocks of nearly equal length and gives
// each round's block. Their length is n^(1/3), at least twice the time in which
// the correlation r of neighbours decays to 1/e, at most √n, and so that there are
// five.
func Blocks(n int, r float64) (blockOf []int, count int) {
	length := math.Cbrt(float64(n))
	if r > 0 {
		length = max(length, -2/math.Log(r))
	}
	length = min(math.Round(length), math.Floor(math.Sqrt(float64(n))), math.Floor(float64(n)/fewBlocks))
	count = int(float64(n) / max(1, length))
	blockOf = make([]int, n)
	for i := range blockOf {
		blockOf[i] = i * count / n
	}
	return blockOf, count
}

// A Jackknife holds what each block of rounds does to an advantage.
type Jackknife struct {
	Full   float64
	Change []float64 // by block: full − without it, dB
	Weight []float64 // by block: n/m − 1 for a block of m of n rounds; 0 for an empty one
	Widen  float64   // of the standard error, for correlation across blocks
	Extra  float64   // dB², variance that rounds do not show
}

// NewJackknife leaves out each block in turn. Block b holds sizes[b] of the rounds that tell
// the figure; without gives it from the others, ok is false where they do not tell it. The
// blocks are cut from so many rounds, each of which has the correlation r with the next: of
// those that tell, further apart, less is alike.
func NewJackknife(full float64, sizes []int, rounds int, r float64, without func(block int) (figure float64, ok bool)) *Jackknife {
	j := &Jackknife{Full: full, Change: make([]float64, len(sizes)), Weight: make([]float64, len(sizes))}
	n, used := 0, 0
	for _, m := range sizes {
		n += m
	}
	for b, m := range sizes {
		if m == 0 || m == n {
			continue
		}
		if x, ok := without(b); ok {
			used++
			j.Change[b], j.Weight[b] = full-x, float64(n)/float64(m)-1
		}
	}
	j.Widen = Widening(n, used, math.Pow(r, max(1, float64(rounds)/float64(max(1, n)))))
	return j
}

// used counts the blocks that hold rounds.
func (j *Jackknife) used() (n int) {
	for _, w := range j.Weight {
		if w > 0 {
			n++
		}
	}
	return n
}

// Interval gives the 95 % interval; ok is false where there are no two blocks.
func (j *Jackknife) Interval() (low, high float64, ok bool) {
	n := j.used()
	if n < 2 {
		return 0, 0, false
	}
	half := j.Sigma() * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 1)}.Quantile(0.975)
	return j.Full - half, j.Full + half, true
}

// Sigma gives the standard error.
func (j *Jackknife) Sigma() float64 {
	var sum float64
	for _, x := range j.parts() {
		sum += x * x
	}
	return math.Sqrt(sum + j.Extra)
}

// parts gives what each block adds to the standard error, in dB, with its sign; their
// squares add up to the variance that the rounds show [Busing, eq. 4]: with h = n/m
// the pseudo-value of a block is full + (h−1)·change, the jackknife's estimate
// full + Σ (1−1/h)·change, and a pseudo-value counts with 1/(h−1).
func (j *Jackknife) parts() []float64 {
	parts := make([]float64, len(j.Weight))
	var mean float64
	n := float64(j.used())
	for b, w := range j.Weight {
		mean += w / (w + 1) * j.Change[b]
	}
	for b, w := range j.Weight {
		if w > 0 {
			parts[b] = j.Widen * (w*j.Change[b] - mean) / math.Sqrt(w*n)
		}
	}
	return parts
}

// Widening gives by how much the scatter of block means understates the standard
// error of the mean of n rounds whose correlation falls as r, r², r³ …: with
// S(l) the variance of the mean of l of them, the scatter of B blocks of l
// expects (S(l) − S(n))/(B − 1) where S(n) is true. (Derived; 1 without
// correlation, 1.22 for 24 rounds in 6 blocks at r = 0.5.)
func Widening(n, blocks int, r float64) float64 {
	if blocks < 2 || r <= 0 {
		return 1
	}
	whole := meanOfCorrelated(float64(n), r)
	seen := (meanOfCorrelated(float64(n)/float64(blocks), r) - whole) / float64(blocks-1)
	return math.Sqrt(whole / seen)
}

// meanOfCorrelated gives the variance of the mean of n values of variance 1 and
// correlation r^lag: (1 + 2 Σ (1 − k/n) r^k)/n, summed up.
func meanOfCorrelated(n, r float64) float64 {
	return ((1+r)/(1-r) - 2*r*(1-math.Pow(r, n))/(n*(1-r)*(1-r))) / n
}
