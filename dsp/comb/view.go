package comb

import (
	"iter"
	"math"
	"slices"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// A View is what one recording shows of combs: the mean spectrum of its usable passband
// and, until Release, the power of single lines over time. It keeps nothing of the Meter
// that made it.
type View struct {
	first float64 // Hz, absolute: the middle of column 0
	width float64 // Hz between columns
	enbw  float64 // of a column, in columns
	looks float64 // independent averages in each
	own   []bool  // by column: the DC spike's, or that of a clock of the receiver or its host
	power []float32
	noise []float32 // of one column, by block of noiseBlock columns
	lower []float32 // by block: the lower quartile of noise within lowerFloorReach

	stretches []lineStretch
	mains     float64 // Hz, where it is known
	swing     float64 // FS²/Hz, by which the noise swings with the mains, at the most
}

// Release drops what only Seek needs, which is most of the memory.
func (v *View) Release() { v.stretches = nil }

// roundingShare is the power that single precision (6e-8 of an amplitude) may leave of the
// strongest line in other columns, as a share; METHODS.md 6.6. TestCombsOfNothing.
const roundingShare = 1e-13

// noiseBlock is the number of columns whose median is the local noise: 4.7 kHz in bins of
// 73 Hz, half the width of a station with its sidebands. METHODS.md 12.1; TestNoiseOfView.
const noiseBlock = 64

// newViewOfPowers makes a view of mean powers by column; first is the frequency of column
// 0, centre that of the DC spike, in Hz.
func newViewOfPowers(power []float64, first, width, enbw, looks, centre float64) *View {
	v := &View{first: first, width: width, enbw: enbw, looks: max(1, looks), power: make([]float32, len(power))}
	for i, p := range power {
		v.power[i] = float32(p)
	}
	v.markOwn(centre)
	var block [noiseBlock]float32
	// The upper of the two middle values is the quantile 1/2 + 1/(2n), which stands
	// √(2π)/(2n) standard deviations over the median.
	bias := float32(stat.NoiseQuantile(v.looks, math.Sqrt(math.Pi/2)/noiseBlock))
	for from := 0; from < len(power); from += noiseBlock {
		n := copy(block[:], v.power[max(0, min(from, len(power)-noiseBlock)):])
		v.noise = append(v.noise, stat.Select(block[:n], n/2)/bias)
	}
	reach := max(1, int(lowerFloorReach/v.width/noiseBlock))
	for k := range v.noise {
		some := slices.Clone(v.noise[max(0, k-reach):min(len(v.noise), k+reach+1)])
		v.lower = append(v.lower, stat.Select(some, len(some)/4))
	}
	return v
}

// lowerFloorReach is how far on either side the lower floor is taken from, in Hz: five
// places of the raster, of which stations may fill three in four. METHODS.md 12.1;
// TestNoiseOfView.
const lowerFloorReach = 50e3

// lowerFloor gives the noise in one column near a column, not raised by sidebands or wide
// lines: the lower quartile of the local noise within lowerFloorReach.
func (v *View) lowerFloor(at float64) float64 {
	return float64(v.lower[max(0, min(len(v.lower)-1, int(at/noiseBlock)))])
}

// newView makes a view of averages with the columns of s, whose middle stands at centre Hz.
// It returns nil where all there is besides lines is the rounding of single precision.
func newView(s *spectrum.Spectrogram, a *spectrum.Averages, centre float64) *View {
	most, sorted := 0.0, append([]float64(nil), a.Mean...)
	for _, p := range sorted {
		most = max(most, p)
	}
	if !(stat.Select(sorted, len(sorted)/2) > roundingShare*most) || math.IsInf(most, 0) {
		return nil
	}
	return newViewOfPowers(a.Mean, centre+s.Offset(0), s.BinWidth(), fft.HannENBW, float64(a.Total())/fft.OverlapLoss, centre)
}

// noiseAt gives the noise in one column at column b, with straight lines between blocks.
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

// multiples gives the first and the last multiple of a spacing in view; first > last where
// there is none.
func (v *View) multiples(spacing float64) (first, last int) {
	return int(math.Ceil(v.low() / spacing)), int(math.Floor(v.high() / spacing))
}

// multiplesOf gives the multiples of a spacing in view, with their columns.
func (v *View) multiplesOf(spacing float64) iter.Seq2[int, float64] {
	return func(yield func(n int, at float64) bool) {
		for n, last := v.multiples(spacing); n <= last; n++ {
			if !yield(n, v.column(float64(n)*spacing)) {
				return
			}
		}
	}
}

// column gives the column of a frequency in Hz, fractional.
func (v *View) column(hz float64) float64 { return (hz - v.first) / v.width }

// receiverClocks are frequencies in Hz whose multiples are lines of the receiver and its
// host: 28.8 MHz/24, 12, 24 and 25 MHz divided to 1 MHz, 48 MHz/64. clockError is how far
// they may be off, as a share. PHYSICS.md 7.7; TestFalseAlarms (receiver's own).
var receiverClocks = []float64{1.2e6, 1e6, 0.75e6}

const clockError = 60e-6

// markOwn marks the columns of the DC spike, which stands at centre (Hz), and of clocks.
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

// ownAt reports whether a column is the receiver's own or out of view.
func (v *View) ownAt(b int) bool { return b < 0 || b >= len(v.own) || v.own[b] }
