package dsp

import "math"

// A zoom looks at one column of a spectrogram with the resolution of the whole
// chunk: the column's complex values, frame by frame, are a signal sampled
// Rate/Hop times a second, and are transformed once more. A coherent line
// concentrates there (2 Hz in a chunk of 0.5 s), noise and the sidebands of
// speech do not. It reuses its buffers and is not for concurrent use.
type zoom struct {
	fft            *FFT
	re, im, window []float32
	power          []float64
	frames         int
	squares        float64 // Σ window²
}

// zoomReach is how far a line's power is gathered on either side of its peak,
// in resolution cells 1/(frames·hop): the main lobe of Hann (2) and the width
// of a carrier that came by the ionosphere (up to 1 Hz).
const zoomReach = 3

// A zoomed line is what a zoom finds in a column.
type zoomedLine struct {
	offset  float64 // Hz from the middle of the column
	power   float64 // full-scale units, scalloping taken out, noise subtracted
	sigma   float64 // standard error of power
	share   float64 // of the column's power that is in the line
	density float64 // power of everything else in the column, a resolution cell
}

// prepare readies the zoom for series of so many frames.
func (z *zoom) prepare(frames int) {
	if z.frames == frames {
		return
	}
	n := 64
	for n < 2*frames {
		n *= 2
	}
	if z.fft == nil || z.fft.Len() != n {
		z.fft, z.re, z.im, z.power = NewFFT(n), make([]float32, n), make([]float32, n), make([]float64, n)
	}
	z.frames, z.window, z.squares = frames, make([]float32, frames), 0
	for i := range z.window { // Hann with no zero at its ends: each frame counts
		w := math.Sin(math.Pi * (float64(i) + 0.5) / float64(frames))
		z.window[i] = float32(w * w)
		z.squares += w * w * w * w
	}
}

// column transforms column b of s; power[k] sums over all k to the column's
// mean power (Parseval), k counting Rate/Hop/len(power) hertz.
func (z *zoom) column(s *Spectrogram, b int) {
	z.prepare(s.Frames)
	clear(z.re)
	clear(z.im)
	s.Series(b, z.re[:s.Frames], z.im[:s.Frames])
	for i, w := range z.window {
		z.re[i] *= w
		z.im[i] *= w
	}
	z.fft.Transform(z.re, z.im)
	scale := 1 / (float64(len(z.re)) * z.squares)
	for k := range z.power {
		re, im := float64(z.re[k]), float64(z.im[k])
		z.power[k] = (re*re + im*im) * scale
	}
}

// hertz is the spacing of the zoomed bins.
func (z *zoom) hertz(s *Spectrogram) float64 {
	return s.Rate / float64(s.Hop) / float64(len(z.power))
}

// strongest measures the strongest line of column b.
func (z *zoom) strongest(s *Spectrogram, b int) zoomedLine {
	z.column(s, b)
	peak := 0
	for k, p := range z.power {
		if p > z.power[peak] {
			peak = k
		}
	}
	return z.at(s, float64(peak)+z.vertex(peak))
}

// forced measures whatever stands at offset Hz from the middle of column b.
func (z *zoom) forced(s *Spectrogram, b int, offset float64) zoomedLine {
	z.column(s, b)
	return z.at(s, offset/z.hertz(s))
}

// vertex gives the place of the summit against bin k from the parabola through
// the logarithms of three powers; for a Hann window padded to twice its length
// it errs by under 1 % of a bin.
func (z *zoom) vertex(k int) float64 {
	n := len(z.power)
	below, top, above := z.power[(k+n-1)%n], z.power[k], z.power[(k+1)%n]
	if below <= 0 || above <= 0 {
		return 0
	}
	l, m, r := math.Log(below), math.Log(top), math.Log(above)
	if curve := l - 2*m + r; curve < 0 {
		return max(-0.5, min(0.5, 0.5*(l-r)/curve))
	}
	return 0
}

// at gathers the power round the zoomed bin position k (fractional).
func (z *zoom) at(s *Spectrogram, k float64) zoomedLine {
	n := len(z.power)
	cell := float64(n) / float64(z.frames) // zoomed bins in a resolution cell
	reach := int(math.Ceil(zoomReach * cell))
	reach = min(reach, n/4)
	middle := int(math.Round(k))
	var line, all float64
	for _, p := range z.power {
		all += p
	}
	for i := -reach; i <= reach; i++ {
		line += z.power[((middle+i)%n+n)%n]
	}
	inside := 2*reach + 1
	density := max(0, all-line) / float64(n-inside) // of a zoomed bin
	offset := k
	if offset > float64(n)/2 {
		offset -= float64(n)
	}
	offset *= z.hertz(s)
	// Neighbouring frames share a sixth of their noise: its spectrum is
	// 1 + cos(2π·offset·hop)/3 of its mean.
	tilt := 1 + math.Cos(2*math.Pi*offset*float64(s.Hop)/s.Rate)/3
	net := line - density*tilt*float64(inside)
	response := hannPower(offset / s.BinWidth())
	out := zoomedLine{offset: offset, power: net / response, density: density * cell / response}
	if all > 0 {
		out.share = line / all
	}
	// Cross term of line and noise, 2·P·N·Σw⁴/(Σw²)² for the mean of w²|x|²
	// over the frames, w Hann: 1.944 of them to the frame; and the noise's own
	// scatter over the cells gathered.
	noise := density * tilt * cell
	cells := float64(inside) / cell / 1.5
	out.sigma = math.Sqrt(2*max(0, net)*noise*1.944+2.25*noise*noise*cells) / response
	return out
}

// hannPower gives the power response of a Hann window, offset in bins, 1 at 0:
// W(m) = sinc(m)/(1 − m²).
func hannPower(m float64) float64 {
	switch a := math.Abs(m); {
	case a < 1e-6:
		return 1
	case math.Abs(a-1) < 1e-6:
		return 0.25
	default:
		w := math.Sin(math.Pi*a) / (math.Pi * a * (1 - a*a))
		return w * w
	}
}
