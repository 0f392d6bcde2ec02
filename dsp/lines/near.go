package lines

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// A line 150 Hz from one 20 dB stronger is no peak of the mean spectrum: it stands on the
// skirt of the strong line's main lobe. But a strong line's skirts are known. A tone m bins
// from the middle of a column gives there e^{iπm}·W(m) times its amplitude, W the window's
// response [Harris:1978, pp. 51-83], so that its values in one column tell those in the
// next. Near strong lines they are subtracted, and what is left is searched again.
// METHODS.md 6.7; TestWeakLineByStrongOne and TestNothingBesideStrongLines.
const (
	nearMinPower  = 100.0 // of a strong line over the floor in a column: Hann's response 1.5 bins off is down by 15 dB and hides a line of 5 dB (TestLineBesideStrongOne)
	nearReach     = 8     // columns searched on either side, at most (TestWeakLineByStrongOne)
	nearMinGap    = 1.25  // bins between two lines; closer peaks are one line. Chosen
	nearMaxLines  = 4     // new lines beside one strong line; bounds the time
	nearMinFrames = 20    // in fewer frames audio near its carrier passes for a line too often, see leastShare (TestLineBesideStrongOne)
	skirtResidue  = 0.003 // of a skirt's power that may be left, for the line's amplitude changes within a frame (TestSkirtResidue)
	smoothFrames  = 4     // on either side over which a line's amplitude is smoothed; chosen (TestSkirtOfDriftingLine)
	remainderMax  = 0.05  // of a skirt's power, below which a peak where remainders fall is one; chosen (TestSkirtResidue)
)

// A patch is a copy of a few columns of a chunk from which lines are subtracted. Buffers are
// reused.
type patch struct {
	first, columns, frames int
	re, im                 []float32                // columns × frames, as Spectrogram.Series
	skirts                 [2*nearReach + 1]float64 // by column: mean power subtracted, the greatest of one line
	power                  [2*nearReach + 1]float64 // by column: mean power left
	lineRe, lineIm         []float64                // a line's amplitude by frame
	ownRe, ownIm           []float32                // the values of a line's own column
}

// copyFrom copies the columns from…to−1.
func (p *patch) copyFrom(s *spectrum.Spectrogram, from, to int) {
	p.first, p.columns, p.frames = from, to-from, s.Frames
	if len(p.ownRe) < p.frames {
		n := len(p.power) * p.frames
		p.re, p.im = make([]float32, n), make([]float32, n)
		p.lineRe, p.lineIm = make([]float64, p.frames), make([]float64, p.frames)
		p.ownRe, p.ownIm = make([]float32, p.frames), make([]float32, p.frames)
	}
	for c := range p.columns {
		re, im := p.column(c)
		s.Series(from+c, re, im)
		p.skirts[c] = 0
	}
	p.sum()
}

// copyTo hands the values of column c to a zoom.
func (p *patch) copyTo(z *zoom, c int) {
	re, im := p.column(c)
	copy(z.re, re)
	copy(z.im, im)
}

// column gives the values of column c of the patch.
func (p *patch) column(c int) (re, im []float32) {
	at := c * p.frames
	return p.re[at : at+p.frames : at+p.frames], p.im[at : at+p.frames : at+p.frames]
}

// sum computes the power that is left.
func (p *patch) sum() {
	for c := range p.columns {
		re, im := p.column(c)
		p.power[c] = float64(spectrum.Power(re, im)) / float64(p.frames)
	}
}

// subtract subtracts the line at an offset in Hz.
func (p *patch) subtract(s *spectrum.Spectrogram, offset float64) {
	place := offset/s.BinWidth() - float64(s.Lowest) // in columns
	home := s.Column(offset)
	own := place - float64(home)
	p.amplitude(s, home, own)
	for c := range p.columns {
		away := place - float64(p.first+c)
		// The phase turns by half a turn from column to column, for the window's middle is
		// half a frame from its start, and in odd columns by half a turn from frame to frame.
		ratio, step := fft.HannResponse(away)/fft.HannResponse(own), 1.0
		if odd := (home-p.first-c)&1 != 0; odd {
			ratio, step = -ratio, -1
		}
		re, im := p.column(c)
		var skirt float64
		for f := range re {
			a, b := ratio*p.lineRe[f], ratio*p.lineIm[f]
			skirt += a*a + b*b
			re[f] -= float32(a)
			im[f] -= float32(b)
			ratio *= step
		}
		p.skirts[c] = max(p.skirts[c], skirt/float64(p.frames))
	}
}

