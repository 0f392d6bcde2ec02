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
	envelopeFlat     = 550.0 // Hz to either side that pass alike: wobble that a slope turned into swings of power would beat, too
	envelopeApart    = 1.5e3 // Hz: of lines closer than that the strongest is kept
	envelopeLeast    = 6     // times the noise in one resolution: weaker lines show no beat
	envelopeLines    = 128   // at most
	envelopeBeside   = 2.5   // times the calm floor at most beside a line: more are a station's sidebands
	envelopeBox      = 3     // columns to either side that a line's power is summed over
	envelopeCentre   = 6     // and of which its middle is taken
	envelopeShortest = 0.1   // s
	envelopeKept     = 2     // stretches
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
	start  float64 // s, of the first sample
	rate   float64 // samples a second
	enbw   float64 // of the channel, columns
	places []linePlace
}

// A linePlace is where a line stands, in columns, and its power over time, the noise of the
// channel with it, in full-scale units.
type linePlace struct {
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
	if n&(n-1) != 0 || n&0x2AAAAAAA != 0 || float64(s.Frames)*float64(s.Hop)/s.Rate < envelopeShortest {
		return
	}
	v := newView(s, a, centre)
	if v == nil {
		return
	}
	if w.filter == nil {
		w.filter = envelope.NewFilter(envelope.FlatBins(2*envelopeFlat, s.BinWidth()))
	}
	stretch := lineStretch{start: start + float64(s.Hop)/s.Rate, rate: w.filter.Rate(s), enbw: w.filter.ENBW}
	for _, at := range w.choose(v) {
		first := int(math.Round(at - float64(w.filter.Bins()-1)/2))
		if first < 0 || first+w.filter.Bins() > s.Bins {
			continue
		}
		p := linePlace{at: at, power: make([]float32, w.filter.Length(s))}
		p.mean = w.filter.Powers(p.power, s, first)
		p.mean *= a.Gain[int(math.Round(at))]
		stretch.places = append(stretch.places, p)
	}
	if len(w.kept) == envelopeKept {
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

// choose gives the places of lines that stand out, in columns.
func (w *Watch) choose(v *View) []float64 {
	w.sums = slices.Grow(w.sums[:0], len(v.power))[:len(v.power)]
	clear(w.sums)
	box := 2*envelopeBox + 1
	for b := envelopeBox; b < len(v.power)-envelopeBox; b++ {
		for _, p := range v.power[b-envelopeBox : b+envelopeBox+1] {
			w.sums[b] += float64(p)
		}
	}
	type place struct{ at, beside float64 }
	var places []place
	reach := int(envelopeApart / v.width)
	for b, sum := range w.sums {
		noise := v.noiseAt(float64(b))
		if (sum-float64(box)*noise)/v.enbw < envelopeLeast*noise || v.ownAt(b) {
			continue
		}
		if slices.Max(w.sums[max(0, b-reach):min(len(w.sums), b+reach+1)]) > sum {
			continue
		}
		if beside := v.beside(b, envelopeBox) / v.calm(float64(b)); beside <= envelopeBeside {
			places = append(places, place{v.middleOf(b), beside})
		}
	}
	slices.SortFunc(places, func(a, b place) int { return cmp.Compare(a.beside, b.beside) })
	var out []float64
	for _, p := range places[:min(len(places), envelopeLines)] {
		out = append(out, p.at)
	}
	return out
}

// middleOf gives the middle of the power about column b.
func (v *View) middleOf(b int) float64 {
	noise := v.noiseAt(float64(b))
	var power, moment float64
	for i := max(0, b-envelopeCentre); i <= min(len(v.power)-1, b+envelopeCentre); i++ {
		over := max(0, float64(v.power[i])-3*noise)
		power, moment = power+over, moment+over*float64(i-b)
	}
	if power == 0 {
		return float64(b)
	}
	return float64(b) + moment/power
}
