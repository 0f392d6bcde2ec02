package rank

import (
	"math"

	"nightfloor/reports/matrix"
	"nightfloor/reports/stats"
)

// strongSigmas is from how many standard errors on the dB of a single cell is
// used: at 4 its bias, −4.34/(2·4²), is −0.14 dB and its scatter 1.1 dB, far less than
// fading (STATISTICS.md 3.2). TestForcedMeasurement fails at a third of it,
// TestCarriersOfSevenSigmas at three times as much.
const strongSigmas = 4

// An observation is one carrier in one round through a setup and the reference.
// Of the two the anchor is the one that hears the carrier better over the survey;
// the observation says where the other stands against it.
type observation struct {
	round  int     // position among the rounds of the period
	strong bool    // both strong: delta holds
	delta  float64 // dB, other − anchor
	anchor float64 // dB, the anchor's level of SNR density
	u      float64 // the other's SNR in its standard errors, may be negative
	unit   float64 // dB, the other's standard error
}

// A track is one carrier through a setup and the reference, over the rounds.
type track struct {
	line       int
	toSetup    float64 // +1: the reference is the anchor; −1: the setup is
	obs        []observation
	faint      bool // some observations are not strong
	anchorMean float64
	anchorVar  float64 // dB², of the anchor's level over rounds
}

// pairTrack gathers a carrier through setups k and ref, nil where neither is
// strong often enough to be an anchor.
func pairTrack(m *matrix.Matrix, line, k, ref int, rounds []int) *track {
	strongK, strongRef, both := 0, 0, 0
	for _, n := range rounds {
		a, b := m.Cells[k][n], m.Cells[ref][n]
		if a == nil || b == nil || math.IsNaN(a.Snr[line]) || math.IsNaN(b.Snr[line]) {
			continue
		}
		both++
		if strong(a, line) {
			strongK++
		}
		if strong(b, line) {
			strongRef++
		}
	}
	if both == 0 || max(strongK, strongRef) < min(matrix.HeardRounds, both) {
		return nil
	}
	t := &track{line: line, toSetup: 1}
	anchor, other := ref, k
	if strongK > strongRef {
		anchor, other, t.toSetup = k, ref, -1
	}
	for i, n := range rounds {
		if o, ok := observe(m.Cells[anchor][n], m.Cells[other][n], line); ok {
			o.round = i
			t.obs = append(t.obs, o)
			t.faint = t.faint || !o.strong
		}
	}
	if t.faint {
		t.anchorMean, t.anchorVar = anchorLevel(m, line, anchor, rounds)
	}
	return t
}

// strong tells whether the dB of this one cell may be used.
func strong(c *matrix.Cell, line int) bool {
	return c.Snr[line] > strongSigmas*c.Sigma[line]
}

// inSigmas gives an SNR density in its standard errors, and where one stands in
// dB. An error of nothing, from recordings without noise, is put at a millionth.
func inSigmas(c *matrix.Cell, line int) (u, unit float64) {
	sigma := max(c.Sigma[line], 1e-6*math.Abs(c.Snr[line]), 1e-30)
	return c.Snr[line] / sigma, stats.Decibel(sigma)
}

// observe compares two cells of a round. A round in which the anchor is weak
// is left out; that selects by the anchor's level, which faint.go allows for, and not by
// the other's.
func observe(anchor, other *matrix.Cell, line int) (o observation, ok bool) {
	if anchor == nil || other == nil || math.IsNaN(other.Snr[line]) || !strong(anchor, line) {
		return o, false
	}
	o.anchor = stats.Decibel(anchor.Snr[line])
	o.u, o.unit = inSigmas(other, line)
	if o.strong = o.u > strongSigmas; o.strong {
		o.delta = stats.Decibel(other.Snr[line]) - o.anchor
	}
	return o, true
}

// anchorLevel gives mean and variance in dB of a carrier's level through its
// anchor over the rounds in which anyone hears it. Rounds in which the anchor
// itself is weak are brought in by their likelihood, by expectation and
// maximisation for a normal distribution over dB.
func anchorLevel(m *matrix.Matrix, line, anchor int, rounds []int) (mean, variance float64) {
	var levels []float64
	var weaks []weak
	for _, n := range rounds {
		c := m.Cells[anchor][n]
		switch {
		case c == nil || math.IsNaN(c.Snr[line]):
		case strong(c, line):
			levels = append(levels, stats.Decibel(c.Snr[line]))
		case anyoneHears(m, line, n):
			u, unit := inSigmas(c, line)
			weaks = append(weaks, weak{unit, measured(u)})
		}
	}
	mean, variance = stats.MeanVariance(levels)
	variance = max(variance, 1)
	if len(weaks) == 0 {
		return mean, variance
	}
	for range 30 {
		before := mean
		mean, variance = withWeak(levels, weaks, mean, variance)
		if math.Abs(mean-before) < 0.01 {
			break
		}
	}
	return mean, variance
}

// A weak level is known by the likelihood of what was measured only.
type weak struct {
	unit    float64             // dB, one standard error
	density [levelSteps]float64 // by level in dB above it
}

// withWeak is one step of expectation and maximisation. A variance under 1 dB²
// is a few rounds' accident.
func withWeak(levels []float64, weaks []weak, mean, variance float64) (m, v float64) {
	var sum, square float64
	for _, x := range levels {
		sum, square = sum+x, square+x*x
	}
	for i := range weaks {
		m, v := weaks[i].moments(mean, variance)
		sum, square = sum+m, square+v+m*m
	}
	n := float64(len(levels) + len(weaks))
	return sum / n, max(square/n-sum*sum/n/n, 1)
}

func anyoneHears(m *matrix.Matrix, line, round int) bool {
	for k := range m.Setups {
		if m.Cells[k][round].Heard(line) {
			return true
		}
	}
	return false
}

// moments gives mean and variance of a weak level in dB that is normal beforehand.
func (w *weak) moments(mean, variance float64) (m, v float64) {
	var norm, first, second float64
	for i, density := range w.density {
		level := levelAt(i)
		z := level + w.unit - mean
		p := math.Exp(-z*z/(2*variance)) * density
		norm, first, second = norm+p, first+p*level, second+p*level*level
	}
	if norm == 0 {
		return mean, variance
	}
	m = first / norm
	return m + w.unit, second/norm - m*m
}
