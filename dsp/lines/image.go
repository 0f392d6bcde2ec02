package lines

import (
	"math"

	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// nearCentre is up to how many bins from the centre a line, its mirror image and
// the DC spike share columns.
const nearCentre = 4

// markImages marks the lines of a chunk that are mirror images, and takes out of the
// others what the image of the line opposite adds.
func (w *Watch) markImages(s *spectrum.Spectrogram, lines []chunkLine, power, gain []float64) {
	for i := range lines {
		l := &lines[i]
		if math.Abs(l.offset) < nearCentre*s.BinWidth() {
			l.image = w.imageByPower(lines, l)
		} else if l.image = isImage(mirrorImageOf(s, l.column, w.mirror), w.mirror); !l.image {
			w.subtractImage(s, l, power, gain)
		}
	}
}

// isImage tells whether a line is the mirror image of a stronger one. Two
// stations at exactly opposite offsets follow each other too, but not with a
// ratio that the receiver cannot have: twice what its imbalance gives, or where
// that is not known its upper bound.
func isImage(i mirrorImage, b Imbalance) bool {
	dbc, _ := b.DBc()
	return i.OfStronger(b) && i.Ratio <= 2*stat.FromDB(dbc)
}

// imageByPower tells whether a line near the centre is no stronger than the
// image of the one at the opposite offset; columns do not tell there.
func (w *Watch) imageByPower(lines []chunkLine, l *chunkLine) bool {
	dbc, _ := w.mirror.DBc()
	most := min(0.1, 2*stat.FromDB(dbc))
	for i := range lines {
		if math.Abs(lines[i].offset+l.offset) < sameLine && l.power <= most*lines[i].power {
			return true
		}
	}
	return false
}

// subtractImage measures a line anew without the image of the one opposite, where
// the imbalance is known and the image makes 0.04 dB or more. What the
// imbalance is in doubt by, times twice the product of the amplitudes, is in
// doubt of the line's power.
func (w *Watch) subtractImage(s *spectrum.Spectrogram, l *chunkLine, power, gain []float64) {
	z := &w.finder.zoom
	mirror := s.Mirror(l.column)
	if mirror < 0 || mirror >= s.Bins {
		return
	}
	other := power[mirror] / gain[mirror]
	if _, known := w.mirror.DBc(); !known || stat.SquaredAbs(w.mirror.Gamma)*other < 2e-5*l.power {
		return
	}
	z.prepare(s.Frames)
	conjRe, conjIm := z.tRe[:s.Frames], z.tIm[:s.Frames] // until the transform
	s.Series(mirror, conjRe, conjIm)
	z.load(s, l.column)
	a, b := float32(real(w.mirror.Gamma)), float32(imag(w.mirror.Gamma))
	for f := range z.re {
		z.re[f] -= a*conjRe[f] + b*conjIm[f]
		z.im[f] -= b*conjRe[f] - a*conjIm[f]
	}
	own := z.measureLoaded(s, l.offset-s.Offset(l.column))
	own.offset, own.doubt = l.zoomedLine.offset, l.doubt
	own.sigma = math.Hypot(own.sigma, 2*math.Sqrt(max(0, own.power)*other)*w.mirror.Sigma)
	l.zoomedLine = own
}
