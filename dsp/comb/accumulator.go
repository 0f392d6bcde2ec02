package comb

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/dsp/envelope"
	"nightfloor/dsp/spectrum"
)

// Which lines' power is kept over time. METHODS.md 12.12; all chosen.
const (
	keptHalfBand   = 550.0 // Hz on either side that a channel passes alike: on a slope wobble becomes modulation (TestNoModulationOfLines)
	keptMinGap     = 1.5e3 // Hz: of lines closer than that the strongest is kept (TestLinesKept)
	keptMinPower   = 6     // times the noise in one resolution; weaker lines show no modulation (TestLinesKept)
	keptMaxLines   = 128   // bounds the memory: 4.7 kB a line in half a second
	keptMaxBeside  = 2.5   // times the lower floor: a station's sidebands are more (TestLinesKept)
	keptBoxReach   = 3     // columns on either side that count as a line's power (TestWideRiseIsNotKept)
	centroidReach  = 6     // columns on either side of which the centroid is taken (TestKeptWhereItIsStrongest)
	keptMinSeconds = 0.1   // s, of a chunk: ten periods of the modulation (TestStretchesKept)
	keptStretches  = 2     // bounds the memory (TestStretchesKept)
)

// An Accumulator keeps the power over time of single lines in up to two stretches of a
// recording. Which lines are a comb's is known only at the end, so that all that may be
// are kept, and of too many those with the least beside them. The stretches are the last
// two of the chunks 0, 1, 4, 16 …, which costs little time; whatever the recording's
// length, one of them is in its last three quarters.
type Accumulator struct {
	filter *envelope.Filter
	chunks int
	kept   []lineStretch
	sums   []float64
}

// A lineStretch holds the kept lines of one chunk.
type lineStretch struct {
	start float64 // s, of the first sample
	rate  float64 // samples a second
	enbw  float64 // noise bandwidth of a line's channel, in columns
	lines []keptLine
}

// A keptLine is the power over time of the channel about one line, the noise in it
// included, in full-scale units.
type keptLine struct {
	at    float64 // column
	mean  float64 // of power, the receiver's droop taken out
	power []float32
}

// Reset begins a new recording.
func (w *Accumulator) Reset() { w.chunks, w.kept = 0, nil }

// Add keeps the lines of a chunk that begins start seconds into the recording, if it is
// one of those that are kept; a are the averages so far, centre is the frequency in Hz of
// the columns' middle.
func (w *Accumulator) Add(s *spectrum.Spectrogram, a *spectrum.Averages, centre, start float64) {
	n := w.chunks
	w.chunks++
	// 0 and the powers of 4 are kept: one bit at most, and that an even one.
	if n&(n-1) != 0 || n&0x2AAAAAAA != 0 || float64(s.Frames)*float64(s.Hop)/s.Rate < keptMinSeconds {
		return
	}
	v := newView(s, a, centre)
	if v == nil {
		return
	}
	if w.filter == nil {
		w.filter = envelope.NewFilter(envelope.FlatBins(2*keptHalfBand, s.BinWidth()))
	}
	stretch := lineStretch{start: start + float64(s.Hop)/s.Rate, rate: w.filter.Rate(s), enbw: w.filter.ENBW}
	for _, at := range w.chooseLines(v) {
		first := int(math.Round(at - float64(w.filter.Bins()-1)/2))
		if first < 0 || first+w.filter.Bins() > s.Bins {
			continue
		}
		p := keptLine{at: at, power: make([]float32, w.filter.Length(s))}
		p.mean = w.filter.Powers(p.power, s, first)
		p.mean *= a.Gain[int(math.Round(at))]
		stretch.lines = append(stretch.lines, p)
	}
	if len(w.kept) == keptStretches {
		w.kept = w.kept[1:]
	}
	w.kept = append(w.kept, stretch)
}

// View gives the recording's view: its averages and the lines that were kept. mains is the
// mains frequency in Hz, 0 where it is not known, swing the largest density by which the
// noise swings with it. It is nil where all there is besides lines is the rounding of
// single precision.
func (w *Accumulator) View(s *spectrum.Spectrogram, a *spectrum.Averages, centre, mains, swing float64) *View {
	v := newView(s, a, centre)
	if v != nil {
		v.stretches, v.mains, v.swing = w.kept, mains, swing
	}
	return v
}

// chooseLines gives the columns of the lines to be kept, those with the least beside them
// first.
func (w *Accumulator) chooseLines(v *View) []float64 {
	w.sums = slices.Grow(w.sums[:0], len(v.power))[:len(v.power)]
	clear(w.sums)
	box := 2*keptBoxReach + 1
	for b := keptBoxReach; b < len(v.power)-keptBoxReach; b++ {
		for _, p := range v.power[b-keptBoxReach : b+keptBoxReach+1] {
			w.sums[b] += float64(p)
		}
	}
	type place struct{ at, beside float64 }
	var places []place
	reach := int(keptMinGap / v.width)
	for b, sum := range w.sums {
		noise := v.noiseAt(float64(b))
		if (sum-float64(box)*noise)/v.enbw < keptMinPower*noise || v.ownAt(b) {
			continue
		}
		if slices.Max(w.sums[max(0, b-reach):min(len(w.sums), b+reach+1)]) > sum {
			continue
		}
		if beside := v.beside(b, keptBoxReach) / v.lowerFloor(float64(b)); beside <= keptMaxBeside {
			places = append(places, place{v.centroidAt(b), beside})
		}
	}
	slices.SortFunc(places, func(a, b place) int { return cmp.Compare(a.beside, b.beside) })
	var out []float64
	for _, p := range places[:min(len(places), keptMaxLines)] {
		out = append(out, p.at)
	}
	return out
}

// centroidAt gives the centroid of the power about column b that stands over three times
// the noise.
func (v *View) centroidAt(b int) float64 {
	noise := v.noiseAt(float64(b))
	var power, moment float64
	for i := max(0, b-centroidReach); i <= min(len(v.power)-1, b+centroidReach); i++ {
		over := max(0, float64(v.power[i])-3*noise)
		power, moment = power+over, moment+over*float64(i-b)
	}
	if power == 0 {
		return float64(b)
	}
	return float64(b) + moment/power
}
