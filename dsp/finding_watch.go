package dsp

import (
	"math"

	"nightfloor/dsp/envelope"
	"nightfloor/dsp/spectrum"
)

// A findingWatch looks for interference over the whole usable passband, whatever the
// bands. What it holds does not grow with the recording.
type findingWatch struct {
	o        SeekOptions
	free     []bool // columns that no signal takes, as far as is known
	channels envelope.Passband
	seam     *spectrum.Spectrogram // about where two chunks meet: frames of both
	mains    *mainsWatch
	impulses impulseWatch
	lines    lineWatch
}

// seamFrames are the frames of either chunk that are looked at together.
const seamFrames = 3

// newFindingWatch readies a watch of chunks like s.
func newFindingWatch(o SeekOptions, s *spectrum.Spectrogram) *findingWatch {
	w := &findingWatch{o: o, free: make([]bool, s.Bins), mains: newMainsWatch(o.Mains), seam: spectrum.NewSpectrogram(s.Rate, s.N, 2*seamFrames)}
	w.reset()
	return w
}

// reset forgets the recording.
func (w *findingWatch) reset() {
	clear(w.free)
	w.seam.Reset()
	w.mains.reset()
	w.impulses.reset()
	w.lines.reset()
}

// listen looks at the free channels, and at lines, in the chunk in hand.
func (w *findingWatch) listen(m *Meter) {
	w.listenBetween(m)
	start := float64(m.counted) * float64(m.chunk.Hop) / m.chunk.Rate
	w.lines.listen(m, start)
	if w.channels.Take(m.chunk, w.free, m.averages.Gain, start) {
		w.mains.add(&w.channels.Channels)
		w.impulses.add(&w.channels.Channels, m.chunk.Bins)
	}
}

// listenBetween looks for impulses where the chunk in hand meets the one before: a channel
// begins and ends half a frame within its chunk.
func (w *findingWatch) listenBetween(m *Meter) {
	s := m.chunk
	hop, before := float64(s.Hop)/s.Rate, w.seam.Frames
	if before > 0 {
		w.seam.Copy(s, 0, min(seamFrames, s.Frames))
		if w.channels.Take(w.seam, w.free, m.averages.Gain, float64(m.counted-before)*hop) {
			w.impulses.addBetween(&w.channels.Channels, s.Bins, float64(m.counted)*hop, float64(m.counted+1)*hop)
		}
	}
	w.seam.Reset()
	w.seam.Copy(s, max(0, s.Frames-seamFrames), s.Frames)
}

// tell gives a view what was kept for it, once the findings are known.
func (w *findingWatch) tell(v *CombView, f *Findings) {
	v.stretches, v.mains = w.lines.kept, w.o.Mains
	if f.Mains != nil {
		v.swing = math.Sqrt(max(0, f.Mains.Square+2*f.Mains.Sigma))
	}
}

// findings gives what was found in the whole recording.
func (w *findingWatch) findings(m *Meter) *Findings {
	f := &Findings{Mains: w.mains.result(m)}
	f.Impulses = w.impulses.result(f.Mains)
	levels := newCellLevels(m, w.free)
	f.Notches = levels.notches(w.o.Quiet)
	f.Humps = levels.humps()
	return f
}
