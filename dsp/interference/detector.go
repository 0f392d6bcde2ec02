package interference

import (
	"nightfloor/dsp/envelope"
	"nightfloor/dsp/spectrum"
)

// A Watch looks for interference over the whole usable passband, whatever the
// bands. What it holds does not grow with the recording.
type Watch struct {
	o        Options
	channels envelope.Passband
	seam     *spectrum.Spectrogram // about where two chunks meet: frames of both
	mains    *mainsWatch
	impulses impulseWatch
}

// seamFrames are the frames of either chunk that are looked at together.
const seamFrames = 3

// NewWatch readies a watch of chunks like s.
func NewWatch(o Options, s *spectrum.Spectrogram) *Watch {
	w := &Watch{o: o, mains: newMainsWatch(o.Mains), seam: spectrum.NewSpectrogram(s.Rate, s.N, 2*seamFrames)}
	w.Reset()
	return w
}

// Reset begins a new recording.
func (w *Watch) Reset() {
	w.seam.Reset()
	w.mains.reset()
	w.impulses.reset()
}

// Add looks at the free channels of a chunk before which the recording had so many
// frames. free tells the columns that no signal takes, as far as is known, gain by column
// takes the receiver's droop out.
func (w *Watch) Add(s *spectrum.Spectrogram, free []bool, gain []float64, before int) {
	w.addBetween(s, free, gain, before)
	if w.channels.Take(s, free, gain, float64(before)*float64(s.Hop)/s.Rate) {
		w.mains.add(&w.channels.Channels)
		w.impulses.add(&w.channels.Channels, s.Bins)
	}
}

// addBetween looks for impulses where a chunk meets the one before: a channel begins and
// ends half a frame within its chunk.
func (w *Watch) addBetween(s *spectrum.Spectrogram, free []bool, gain []float64, before int) {
	hop, of := float64(s.Hop)/s.Rate, w.seam.Frames
	if of > 0 {
		w.seam.Copy(s, 0, min(seamFrames, s.Frames))
		if w.channels.Take(w.seam, free, gain, float64(before-of)*hop) {
			w.impulses.addBetween(&w.channels.Channels, s.Bins, float64(before)*hop, float64(before+1)*hop)
		}
	}
	w.seam.Reset()
	w.seam.Copy(s, max(0, s.Frames-seamFrames), s.Frames)
}

// Findings gives what was found in the whole recording, whose averages have the columns
// of s, their middle at centre Hz, free as in add.
func (w *Watch) Findings(s *spectrum.Spectrogram, a *spectrum.Averages, free []bool, centre float64) *Findings {
	first := centre + s.Offset(0)
	f := &Findings{Mains: w.mains.result(func(column int) float64 { return centre + s.Offset(column) })}
	f.Impulses = w.impulses.result(f.Mains)
	levels := &cellLevels{power: a.Mean, free: free, looks: 2 * a.Looks, binWidth: s.BinWidth(), first: first}
	f.Notches = levels.notches(w.o.Quiet)
	f.Humps = levels.humps()
	return f
}
