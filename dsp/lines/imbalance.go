package lines

import (
	"math"
	"math/cmplx"
	"slices"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// A receiver whose I and Q branches differ delivers x = s + γ·s*
// [Valkama:2001, pp. 2335-2344]. A line at an offset +f gets a mirror image at −f, |γ|² times
// as strong, whose transform is γ times the conjugate of the line's in every frame.
//
// For a pair of bins k and −k with X = S + γ·T*, Y = T + γ·S*, S and T independent, the
// product X·Y has the mean γ·(|S|² + |T|²) and the variance |S|²·|T|² a frame. Each pair
// gives the estimate Σ X·Y / Σ(|X|² + |Y|²) with the weight frames·(1 + r)²/r, where r =
// |T|²/|S|²: a line opposite noise knows most, a station opposite a station little. On
// noise alone the weights add up to that of Σ x²/(2·Σ|x|²) over the samples, whose variance
// is 1/(2n). That simpler sum would take two carriers at opposite offsets for an image.
// METHODS.md 6.10.

const (
	// imbalanceGuard is the number of bins next to the centre left out: the DC spike is its
	// own mirror image, and its skirts are wider than Hann's since it flickers. Chosen;
	// TestImbalanceOfLineNearCentre.
	imbalanceGuard = 8
	// imbalanceRounds is how often the estimate is improved; a fifth round changes nothing.
	imbalanceRounds = 4
	// maxPull is the squared error of a pair over its variance from which the pair is left
	// out; noise reaches it with a probability of exp(−12). Two steady carriers at nearly
	// opposite offsets do: their product does not average out (TestImbalanceOfScenes, band;
	// TestImbalanceLeavesOutPairs).
	maxPull = 12
)

// An imbalanceMeter sums what pairs of mirrored bins have in common.
type imbalanceMeter struct {
	frames float64
	above  []imbalancePair // by signed bin, from imbalanceGuard on
	pulls  []float64       // of the pairs; a buffer
}

type imbalancePair struct {
	re, im       float64 // Σ X·Y
	upper, lower float64 // Σ|X|², Σ|Y|²
}

// Reset forgets all sums and keeps the buffers.
func (m *imbalanceMeter) Reset() { m.frames, m.above = 0, m.above[:0] }

// Add adds a stretch to the sums. All stretches between two Resets have the same bins.
func (m *imbalanceMeter) Add(s *spectrum.Spectrogram) {
	pairs := max(0, -s.Lowest-imbalanceGuard+1)
	if len(m.above) == 0 {
		m.above = slices.Grow(m.above, pairs)[:pairs]
		clear(m.above)
	}
	if len(m.above) != pairs {
		panic("lines: imbalanceMeter given stretches of different bins")
	}
	for f := range s.Frames {
		re, im := s.Row(f)
		up, down := -s.Lowest+imbalanceGuard, -s.Lowest-imbalanceGuard
		for i := range m.above {
			a, b, c, d := float64(re[up+i]), float64(im[up+i]), float64(re[down-i]), float64(im[down-i])
			p := &m.above[i]
			p.re += a*c - b*d
			p.im += a*d + b*c
			p.upper += a*a + b*b
			p.lower += c*c + d*d
		}
	}
	m.frames += float64(s.Frames)
}

// An Imbalance is the complex amplitude of a mirror image over the conjugate of its line.
type Imbalance struct {
	Gamma complex128
	Sigma float64 // standard error of the real and of the imaginary part
}

// DBc gives the level of a mirror image over its line in dB. known is false where it is
// less than three standard errors; the level is then an upper bound, three standard errors
// more than was found.
func (b Imbalance) DBc() (level float64, known bool) {
	size := cmplx.Abs(b.Gamma)
	if size < 3*b.Sigma {
		return 20 * math.Log10(size+3*b.Sigma), false
	}
	return 20 * math.Log10(size), true
}

// Imbalance estimates the imbalance from what was summed; ok is false where nothing was, or
// no signal.
//
// The weights need the power of what is not an image on the weaker side of a pair. It is
// what stays when the image by the estimate of the round before is taken away; the first
// round takes nothing away. From the second round on, pairs that do not agree are left out:
// maxPull is for steady noise, and noise in bursts raises the variance of all pairs by one
// factor, which their median pull over ln 2, the median of an exponential variable, gives.
func (m *imbalanceMeter) Imbalance() (b Imbalance, ok bool) {
	excess := math.Inf(1)
	for range imbalanceRounds {
		var sum complex128
		var weights float64
		m.pulls = m.pulls[:0]
		for i := range m.above {
			gamma, weight := m.above[i].estimate(b.Gamma, m.frames/fft.OverlapLoss)
			pull := stat.SquaredAbs(gamma-b.Gamma) * weight
			m.pulls = append(m.pulls, pull)
			if pull <= maxPull*excess {
				sum += complex(weight, 0) * gamma
				weights += weight
			}
		}
		if weights == 0 {
			return Imbalance{}, false
		}
		// Half of the variance is in each part.
		b = Imbalance{Gamma: sum / complex(weights, 0), Sigma: math.Sqrt(0.5 * fft.BinExcess / weights)}
		excess = max(1, stat.Select(m.pulls, len(m.pulls)/2)/math.Ln2)
	}
	b.Sigma *= math.Sqrt(excess)
	return b, true
}

// estimate gives γ from one pair and its weight. gamma is the estimate by which the image is
// taken away, averages the number of independent frames.
func (p *imbalancePair) estimate(gamma complex128, averages float64) (complex128, float64) {
	product, strong, weak := complex(p.re, p.im), max(p.upper, p.lower), min(p.upper, p.lower)
	// |Y − γX*|² = |Y|² − 2·Re(γ*·XY) + |γ|²|X|².
	own := weak - 2*real(cmplx.Conj(gamma)*product) + stat.SquaredAbs(gamma)*strong
	own = max(own, weak*1e-6) // rounding may leave less than nothing
	if !(own > 0) {
		return 0, 0
	}
	return product / complex(strong+weak, 0), averages * (strong + own) * (strong + own) / (strong * own)
}