// amplitude computes a line's amplitude by frame, from its home column, from whose middle it
// stands own bins. The values are turned so that the line stands still, smoothed over some
// frames against the noise, and turned back.
func (p *patch) amplitude(s *spectrum.Spectrogram, home int, own float64) {
	re, im := p.ownRe[:p.frames], p.ownIm[:p.frames]
	if c := home - p.first; c >= 0 && c < p.columns {
		a, b := p.column(c)
		copy(re, a)
		copy(im, b)
	} else {
		s.Series(home, re, im)
	}
	// A hop of half a frame turns a line by half a turn a bin.
	for f := range re {
		sin, cos := math.Sincos(-math.Pi * own * float64(f))
		a, b := float64(re[f]), float64(im[f])
		re[f], im[f] = float32(a*cos-b*sin), float32(a*sin+b*cos)
	}
	for f := range re {
		var a, b, weights float64
		reach := min(smoothFrames, f, p.frames-1-f) // on one side only, a drift would bias it
		for d := -reach; d <= reach; d++ {
			w := float64(smoothFrames + 1 - max(d, -d))
			a, b, weights = a+w*float64(re[f+d]), b+w*float64(im[f+d]), weights+w
		}
		a, b = a/weights, b/weights
		sin, cos := math.Sincos(math.Pi * own * float64(f))
		p.lineRe[f], p.lineIm[f] = a*cos-b*sin, a*sin+b*cos
	}
}

// findBeside appends the lines near the strong ones found so far and near the DC spike.
func (l *lineFinder) findBeside(s *spectrum.Spectrogram, mean, floor []float64, least float64) {
	if s.Frames < nearMinFrames {
		return
	}
	for i := range len(l.lines) {
		line := &l.lines[i]
		if line.power > nearMinPower*floor[line.column] && math.Abs(line.offset) > dcHalfWidth(s) {
			l.findNear(s, floor, least, line.offset, line.power)
		}
	}
	if middle := -s.Lowest; mean[middle] > nearMinPower*floor[middle] {
		l.findNear(s, floor, least, 0, mean[middle])
	}
}

// findNear appends the lines near the strong one at the offset centre in Hz.
func (l *lineFinder) findNear(s *spectrum.Spectrogram, floor []float64, least, centre, strong float64) {
	home := s.Column(centre)
	reach := min(nearReach, int(math.Ceil(fft.HannSkirt(strong/floor[home]))))
	p := &l.patch
	p.copyFrom(s, max(0, home-reach), min(s.Bins, home+reach+1))
	if math.Abs(centre) <= dcHalfWidth(s) {
		p.subtract(s, 0)
	}
	for i := range l.lines {
		away := math.Abs(l.lines[i].offset-centre) / s.BinWidth()
		if away < 2*nearReach && math.Abs(l.lines[i].offset) > dcHalfWidth(s) {
			p.subtract(s, l.lines[i].offset)
		}
	}
	l.markPairs(s, centre, strong)
	for range nearMaxLines {
		p.sum()
		z, b, ok := l.strongestLeft(s, floor, least, centre)
		if !ok {
			return
		}
		offset := s.Offset(b) + z.offset
		if l.hasTwinAt(s, 2*centre-offset, z) {
			p.subtract(s, 2*centre-offset)
		} else {
			l.lines = append(l.lines, chunkLine{column: b, offset: offset, zoomedLine: z})
		}
		p.subtract(s, offset)
	}
}

