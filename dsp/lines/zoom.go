package lines

import (
	"math"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
)

// A zoom looks at one column of a spectrogram with the resolution of the whole
// chunk: the column's complex values, frame by frame, are a signal sampled
// Rate/Hop times a second, and are transformed once more. A coherent line
// concentrates there (2 Hz in a chunk of 0.5 s), noise and the sidebands of
// speech do not. Where and how clear a line is, Hann's taper tells, whose skirts
// are low; how strong, a taper that counts (nearly) all frames alike: the mean
// power of a carrier that fades within the chunk is that over all of its time.
// It reuses its buffers and is not for concurrent use.
type zoom struct {
	fft        *fft.FFT
	re, im     []float32 // the column's values, frame by frame
	tRe, tIm   []float32 // room for their transform
	hann, even taper
	power      []float64 // with Hann's taper
	evenPower  []float64 // with the even one
	captured   []float64 // share of a steady line's power that the even taper leaves within so many bins
	frames     int
}

// zoomReach is how far a line's power is looked for on either side of its peak,
// in resolution cells 1/(frames·hop): the main lobe of Hann (2) and the width
// of a carrier that came by the ionosphere (up to 1 Hz).
const zoomReach = 3

// zoomHz is how far, in Hz, a line's power is gathered at the least: fading of
// 3 Hz spreads it with a standard deviation of 1.5 Hz about its middle, and a
// drift of 10 Hz/s over ±3.75 Hz in the longest chunk, of 0.75 s.
const zoomHz = 8.0

// A zoomed line is what a zoom finds in a column.
type zoomedLine struct {
	offset  float64 // Hz from the middle of the column
	doubt   float64 // Hz, standard error of offset
	power   float64 // full-scale units, scalloping taken out, noise subtracted
	sigma   float64 // standard error of power
	share   float64 // of the column's power that is in the line
	density float64 // power of everything else in the column, a resolution cell
}

// A taper weighs the frames of a chunk.
type taper struct {
	weights []float32
	squares float64 // Σ weights²
	cross   float64 // frames·Σ weights⁴/(Σ weights²)², for the noise beside a line: 1 if all alike, 1.944 for Hann
	enbw    float64 // cells
}

// evenRamp is the share of the frames on either side over which the even taper
// rises. Steeper, more of a line's own power would leave what is gathered; so, 1.5
// to 2 % does, which is made up for.
const evenRamp = 0.05

// newTaper makes a taper that rises over the share ramp of the frames on either
// side, with no zero at its ends so that each frame counts; 0.5 is Hann's.
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

// load takes column b of s.
func (z *zoom) load(s *spectrum.Spectrogram, b int) {
	z.prepare(s.Frames)
	s.Series(b, z.re, z.im)
}

// transform transforms what was loaded; to[k] sums over all k to the column's
// mean power (Parseval), k counting Rate/Hop/len(to) hertz.
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

// hertz is the spacing of the zoomed bins.
func (z *zoom) hertz(s *spectrum.Spectrogram) float64 {
	return s.Rate / float64(s.Hop) / float64(len(z.power))
}

// strongest measures the strongest line of column b; one with less than the
// least share of its power is not measured.
func (z *zoom) strongest(s *spectrum.Spectrogram, b int, least float64) zoomedLine {
	z.load(s, b)
	return z.strongestLoaded(s, least)
}

// strongestLoaded does so with what was loaded.
func (z *zoom) strongestLoaded(s *spectrum.Spectrogram, least float64) zoomedLine {
	z.transform(&z.hann, z.power)
	peak := 0
	for k, p := range z.power {
		if p > z.power[peak] {
			peak = k
		}
	}
	return z.measure(s, float64(peak)+z.vertex(peak), least)
}

// measureColumn measures whatever stands at offset Hz from the middle of column b.
func (z *zoom) measureColumn(s *spectrum.Spectrogram, b int, offset float64) zoomedLine {
	z.load(s, b)
	return z.measureLoaded(s, offset)
}

// measureLoaded measures whatever stands at offset Hz in what was loaded.
func (z *zoom) measureLoaded(s *spectrum.Spectrogram, offset float64) zoomedLine {
	z.transform(&z.hann, z.power)
	return z.measure(s, offset/z.hertz(s), 0)
}

// measureNear measures the line within two zoomed bins of offset Hz in what was
// loaded.
func (z *zoom) measureNear(s *spectrum.Spectrogram, offset float64) zoomedLine {
	z.transform(&z.hann, z.power)
	n, middle := len(z.power), int(math.Round(offset/z.hertz(s)))
	peak := middle
	for k := middle - 2; k <= middle+2; k++ {
		if z.power[(k%n+n)%n] > z.power[(peak%n+n)%n] {
			peak = k
		}
	}
	return z.measure(s, float64(peak)+z.vertex((peak%n+n)%n), 0)
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

// gather sums what lies within reach bins of the middle one, and its second
// moment about k.
func gather(power []float64, middle, reach int, k float64) (sum, moment float64) {
	n := len(power)
	for i := -reach; i <= reach; i++ {
		p := power[((middle+i)%n+n)%n]
		away := float64(middle+i) - k
		sum += p
		moment += p * away * away
	}
	return sum, moment
}

// measure measures the line round the zoomed bin position k (fractional), if it has
// the least share.
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
	inside := float64(2*wide + 1)
	density := max(0, all-around) / (float64(n) - inside) // of a zoomed bin
	offset := k
	if offset > float64(n)/2 {
		offset -= float64(n)
	}
	offset *= hertz
	// Neighbouring frames share a sixth of their noise: its spectrum is
	// 1 + cos(2π·offset·hop)/3 of its mean.
	tilt := 1 + math.Cos(2*math.Pi*offset*float64(s.Hop)/s.Rate)/3
	net := (steady - density*tilt*inside) / z.captured[wide]
	response := fft.HannPower(offset / s.BinWidth())
	out := zoomedLine{offset: offset, power: net / response, density: density * cell / response, share: line / all}
	// Cross term of line and noise, 2·P·N·cross for the mean of w²|x|² over the
	// frames; and the noise's own scatter over the cells gathered.
	noise := density * tilt * cell
	cells := inside / cell / z.even.enbw
	out.sigma = math.Sqrt(2*max(0, net)*noise*z.even.cross+noise*noise*z.even.enbw*z.even.enbw*cells) / response
	out.doubt = frequencyDoubt(net, noise, hertz*cell, moment/line*hertz*hertz)
	return out
}

// frequencyDoubt gives the standard error of a frequency: of a steady line in
// noise √(6·N/P)/(2πT) at the least (Cramér and Rao's bound), with Hann's taper
// √(10·N/P); of one that fades its own width, the standard deviation beyond that
// of Hann's spectrum, which is 1/(√3·T). A fiftieth of a cell is granted to the
// parabola and to what else is in the column. cell is 1/T, spread in Hz².
func frequencyDoubt(power, noise, cell, spread float64) float64 {
	if power <= 0 {
		return cell
	}
	own := 10 * noise / power * cell * cell / (4 * math.Pi * math.Pi)
	width := spread - 0.4*cell*cell - noise/power*cell*cell*2*zoomReach*zoomReach*zoomReach/3
	return math.Sqrt(own + max(0, width) + 4e-4*cell*cell)
}
