package comb

import (
	"math"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// A View is what one recording says of evenly spaced lines: its mean spectrum over
// the usable passband, and for a while how strong its lines are from moment to moment. It
// keeps nothing of the Meter that made it.
type View struct {
	first float64 // Hz, absolute: the middle of column 0
	width float64 // Hz between columns
	enbw  float64 // of a column, in columns
	looks float64 // independent averages in each
	own   []bool  // by column: the DC spike's, or a clock's of the receiver or its host
	power []float32
	noise []float32 // level of the noise by block of noiseBlock columns
	lower []float32 // by block: the lower quartile of that within calmReach

	stretches []lineStretch
	mains     float64 // Hz, where it is known
	swing     float64 // FS²/Hz, by which the noise beats with the mains, at the most
}

// Release lets go of what only the search needs, which is most of the memory.
func (v *View) Release() { v.stretches = nil }

// roundingShare is what single precision leaves of a line in other columns, at the most.
const roundingShare = 1e-13

// noiseBlock is the columns whose median is the local noise: 4.7 kHz.
const noiseBlock = 64

// newViewOfPowers takes the mean powers by column of a stretch of spectrum: first is the
// frequency of column 0, centre that of the DC spike, in Hz.
func newViewOfPowers(power []float64, first, width, enbw, looks, centre float64) *View {
	v := &View{first: first, width: width, enbw: enbw, looks: max(1, looks), power: make([]float32, len(power))}
	for i, p := range power {
		v.power[i] = float32(p)
	}
	v.markOwn(centre)
	var block [noiseBlock]float32
	// What the upper of two middle ones is over the mean of such averages: the quantile
	// 1/2 + 1/(2n), √(2π)/(2n) standard deviations over the median.
	bias := float32(stat.NoiseQuantile(v.looks, math.Sqrt(math.Pi/2)/noiseBlock))
	for from := 0; from < len(power); from += noiseBlock {
		n := copy(block[:], v.power[max(0, min(from, len(power)-noiseBlock)):])
		v.noise = append(v.noise, stat.Select(block[:n], n/2)/bias)
	}
	v.findLowerFloor()
	return v
}

// lowerFloorReach is how far around the calm floor is taken from, Hz.
const lowerFloorReach = 50e3

// findLowerFloor fills floor.
func (v *View) findLowerFloor() {
	reach := max(1, int(lowerFloorReach/v.width/noiseBlock))
	var some []float32
	for k := range v.noise {
		some = append(some[:0], v.noise[max(0, k-reach):min(len(v.noise), k+reach+1)]...)
		v.lower = append(v.lower, stat.Select(some, len(some)/4))
	}
}

// lowerFloor gives the floor about a place in one column: the lower quartile of the noise within
// 50 kHz, where sidebands and wide lines do not raise it.
func (v *View) lowerFloor(at float64) float64 {
	return float64(v.lower[max(0, min(len(v.lower)-1, int(at/noiseBlock)))])
}

// newView gives what averages with the columns of s say, their middle at centre Hz; nil
// where all there is besides lines is the arithmetic's own rounding.
func newView(s *spectrum.Spectrogram, a *spectrum.Averages, centre float64) *View {
	most, sorted := 0.0, append([]float64(nil), a.Mean...)
	for _, p := range sorted {
		most = max(most, p)
	}
	if !(stat.Select(sorted, len(sorted)/2) > roundingShare*most) || math.IsInf(most, 0) {
		return nil
	}
	return newViewOfPowers(a.Mean, centre+s.Offset(0), s.BinWidth(), s.ENBW, float64(a.Total())/fft.OverlapLoss, centre)
}

// noiseAt gives the power of the noise in one column about column b.
func (v *View) noiseAt(b float64) float64 {
	x := max(0, min(float64(len(v.noise)-1), b/noiseBlock-0.5))
	i := min(int(x), len(v.noise)-2)
	if i < 0 {
		return float64(v.noise[0])
	}
	t := x - float64(i)
	return (1-t)*float64(v.noise[i]) + t*float64(v.noise[i+1])
}

// low and high give the edges of the view in Hz.
func (v *View) low() float64  { return v.first - v.width/2 }
func (v *View) high() float64 { return v.first + (float64(len(v.power))-0.5)*v.width }

// multiples gives the first and last multiple of a spacing in view; none where first >
// last.
func (v *View) multiples(spacing float64) (first, last int) {
	return int(math.Ceil(v.low() / spacing)), int(math.Floor(v.high() / spacing))
}

// column gives where a frequency stands.
func (v *View) column(hz float64) float64 { return (hz - v.first) / v.width }

// Clocks of receivers and hosts, Hz, whose multiples are no evidence: parts of 28.8 MHz,
// of 12, 24 and 25 MHz and of 48 MHz. They are up to 60 ppm off.
var receiverClocks = []float64{1.2e6, 1e6, 0.75e6}

const clockError = 60e-6

// markOwn marks the DC spike's columns, about centre (Hz), and those of clocks.
func (v *View) markOwn(centre float64) {
	v.own = make([]bool, len(v.power))
	shut := func(hz, reach float64) {
		at := v.column(hz)
		for b := max(0, int(math.Ceil(at-reach))); b <= min(len(v.own)-1, int(math.Floor(at+reach))); b++ {
			v.own[b] = true
		}
	}
	shut(centre, max(3, spectrum.DCGuard/v.width))
	for _, clock := range receiverClocks {
		for n, last := v.multiples(clock); n <= last; n++ {
			hz := float64(n) * clock
			shut(hz, 2+math.Abs(hz)*clockError/v.width)
		}
	}
}

// ownAt tells whether a column is the receiver's own.
func (v *View) ownAt(b int) bool { return b < 0 || b >= len(v.own) || v.own[b] }
