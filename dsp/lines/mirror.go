package lines

import (
	"math/cmplx"

	"nightfloor/dsp/spectrum"
)

// A mirrorImage is how a line compares with the conjugate of the line mirrored
// about the centre.
type mirrorImage struct {
	Mirror    int     // column of the mirrored line; −1 where it is not in the passband
	Coherence float64 // 0…1: share of the power of the line that follows the mirrored one's conjugate
	Ratio     float64 // power against the mirrored line's
	Left      float64 // share of the line's power that stays when the known imbalance's image is taken away
}

// imageColumns is how far a line reaches to either side with Hann's window.
const imageColumns = 1

// mirrorImageOf compares the line in a column with the one at the mirrored column,
// over all frames: an image keeps one phase against the conjugate, a station
// turns against it by the difference of their offsets. Two carriers whose
// offsets are opposite within about one cycle in the stretch are coherent too;
// they differ from an image in Left, which takes away what the imbalance b of
// the whole passband puts there.
func mirrorImageOf(s *spectrum.Spectrogram, column int, b Imbalance) mirrorImage {
	mirror := s.Mirror(column)
	if mirror < 0 || mirror >= s.Bins {
		return mirrorImage{Mirror: -1, Left: 1}
	}
	var product complex128
	var own, other, left float64
	for f := range s.Frames {
		row := f * s.Bins
		for d := -imageColumns; d <= imageColumns; d++ {
			c, m := column+d, mirror-d
			if min(c, m) < 0 || max(c, m) >= s.Bins {
				continue
			}
			y := complex(float64(s.Re[row+c]), float64(s.Im[row+c]))
			x := complex(float64(s.Re[row+m]), float64(s.Im[row+m]))
			rest := y - b.Gamma*cmplx.Conj(x)
			product += x * y
			own += real(y)*real(y) + imag(y)*imag(y)
			other += real(x)*real(x) + imag(x)*imag(x)
			left += real(rest)*real(rest) + imag(rest)*imag(rest)
		}
	}
	if own == 0 || other == 0 {
		return mirrorImage{Mirror: mirror, Left: 1}
	}
	size := cmplx.Abs(product)
	return mirrorImage{Mirror: mirror, Coherence: size * size / (own * other), Ratio: own / other, Left: left / own}
}

// OfStronger tells whether the line is nothing but the mirror image of the
// stronger one: it is weaker, follows it in every frame, and all but a quarter
// (−6 dB) of it goes with the imbalance's image; where the imbalance b is not
// known better than its own error, following in every frame must do.
func (i mirrorImage) OfStronger(b Imbalance) bool {
	if i.Mirror < 0 || i.Ratio >= 0.1 || i.Coherence < 0.75 {
		return false
	}
	_, known := b.DBc()
	return !known || i.Left < 0.25
}
