package fft

// Works cited in this file:
//
// [Welch:1967] P. D. Welch, "The use of fast Fourier transform for the
// estimation of power spectra", IEEE Trans. Audio Electroacoust. 15(2), 1967.
//
// [Nita:2010] G. M. Nita, D. E. Gary, "The generalized spectral kurtosis
// estimator", MNRAS Letters 406(1), 2010, L60-L64.

// WelchOptions say how a spectrum is averaged; the fields are those of
// FramerOptions.
type WelchOptions struct {
	N, Hop     int
	Window     WindowKind
	RemoveMean bool
}

// A Welch averages the periodograms of a stream [Welch:1967]. Its memory does
// not grow with the stream. Sums are kept in double precision: over an hour at
// 2.4 MS/s their rounding stays under 1e-9. It is not for concurrent use.
type Welch struct {
	framer       *Framer
	n            int
	window       []float32
	frames       int
	sum, squares []float64 // of |X|² and |X|⁴, natural FFT order
	add          func(re, im []float32)
	correlation  []float64 // of the powers of frames 1, 2, … hops apart
}

// NewWelch readies an average; it panics at options that no stream can satisfy.
func NewWelch(o WelchOptions) *Welch {
	window := Window(o.Window, o.N)
	w := &Welch{
		framer: NewFramer(FramerOptions{N: o.N, Hop: o.Hop, Window: window, RemoveMean: o.RemoveMean}),
		n:      o.N, window: window,
		sum: make([]float64, o.N), squares: make([]float64, o.N),
		correlation: overlapCorrelation(window, o.Hop),
	}
	w.add = w.accumulate // bound once: a method value made for each block would allocate
	return w
}

// Add takes the next samples of the stream.
func (w *Welch) Add(x []complex64) { w.framer.Write(x, w.add) }

// AddU8 takes the next samples of the stream as 8-bit I/Q, see Framer.WriteU8.
func (w *Welch) AddU8(iq []byte) { w.framer.WriteU8(iq, w.add) }

// Frames gives the number of frames averaged so far.
func (w *Welch) Frames() int { return w.frames }

// Reset begins anew.
func (w *Welch) Reset() {
	w.framer.Reset()
	w.frames = 0
	clear(w.sum)
	clear(w.squares)
}

func (w *Welch) accumulate(re, im []float32) {
	w.frames++
	sum, squares, im := w.sum[:len(re)], w.squares[:len(re)], im[:len(re)]
	for i := accumulateVector(sum, squares, re, im); i < len(re); i++ {
		p := float64(re[i]*re[i] + im[i]*im[i])
		sum[i] += p
		squares[i] += p * p
	}
}

// Density gives the averaged two-sided power density in full-scale units per
// hertz, N values from −rate/2 upwards in steps of rate/N; rate in samples a
// second. It is nil before the first frame.
func (w *Welch) Density(rate float64) []float64 {
	if w.frames == 0 {
		return nil
	}
	scale := 1 / (float64(w.frames) * ENBW(w.window) * rate / float64(w.n))
	out := make([]float64, w.n)
	for i := range out {
		out[i] = w.sum[(i+w.n/2)%w.n] * scale
	}
	return out
}

// Kurtosis gives the spectral kurtosis of each bin, in the order of Density: 1
// for Gaussian noise, 0 for a steady tone, above 1 for noise that comes and
// goes. It is nil before two independent frames' worth.
//
// With S1 = Σ|X|², S2 = Σ|X|⁴ over M frames the estimator is
// (M+1)/(M−1)·(M·S2/S1² − 1) [Nita:2010, with N = d = 1 there], unbiased for
// independent frames. Overlapping frames count as fewer in the leading factor,
// see independentFrames: that makes up for the bias to first order in 1/M; the
// scatter stays that of the fewer. A bin that never
// held any power has a kurtosis of 1: nothing speaks against noise.
func (w *Welch) Kurtosis() []float64 {
	m, independent := float64(w.frames), w.independentFrames()
	if independent < 2 {
		return nil
	}
	factor := (independent + 1) / (independent - 1)
	out := make([]float64, w.n)
	for i := range out {
		s1, s2 := w.sum[(i+w.n/2)%w.n], w.squares[(i+w.n/2)%w.n]
		out[i] = 1
		if s1 > 0 {
			out[i] = factor * (m*s2/(s1*s1) - 1)
		}
	}
	return out
}

// independentFrames gives how many independent frames scatter like the M
// overlapping ones: M/(1 + 2Σ(1−k/M)·r_k) [Welch:1967].
func (w *Welch) independentFrames() float64 {
	m, spread := float64(w.frames), 1.0
	for i, r := range w.correlation {
		spread += 2 * max(0, 1-float64(i+1)/m) * r
	}
	return m / spread
}

// overlapCorrelation gives r_k for each frame k = 1, 2, … hops later that still
// overlaps: the correlation of the powers that white noise has in the two,
// r_k = (Σ w[i]·w[i+k·hop] / Σ w²)² [Welch:1967]; 1/36 for Hann at half overlap.
func overlapCorrelation(window []float32, hop int) (r []float64) {
	var power float64
	for _, v := range window {
		power += float64(v) * float64(v)
	}
	for shift := hop; shift < len(window); shift += hop {
		var product float64
		for i, v := range window[shift:] {
			product += float64(v) * float64(window[i])
		}
		r = append(r, product*product/(power*power))
	}
	return r
}
