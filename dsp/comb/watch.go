package comb

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/dsp/envelope"
	"nightfloor/dsp/spectrum"
)

// Which lines' power is kept over time, and how.
const (
	keptHalfBand   = 550.0 // Hz to either side that pass alike: wobble that a slope turned into swings of power would beat, too
	keptMinGap     = 1.5e3 // Hz: of lines closer than that the strongest is kept
	keptMinPower   = 6     // times the noise in one resolution: weaker lines show no beat
	keptMaxLines   = 128   // at most
	keptMaxBeside  = 2.5   // times the calm floor at most beside a line: more are a station's sidebands
	keptBoxReach   = 3     // columns to either side that a line's power is summed over
	centroidReach  = 6     // and of which its middle is taken
	keptMinSeconds = 0.1   // s
	keptStretches  = 2     // stretches
)

// A Watch keeps how the power of single lines went in up to two stretches of a
// recording: 4.7 kB a line in half a second. That a line is a comb's is known at the end
// only, so that all are kept that may be, of too many those with the least beside them. The
// stretches are the last two of the chunks 0, 1, 4, 16 …: whatever the recording's
// length, one is of its last three quarters, and few take the time.
type Watch struct {
	filter *envelope.Filter
	chunks int
	kept   []lineStretch
	sums   []float64
}

// A lineStretch is what one chunk tells of lines.
type lineStretch struct {
	start float64 // s, of the first sample
	rate  float64 // samples a second
	enbw  float64 // of the channel, columns
	lines []keptLine
}

// A keptLine is where a line stands, in columns, and its power over time, the noise of the
// channel with it, in full-scale units.
type keptLine struct {
	at    float64
	mean  float64 // droop out
	power []float32
}

// Reset begins a new recording.
func (w *Watch) Reset() { w.chunks, w.kept = 0, nil }

// Add keeps what a chunk tells that begins start seconds into the recording; a are the
// averages so far, centre is the frequency of the columns' middle in Hz.
func (w *Watch) Add(s *spectrum.Spectrogram, a *spectrum.Averages, centre, start float64) {
	n := w.chunks
	w.chunks++
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

// View gives the recording's view: what its averages say, and what was kept of its
// lines. mains is the mains frequency in Hz, 0 where it is not known, swing the density by
// which the noise swings with it at the most. It is nil where there is nothing but the
// arithmetic's own rounding.
func (w *Watch) View(s *spectrum.Spectrogram, a *spectrum.Averages, centre, mains, swing float64) *View {
	v := newView(s, a, centre)
	if v != nil {
		v.stretches, v.mains, v.swing = w.kept, mains, swing
	}
	return v
}

// chooseLines gives the places of lines that stand out, in columns.
func (w *Watch) chooseLines(v *View) []float64 {
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

// centroidAt gives the middle of the power about column b.
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
