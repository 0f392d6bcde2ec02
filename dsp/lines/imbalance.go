package lines

import (
	"math"
	"math/cmplx"

	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// A receiver whose I and Q branches differ delivers x = s + γ·s*: each line at
// an offset +f gets a mirror image at −f, 20·log10|γ| dB against it, whose
// transform is γ times the conjugate of the line's, in every frame.
//
// For a pair of bins k, −k with X = S + γ·T*, Y = T + γ·S*, the product X·Y has
// the mean γ·(|S|² + |T|²) and, S and T being independent, the variance
// |S|²·|T|² a frame. Each pair gives an estimate Σ X·Y / Σ(|X|² + |Y|²) of
// weight frames·(1 + r)²/r, r = |T|²/|S|²: pairs of unequal bins, a line
// opposite noise, know most, and a station opposite another station little. On
// noise alone the weights add up to that of Σ x²/(2·Σ|x|²) over the samples,
// whose variance is 1/(2n); with stations on both sides that sum would take two
// carriers at exactly opposite offsets for an image.

// imbalanceGuard is the number of bins next to the centre that are left out:
// the DC spike is its own mirror image.
const imbalanceGuard = 8

// An imbalanceMeter sums what pairs of mirrored bins have in common.
type imbalanceMeter struct {
	frames float64
	above  []imbalancePair // by signed bin, from imbalanceGuard
	n      int             // of the frames that the shares hold for
	shares effectiveShares
	pulls  []float64 // of the pairs, room to find their median in
}

type imbalancePair struct {
	re, im       float64 // Σ X·Y
	upper, lower float64 // Σ|X|², Σ|Y|²
}

// Reset begins anew; buffers are kept.
func (m *imbalanceMeter) Reset() { m.frames, m.above = 0, m.above[:0] }

// Add takes in a stretch. All stretches between two Resets have the same bins.
func (m *imbalanceMeter) Add(s *spectrum.Spectrogram) {
	highest := min(-s.Lowest, s.Lowest+s.Bins-1) // both k and −k are there
	pairs := highest - imbalanceGuard + 1
	if pairs <= 0 {
		return
	}
	if len(m.above) == 0 {
		m.resize(pairs)
	}
	if len(m.above) != pairs {
		panic("lines: imbalanceMeter given stretches of different bins")
	}
	if m.n != s.N {
		m.n, m.shares = s.N, sharesOf(s)
	}
	for f := range s.Frames {
		re, im := s.Re[f*s.Bins:(f+1)*s.Bins], s.Im[f*s.Bins:(f+1)*s.Bins]
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

func (m *imbalanceMeter) resize(pairs int) {
	if cap(m.above) < pairs {
		m.above = make([]imbalancePair, pairs)
	}
	m.above = m.above[:pairs]
	clear(m.above)
}

// effectiveShares tell how many independent values there are in one frame of
// overlapping frames, and in one bin of neighbouring bins.
type effectiveShares struct{ frames, bins float64 }

// sharesOf: windows r samples apart correlate by ρ(r) = Σw(n)w(n+r)/Σw²,
// neighbouring bins by the spectrum of the squared window; the variance of a
// mean of products rises by Σ|ρ|².
func sharesOf(s *spectrum.Spectrogram) effectiveShares {
	frames := 1.0
	for r := s.Hop; r < s.N; r += s.Hop {
		var sum, all float64
		for n := 0; n+r < s.N; n++ {
			sum += float64(s.Window[n]) * float64(s.Window[n+r])
		}
		for _, w := range s.Window {
			all += float64(w) * float64(w)
		}
		frames += 2 * (sum / all) * (sum / all)
	}
	bins := 1.0
	for k := 1; k <= 4; k++ { // beyond, even a Blackman window's spectrum is done
		var sum complex128
		var all float64
		for n, w := range s.Window {
			sin, cos := math.Sincos(2 * math.Pi * float64(k*n%s.N) / float64(s.N))
			sum += complex(float64(w)*float64(w)*cos, float64(w)*float64(w)*sin)
			all += float64(w) * float64(w)
		}
		rho := cmplx.Abs(sum) / all
		bins += 2 * rho * rho
	}
	return effectiveShares{frames: 1 / frames, bins: 1 / bins}
}

// An Imbalance is the mirror image's complex amplitude against the line's
// conjugate, with the standard error of its real and of its imaginary part.
type Imbalance struct {
	Gamma complex128
	Sigma float64
}

// DBc gives the level of the mirror image against the line. known is false where
// it stands less than three standard errors out of the noise; the level is then
// an upper bound: three standard errors beyond what was found.
func (b Imbalance) DBc() (level float64, known bool) {
	size := cmplx.Abs(b.Gamma)
	if size < 3*b.Sigma {
		return 20 * math.Log10(size+3*b.Sigma), false
	}
	return 20 * math.Log10(size), true
}

// Imbalance gives what has been summed; ok is false before there is any, and
// where there is no signal at all.
//
// The weights need the power of what is no image on the weaker side. It is found
// by taking the image away with the last estimate, which starts from plain
// powers; later rounds also pass over pairs that do not agree. Four rounds
// change the estimate no more.
func (m *imbalanceMeter) Imbalance() (b Imbalance, ok bool) {
	const rounds = 4
	if m.frames == 0 {
		return Imbalance{}, false
	}
	excess := math.Inf(1)
	for range rounds {
		var sum complex128
		var weights float64
		m.pulls = m.pulls[:0]
		for i := range m.above {
			gamma, weight := m.above[i].estimate(b.Gamma, m.frames*m.shares.frames)
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
		b = Imbalance{Gamma: sum / complex(weights, 0), Sigma: math.Sqrt(0.5 / (weights * m.shares.bins))}
		excess = max(1, stat.Select(m.pulls, len(m.pulls)/2)/math.Ln2)
	}
	b.Sigma *= math.Sqrt(excess)
	return b, true
}

// maxPull is where a pair's squared error over its expected variance shows
// that it is no estimate (exp(−12) by chance): two steady carriers at nearly
// opposite offsets, whose product does not average out from frame to frame. The
// variance is that of steady noise; of noise in bursts it is greater by the same
// factor in all pairs, which their median tells: ln 2 for an exponential
// distribution of mean 1.
const maxPull = 12

// estimate gives γ from one pair alone, and its weight, given averages
// independent frames and a γ by which to take the image away.
func (p *imbalancePair) estimate(gamma complex128, averages float64) (complex128, float64) {
	product, strong, weak := complex(p.re, p.im), max(p.upper, p.lower), min(p.upper, p.lower)
	// |Y − γX*|² = |Y|² − 2·Re(γ*·XY) + |γ|²|X|².
	own := weak - 2*real(cmplx.Conj(gamma)*product) + stat.SquaredAbs(gamma)*strong
	own = max(own, weak*1e-6)
	if !(own > 0) {
		return 0, 0
	}
	return product / complex(strong+weak, 0), averages * (strong + own) * (strong + own) / (strong * own)
}
