package interference

import (
	"math"

	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// Figures of the search for notches (METHODS.md 11.3); chosen.
const (
	notchDepth = 6.0  // dB
	notchEdge  = 5e3  // Hz about a band's edge in which the floor may step
	notchSide  = 25e3 // Hz beyond that tell the level on either side of an edge
)

// notches tells which of the bands are left out of a raised floor: at both edges the
// free columns' floor steps by notchDepth or more.
func (l *cellLevels) notches(bands []spectrum.Band) (found []Notch) {
	for _, b := range bands {
		low, high := l.column(b.Low), l.column(b.High)
		edge, side := int(notchEdge/l.binWidth), int(notchSide/l.binWidth)
		reach := min(edge+side, (high-low)/2)
		inLow, s1, _, ok1 := l.of(low+edge, low+reach)
		inHigh, s2, _, ok2 := l.of(high-reach, high-edge)
		outLow, s3, _, ok3 := l.of(low-edge-side, low-edge)
		outHigh, s4, _, ok4 := l.of(high+edge, high+edge+side)
		if !ok1 || !ok2 || !ok3 || !ok4 || outLow-inLow < notchDepth || outHigh-inHigh < notchDepth {
			continue
		}
		inside, _, _, ok := l.of(low+edge, high-edge)
		if !ok || min(outLow, outHigh)-inside < notchDepth {
			continue
		}
		// Each of the four may stray by the wiggle; it takes both edges.
		p := max(stat.NormalTail((outLow-inLow)/math.Sqrt(2*wiggle*wiggle+s1*s1+s3*s3)),
			stat.NormalTail((outHigh-inHigh)/math.Sqrt(2*wiggle*wiggle+s2*s2+s4*s4)))
		beside := 10 * math.Log10((math.Pow(10, outLow/10)+math.Pow(10, outHigh/10))/2)
		found = append(found, Notch{Band: b, Strength: math.Pow(10, (inside-beside)/10), P: min(1, p*float64(len(bands)))})
	}
	return found
}
