package lines

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/dsp/floor"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// A Tracker follows the coherent lines of a recording, chunk by chunk, and tells which of
// them are carriers. The zero Tracker is ready for use; buffers are reused.
type Tracker struct {
	imbalance imbalanceMeter
	mirror    Imbalance // the estimate so far
	mirrors   bool      // there is an estimate
	begun     bool      // there was a chunk
	finder    lineFinder
	track     lineTrack
	dcWidest  float64 // Hz from the centre within which lines are the DC spike
	carriers  []Line
	masks     []floor.Line
}

// Reset begins a new recording.
func (w *Tracker) Reset() {
	w.imbalance.Reset()
	w.mirrors, w.begun, w.dcWidest = false, false, 0
	w.track.reset()
}

// Add finds the lines of a chunk and joins them to those of the chunks before, unless it is
// a last chunk of too few frames. power is the chunk's mean by column, the receiver's droop
// taken out by gain, rough roughly what noise holds there.
func (w *Tracker) Add(s *spectrum.Spectrogram, power, rough, gain []float64) {
	w.imbalance.Add(s)
	w.mirror, w.mirrors = w.imbalance.Imbalance()
	if w.begun && s.Frames < spectrum.FewestFrames {
		return
	}
	w.begun = true
	lines := w.finder.find(s, power, rough)
	w.dcWidest = max(w.dcWidest, dcHalfWidth(s))
	if w.mirrors {
		w.markImages(s, lines, power, gain)
	}
	w.track.merge(s, &w.finder.zoom, lines, power, rough, gain)
}

// Imbalance gives the receiver's imbalance; ok is false before there is any signal.
func (w *Tracker) Imbalance() (b Imbalance, ok bool) { return w.mirror, w.mirrors }

// Lines gives the carriers of the recording so far and, for the mask, every line: carriers,
// sidebands, images and the DC spike. mean is the recording's mean power by the columns of
// s, rough roughly what noise holds there, centre the frequency of their middle in Hz. Both
// results are valid until the next call.
func (w *Tracker) Lines(s *spectrum.Spectrogram, mean, rough []float64, centre float64) (carriers []Line, all []floor.Line) {
	w.carriers, w.masks = w.carriers[:0], w.masks[:0]
	middle := -s.Lowest
	spike := max(mean[middle], mean[middle-1], mean[middle+1])
	w.masks = append(w.masks, floor.Line{Column: float64(middle), Over: spike / rough[middle], Quiet: true})
	for i := range w.track.lines {
		l := &w.track.lines[i]
		power, sigma, quiet := l.mean()
		column := l.offset/s.BinWidth() - float64(s.Lowest)
		over := power / rough[s.Column(l.offset)]
		if over > 1 {
			w.masks = append(w.masks, floor.Line{Column: column, Over: over})
			w.maskDrift(s, l, column, over)
		}
		if over < candidateOverFloor || 2*l.passive > l.frames {
			continue
		}
		w.carriers = append(w.carriers, Line{Frequency: centre + l.offset, Power: power, Sigma: sigma, Quiet: quiet, doubt: l.frequencySigma()})
	}
	w.maskImages(s, rough)
	slices.SortFunc(w.carriers, func(a, b Line) int { return cmp.Compare(b.Power, a.Power) })
	w.carriers = dropSidebands(w.carriers)
	// Neither the DC spike is a carrier nor hum on both sides of it.
	w.carriers = slices.DeleteFunc(w.carriers, func(l Line) bool { return math.Abs(l.Frequency-centre) < w.dcWidest })
	return w.carriers, w.masks
}

// maskDrift masks all columns that a drifting line has passed.
func (w *Tracker) maskDrift(s *spectrum.Spectrogram, l *trackedLine, column, over float64) {
	low, high := l.low/s.BinWidth()-float64(s.Lowest), l.high/s.BinWidth()-float64(s.Lowest)
	for c := low; c < high+1 && high-low > 0.5; c++ {
		w.masks = append(w.masks, floor.Line{Column: min(c, high), Over: over})
	}
}

// imageOverFloor is the power of a mirror image over the rough floor from which its columns
// are masked, whether it was found or not: it would raise the floor there by 1 dB. METHODS.md
// 4.2; TestMaskedColumns.
const imageOverFloor = 0.3

// maskImages masks the mirror images that the imbalance gives to the lines.
func (w *Tracker) maskImages(s *spectrum.Spectrogram, rough []float64) {
	if !w.mirrors {
		return
	}
	g := stat.SquaredAbs(w.mirror.Gamma)
	for i := range w.track.lines {
		l := &w.track.lines[i]
		power, _, _ := l.mean()
		over := g * power / rough[s.Column(-l.offset)]
		if over > imageOverFloor {
			column := -l.offset/s.BinWidth() - float64(s.Lowest)
			w.masks = append(w.masks, floor.Line{Column: column, Over: over})
		}
	}
}
