package interference

import (
	"nightfloor/dsp/envelope"
	"nightfloor/dsp/spectrum"
)

// A Detector looks for interference over the whole usable passband, whatever the
// bands. What it holds does not grow with the recording.
type Detector struct {
	o        Options
	channels envelope.Passband
	seam     *spectrum.Spectrogram // about where two chunks meet: frames of both
	mains    *mainsDetector
	impulses impulseDetector
}

// seamFrames are the frames of either chunk that are looked at together: a channel takes in
// half a frame less on either side, and three leave the samples about the seam.
const seamFrames = 3

// NewDetector readies a Detector for chunks like s.
func NewDetector(o Options, s *spectrum.Spectrogram) *Detector {
	d := &Detector{o: o, mains: newMainsDetector(o.Mains), seam: spectrum.NewSpectrogram(s.Rate, s.N, 2*seamFrames)}
	d.Reset()
	return d
}

// Reset begins a new recording.
func (d *Detector) Reset() {
	d.seam.Reset()
	d.mains.reset()
	d.impulses.reset()
}

// Add looks at the free channels of a chunk. before is how many frames the recording had
// before the chunk. free says by column that no known signal is there, within how many columns the
// receiver hears; gain, a factor of power by column, takes the receiver's droop out.
func (d *Detector) Add(s *spectrum.Spectrogram, free []bool, within int, gain []float64, before int) {
	d.addBetween(s, free, within, gain, before)
	if d.channels.Take(s, free, gain, float64(before)*float64(s.Hop)/s.Rate) {
		d.mains.add(&d.channels.Channels)
		d.impulses.add(&d.channels.Channels, within)
	}
}

// addBetween looks for impulses where a chunk meets the one before: a channel begins and
// ends half a frame within its chunk.
func (d *Detector) addBetween(s *spectrum.Spectrogram, free []bool, within int, gain []float64, before int) {
	hop, of := float64(s.Hop)/s.Rate, d.seam.Frames
	if of > 0 {
		d.seam.Copy(s, 0, min(seamFrames, s.Frames))
		if d.channels.Take(d.seam, free, gain, float64(before-of)*hop) {
			d.impulses.addBetween(&d.channels.Channels, within, float64(before)*hop, float64(before+1)*hop)
		}
	}
	d.seam.Reset()
	d.seam.Copy(s, max(0, s.Frames-seamFrames), s.Frames)
}

// Findings gives what was found in the whole recording. a holds the averages of the
// recording, in the columns of s. centre is the frequency in Hz that the offsets of the
// columns count from. free is as in Add, for the averages.
func (d *Detector) Findings(s *spectrum.Spectrogram, a *spectrum.Averages, free []bool, centre float64) *Findings {
	first := centre + s.Offset(0)
	f := &Findings{Mains: d.mains.result(func(column int) float64 { return centre + s.Offset(column) })}
	f.Impulses = d.impulses.result(f.Mains)
	levels := &cellLevels{power: a.Mean, free: free, looks: 2 * a.Looks, binWidth: s.BinWidth(), first: first}
	f.Notches = levels.notches(d.o.Quiet)
	f.Humps = levels.humps()
	return f
}
