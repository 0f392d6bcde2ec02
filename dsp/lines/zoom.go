package lines

import (
	"math"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// A zoom looks at one column of a spectrogram with the resolution of the whole chunk. The
// column's complex values, frame by frame, are a signal sampled Rate/Hop times a second,
// which is transformed once more: a coherent line gathers in one cell (2 Hz wide in a chunk
// of 0.5 s), noise and the sidebands of speech do not. METHODS.md 6.2 to 6.5.
//
// Two tapers weigh the frames. Hann's, whose skirts are low, tells where a line is and what
// share of the column's power it holds. The even one, which weighs nearly all frames alike,
// tells its power: of a carrier that fades within the chunk, that is the mean over all of
// the time. A zoom reuses its buffers and is not for concurrent use.
type zoom struct {
	fft        *fft.FFT
	re, im     []float32 // the column's values, frame by frame
	tRe, tIm   []float32 // their transform
	hann, even taper
	power      []float64 // by zoomed bin, with Hann's taper
	evenPower  []float64 // by zoomed bin, with the even taper
	captured   []float64 // by reach in zoomed bins: share of a steady line's power within it, even taper
	frames     int
}

const (
	// zoomReach is the distance from its peak within which a line is looked for, in
	// resolution cells 1/(frames·hop): the main lobe of Hann, 2, and the width that the
	// ionosphere gives a carrier, up to 1 Hz. METHODS.md 6.2; TestCarrierSigma.
	zoomReach = 3
	// zoomHz is the least distance from its peak within which a line's power is gathered, in
	// Hz: fading of 3 Hz spreads a line with a standard deviation of 1.5 Hz, and a drift of
	// 10 Hz/s moves it over ±3.75 Hz in the longest chunk, of 0.75 s. METHODS.md 6.4;
	// TestZoomGathersFading.
	zoomHz = 8.0
	// evenRamp is the share of the frames on either side over which the even taper rises. With
	// a steeper ramp more of a line's power would lie beyond what is gathered; with this one it
	// is 1.5 to 2 %, which captured corrects. METHODS.md 6.4; TestLevelOfFadingLine.
	evenRamp = 0.05
)

// A zoomedLine is what a zoom finds in a column.
type zoomedLine struct {
	offset float64 // Hz from the middle of the column
	doubt  float64 // Hz, standard error of offset
	power  float64 // full-scale units, scalloping taken out, noise subtracted
	sigma  float64 // standard error of power
	quiet  float64 // what sigma would be with no line there
	share  float64 // of the column's power that is in the line
}

// A taper weighs the frames of a chunk.
type taper struct {
	weights []float32
	squares float64 // Σ weights²
	cross   float64 // frames·Σ weights⁴/(Σ weights²)², which multiplies noise times line: 1 if all are alike, 1.944 for Hann
	enbw    float64 // equivalent noise bandwidth in cells [Harris:1978, eq. 11]
}

// newTaper makes a taper that rises over the share ramp of the frames on either side; 0.5
// gives Hann's. It has no zero at its ends, so that every frame counts.
func newTaper(frames int, ramp float64) taper {
	t := taper{weights: make([]float32, frames)}
	var sum, fourths float64
	for i := range t.weights {
		at := (float64(i) + 0.5) / float64(frames)
		edge := min(1, min(at, 1-at)/ramp)
		w := math.Pow(math.Sin(math.Pi/2*edge), 2)
		t.weights[i] = float32(w)
		sum += w
		t.squares += w * w
		fourths += w * w * w * w
	}
	t.cross = float64(frames) * fourths / (t.squares * t.squares)
	t.enbw = float64(frames) * t.squares / (sum * sum)
	return t
}

// prepare readies the zoom for so many frames.
func (z *zoom) prepare(frames int) {
	if z.frames == frames {
		return
	}
	n := 64
	for n < 2*frames {
		n *= 2
	}
	if z.fft == nil || z.fft.Len() != n {
		z.fft, z.tRe, z.tIm = fft.New(n), make([]float32, n), make([]float32, n)
		z.power, z.evenPower = make([]float64, n), make([]float64, n)
	}
	z.frames, z.re, z.im = frames, make([]float32, frames), make([]float32, frames)
	z.hann, z.even = newTaper(frames, 0.5), newTaper(frames, evenRamp)
	for i := range z.re {
		z.re[i], z.im[i] = 1, 0
	}
	z.transform(&z.even, z.evenPower)
	z.captured = z.captured[:0]
	for reach := range n/4 + 1 {
		sum, _ := gather(z.evenPower, 0, reach, 0)
		z.captured = append(z.captured, sum)
	}
}

// load loads column b of s.
func (z *zoom) load(s *spectrum.Spectrogram, b int) {
	z.prepare(s.Frames)
	s.Series(b, z.re, z.im)
}

// transform transforms the loaded values, weighed by a taper, to powers by zoomed bin whose
// sum is the mean power of the values (Parseval's theorem).
func (z *zoom) transform(t *taper, to []float64) {
	clear(z.tRe[z.frames:])
	clear(z.tIm[z.frames:])
	for i, w := range t.weights {
		z.tRe[i], z.tIm[i] = z.re[i]*w, z.im[i]*w
	}
	z.fft.Transform(z.tRe, z.tIm)
	scale := 1 / (float64(len(to)) * t.squares)
	for k := range to {
		re, im := float64(z.tRe[k]), float64(z.tIm[k])
		to[k] = (re*re + im*im) * scale
	}
}

// hertz gives the spacing of the zoomed bins in Hz.
func (z *zoom) hertz(s *spectrum.Spectrogram) float64 {
	return s.Rate / float64(s.Hop) / float64(len(z.power))
}

// strongest measures the strongest line in the loaded values. It gives a zero line where
// that one has less than the least share of their power.
func (z *zoom) strongest(s *spectrum.Spectrogram, least float64) zoomedLine {
	z.transform(&z.hann, z.power)
	peak := 0
	for k, p := range z.power {
		if p > z.power[peak] {
			peak = k
		}
	}
	return z.measure(s, float64(peak)+z.vertex(peak), least)
}

// measureAt measures whatever stands at offset Hz from the column's middle.
func (z *zoom) measureAt(s *spectrum.Spectrogram, offset float64) zoomedLine {
	z.transform(&z.hann, z.power)
	return z.measure(s, offset/z.hertz(s), 0)
}

// measureNear measures the line within two zoomed bins of offset Hz from the column's
// middle.
func (z *zoom) measureNear(s *spectrum.Spectrogram, offset float64) zoomedLine {
	z.transform(&z.hann, z.power)
	last, middle := len(z.power)-1, int(math.Round(offset/z.hertz(s)))
	peak := middle
	for k := middle - 2; k <= middle+2; k++ {
		if z.power[k&last] > z.power[peak&last] {
			peak = k
		}
	}
	return z.measure(s, float64(peak)+z.vertex(peak&last), 0)
}

// vertex gives the place of a peak from zoomed bin k, by the parabola through the logarithms
// of three powers [Rife:1974, pp. 591-598]. With Hann's taper, padded to twice its length, it
// errs by under 1 % of a bin (METHODS.md 6.3).
func (z *zoom) vertex(k int) float64 {
	last := len(z.power) - 1
	below, top, above := z.power[(k-1)&last], z.power[k], z.power[(k+1)&last]
	if below <= 0 || above <= 0 {
		return 0
	}
	return stat.Vertex(math.Log(below), math.Log(top), math.Log(above))
}

// gather sums the power within reach bins of the middle one, and its second moment about k.
func gather(power []float64, middle, reach int, k float64) (sum, moment float64) {
	last := len(power) - 1
	for i := -reach; i <= reach; i++ {
		p := power[(middle+i)&last]
		away := float64(middle+i) - k
		sum += p
		moment += p * away * away
	}
	return sum, moment
}

// measure measures the line at the zoomed bin k (fractional). It gives a zero line where
// that has less than the least share of the power.
func (z *zoom) measure(s *spectrum.Spectrogram, k, least float64) zoomedLine {
	n := len(z.power)
	hertz, cell := z.hertz(s), float64(n)/float64(z.frames) // zoomed bins in a resolution cell
	reach := min(int(math.Ceil(zoomReach*cell)), n/4)
	wide := min(max(reach, int(math.Ceil(zoomHz/hertz))), n/4)
	middle := int(math.Round(k))
	var all float64
	for _, p := range z.power {
		all += p
	}
	line, moment := gather(z.power, middle, reach, k)
	if !(line > least*all) {
		return zoomedLine{}
	}
	around, _ := gather(z.power, middle, wide, k)
	z.transform(&z.even, z.evenPower)
	steady, _ := gather(z.evenPower, middle, wide, k)
	offset := k
	if offset > float64(n)/2 {
		offset -= float64(n)
	}
	offset *= hertz
	// The noise of neighbouring frames correlates by 1/6, so that its spectrum is
	// 1 + cos(2π·offset·hop)/3 times its mean [Welch:1967, pp. 70-73].
	tilt := 1 + math.Cos(2*math.Pi*offset*float64(s.Hop)/s.Rate)/3
	inside := float64(2*wide + 1)
	density := max(0, all-around) / (float64(n) - inside*tilt) // of a zoomed bin, the mean of all
	net := (steady - density*tilt*inside) / z.captured[wide]
	response := fft.HannPower(offset / s.BinWidth())
	out := zoomedLine{offset: offset, power: net / response, share: line / all}
	// The variance of noise times line, 2·P·N·cross, of the noise in the cells gathered and of
	// the noise beside them, which is subtracted (METHODS.md 6.5).
	noise := density * tilt * cell
	cells := inside / cell / z.even.enbw
	quiet := noise * z.even.enbw * math.Sqrt(cells*float64(n)/(float64(n)-inside)) / z.captured[wide]
	out.sigma, out.quiet = math.Sqrt(2*max(0, net)*noise*z.even.cross+quiet*quiet)/response, quiet/response
	out.doubt = frequencyDoubt(net, noise, hertz*cell, moment/line*hertz*hertz)
	return out
}

// frequencyDoubt gives the standard error of a line's frequency in Hz. cell is 1/T, T the
// length of the chunk; spread is the second moment of the line's power in Hz². METHODS.md
// 6.3.
//
// A steady line in noise has √(10·N/P)/(2πT) with Hann's taper, where no estimate does
// better than √(6·N/P)/(2πT) [Rife:1974, pp. 591-598]. A line that fades has its own width,
// by which the second moment exceeds that of Hann's spectrum, 0.4 cells², and of the noise
// gathered. A fiftieth of a cell is added for the parabola and for other signals.
func frequencyDoubt(power, noise, cell, spread float64) float64 {
	if power <= 0 {
		return cell
	}
	own := 10 * noise / power * cell * cell / (4 * math.Pi * math.Pi)
	width := spread - 0.4*cell*cell - noise/power*cell*cell*2*zoomReach*zoomReach*zoomReach/3
	return math.Sqrt(own + max(0, width) + 4e-4*cell*cell)
}
