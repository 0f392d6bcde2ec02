package lines

import (
	"math"
	"math/cmplx"

	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// Mirror images, METHODS.md 6.11; all chosen.
const (
	nearCentre     = 4    // bins from the centre within which a line, its image and the DC spike share columns (TestLinesNearCentre, TestStationNearCentreIsNoImage)
	imageMaxRatio  = 0.1  // power over the opposite line's: no receiver's images are stronger (TestIsImage)
	imageCoherence = 0.75 // with the opposite line's conjugate, at least (TestIsImage)
	imageMaxLeft   = 0.25 // share of a line's power that stays when the image is taken away: −6 dB (TestIsImage)
	imageTolerance = 2.0  // power over what the imbalance gives, at most (TestIsImage)
	imageMinShare  = 2e-5 // of a line's power, from which an image is taken out of it: 0.04 dB (TestLevelOppositeStrongLine)
)

// markImages marks the lines of a chunk that are mirror images, and takes out of the other
// lines what the image of the line opposite adds.
func (w *Tracker) markImages(s *spectrum.Spectrogram, lines []chunkLine, power, gain []float64) {
	for i := range lines {
		l := &lines[i]
		if math.Abs(l.offset) < nearCentre*s.BinWidth() {
			l.image = w.imageByPower(lines, l)
		} else if l.image = mirrorImageOf(s, l.column, w.mirror).isImage(w.mirror); !l.image {
			w.subtractImage(s, l, power, gain)
		}
	}
}

// A mirrorImage compares a line with the conjugate of the line opposite, at the mirrored
// offset from the centre.
type mirrorImage struct {
	coherence float64 // squared, 0 … 1: share of the line's power that follows the conjugate [Carter:1973, pp. 337-344]
	ratio     float64 // power over the opposite line's
	left      float64 // share of the line's power that stays when the known imbalance's image is taken away
}

// mirrorImageOf compares the line in a column with the one opposite over all frames. An
// image keeps one phase against the conjugate; a station turns against it by the
// difference of their offsets. Two carriers whose offsets are opposite to within about one
// cycle in the stretch are coherent, too, but are not what the imbalance b of the whole
// passband puts there.
func mirrorImageOf(s *spectrum.Spectrogram, column int, b Imbalance) mirrorImage {
	mirror := s.Mirror(column)
	var product complex128
	var own, other, left float64
	for f := range s.Frames {
		row := f * s.Bins
		for d := -1; d <= 1; d++ { // the columns that a line fills with Hann's window
			c, m := column+d, mirror-d
			if c < 0 || c >= s.Bins {
				continue
			}
			y := complex(float64(s.Re[row+c]), float64(s.Im[row+c]))
			x := complex(float64(s.Re[row+m]), float64(s.Im[row+m]))
			product += x * y
			own += stat.SquaredAbs(y)
			other += stat.SquaredAbs(x)
			left += stat.SquaredAbs(y - b.Gamma*cmplx.Conj(x))
		}
	}
	if own == 0 || other == 0 {
		return mirrorImage{}
	}
	return mirrorImage{coherence: stat.SquaredAbs(product) / (own * other), ratio: own / other, left: left / own}
}

// isImage reports whether the line is nothing but the mirror image of the stronger line
// opposite: it follows that line in every frame, is no stronger than the imbalance b makes
// it, and all but a small part of it is what b puts there. Where b is not known better than
// its own error, only the first two are asked, with the bound of b.
func (i mirrorImage) isImage(b Imbalance) bool {
	dbc, known := b.DBc()
	return i.coherence >= imageCoherence && i.ratio < imageMaxRatio && i.ratio <= imageTolerance*stat.FromDB(dbc) &&
		(!known || i.left < imageMaxLeft)
}

// imageByPower reports whether a line near the centre is no stronger than the image of the
// line at the opposite offset. Columns cannot be compared there.
func (w *Tracker) imageByPower(lines []chunkLine, l *chunkLine) bool {
	dbc, _ := w.mirror.DBc()
	most := min(imageMaxRatio, imageTolerance*stat.FromDB(dbc))
	for i := range lines {
		if math.Abs(lines[i].offset+l.offset) < sameLine && l.power <= most*lines[i].power {
			return true
		}
	}
	return false
}

// subtractImage measures a line anew without the image of the line opposite, where the
// imbalance is known and the image counts. The imbalance's standard error, times twice the
// product of the amplitudes, adds to the power's.
func (w *Tracker) subtractImage(s *spectrum.Spectrogram, l *chunkLine, power, gain []float64) {
	z := &w.finder.zoom
	mirror := s.Mirror(l.column)
	other := power[mirror] / gain[mirror]
	if _, known := w.mirror.DBc(); !known || stat.SquaredAbs(w.mirror.Gamma)*other < imageMinShare*l.power {
		return
	}
	z.load(s, l.column)
	conjRe, conjIm := z.tRe[:s.Frames], z.tIm[:s.Frames] // free until the transform
	s.Series(mirror, conjRe, conjIm)
	a, b := float32(real(w.mirror.Gamma)), float32(imag(w.mirror.Gamma))
	for f := range z.re {
		z.re[f] -= a*conjRe[f] + b*conjIm[f]
		z.im[f] -= b*conjRe[f] - a*conjIm[f]
	}
	own := z.measureAt(s, l.offset-s.Offset(l.column))
	own.offset, own.doubt = l.zoomedLine.offset, l.doubt
	own.sigma = math.Hypot(own.sigma, 2*math.Sqrt(max(0, own.power)*other)*w.mirror.Sigma)
	l.zoomedLine = own
}