// markPairs marks as sidebands the lines near the strong one whose twin on its other side
// did not stand out by itself, and subtracts the twin.
func (l *lineFinder) markPairs(s *spectrum.Spectrogram, centre, strong float64) {
	for i := range l.lines {
		line := &l.lines[i]
		away := math.Abs(line.offset - centre)
		if away < sameLine || away > nearReach*s.BinWidth() || line.power*stat.FromDB(sidebandMinDown) > strong {
			continue
		}
		if opposite := 2*centre - line.offset; l.hasTwinAt(s, opposite, line.zoomedLine) {
			line.sideband = true
			l.patch.subtract(s, opposite)
		}
	}
}

// strongestLeft finds the strongest line in what is left in the patch.
func (l *lineFinder) strongestLeft(s *spectrum.Spectrogram, floor []float64, least, centre float64) (best zoomedLine, column int, ok bool) {
	p := &l.patch
	for c := 1; c+1 < p.columns; c++ {
		b, level := p.first+c, p.power[c]
		if level <= candidateOverFloor*floor[b] || level < p.power[c-1] || level < p.power[c+1] ||
			level <= skirtResidue*p.skirts[c] {
			continue
		}
		p.copyTo(&l.zoom, c)
		z := l.zoom.strongest(s, least)
		if z.share < least || math.Abs(z.offset) > ownBin*s.BinWidth() || z.power <= best.power ||
			l.isFound(s, s.Offset(b)+z.offset) || l.isRemainder(s, c, z, centre) {
			continue
		}
		best, column, ok = z, b, true
	}
	return best, column, ok
}

// isFound reports whether a line at the offset was found before, or is the DC spike.
func (l *lineFinder) isFound(s *spectrum.Spectrogram, offset float64) bool {
	for i := range l.lines {
		at := l.lines[i].offset
		if math.Abs(at) > dcHalfWidth(s) && math.Abs(at-offset) < nearMinGap*s.BinWidth() {
			return true
		}
	}
	return math.Abs(offset) < dcHalfWidth(s)
}

// isRemainder reports whether a peak in column c is what was left of the strong line's
// skirt. A remainder appears two or four bins from the line, since columns are sampled
// every half frame.
func (l *lineFinder) isRemainder(s *spectrum.Spectrogram, c int, z zoomedLine, centre float64) bool {
	p := &l.patch
	turns := (s.Offset(p.first+c) + z.offset - centre) / (2 * s.BinWidth())
	aside := math.Abs(turns-math.Round(turns)) * 2 * s.BinWidth()
	return aside < 2*sameLine && p.power[c] < remainderMax*p.skirts[c]
}

// hasTwinAt reports whether what is left in the patch holds at an offset a line like z, as
// hum and tones do on both sides of a carrier.
func (l *lineFinder) hasTwinAt(s *spectrum.Spectrogram, offset float64, z zoomedLine) bool {
	p := &l.patch
	c := s.Column(offset) - p.first
	if c < 0 || c >= p.columns {
		return false
	}
	p.copyTo(&l.zoom, c)
	t := l.zoom.measureNear(s, offset-s.Offset(p.first+c))
	away := s.Offset(p.first+c) + t.offset - offset
	ratio := t.power / z.power
	most := stat.FromDB(sidebandMaxUnequal)
	return math.Abs(away) < sidebandTolerance+3*math.Hypot(z.doubt, t.doubt) && ratio < most && ratio > 1/most
}

// dcHalfWidth gives the distance from the centre in Hz within which a line is the DC spike:
// the spike flickers by some tens of hertz (chosen), and a chunk does not resolve lines
// within twice zoomReach. METHODS.md 6.12; TestLinesNearCentre.
func dcHalfWidth(s *spectrum.Spectrogram) float64 {
	return max(30, 2*zoomReach*s.Rate/float64(s.Hop)/float64(max(1, s.Frames)))
}

// byPower sorts lines, strongest first.
func byPower(lines []chunkLine) {
	slices.SortFunc(lines, func(a, b chunkLine) int { return cmp.Compare(b.power, a.power) })
}
