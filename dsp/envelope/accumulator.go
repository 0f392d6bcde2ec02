package envelope

import (
	"math"
	"slices"

	"nightfloor/dsp/spectrum"
)

// An Accumulator gathers how the noise of one band goes in time: its envelope, the
// bursts in it, and how evenly the frames weigh it. It does so twice, for the frames that
// are averaged and for all of them, since which of these count is known at the end
// only. Buffers are reused.
type Accumulator struct {
	envelope bandEnvelope
	bursts   burstDetector
	views    [2]timeView // of the frames kept, and of all
	frames   float64     // Σ over chunks
	none     []bool      // frames to skip: none
}

// A timeView is how a band's noise went in time.
type timeView struct {
	even   evenness
	bursts burstSums
	// Σ over chunks of their frames times the noise's mean that the envelope's
	// quiet level is against over the mean of the floor's frames.
	pulseless float64
}

// Reset begins a new recording.
func (a *Accumulator) Reset() {
	a.envelope.reset()
	a.views, a.frames = [2]timeView{}, 0
}

// Add takes in a chunk. free tells the columns without signals, skip the frames that are not
// averaged.
func (a *Accumulator) Add(s *spectrum.Spectrogram, free, skip []bool) {
	if !a.envelope.add(s, free, skip) {
		return
	}
	a.frames += float64(s.Frames)
	some := slices.Contains(skip, true)
	kept := a.view(s, skip)
	all := kept
	if some {
		a.none = slices.Grow(a.none[:0], len(skip))[:len(skip)]
		all = a.view(s, a.none)
	}
	if kept.even.samples == 0 {
		kept = all
	}
	// Quiet is against a mean without the pulses that the envelope knows
	// one by one; the floor is without whole frames, or none.
	known := a.envelope.meanWithout(a.envelope.pulses, int(kept.even.blocks.size))
	for i, v := range []*timeView{&kept, &all} {
		v.pulseless = float64(s.Frames)
		if mean := v.even.mean(); mean > 0 && some {
			v.pulseless *= known / mean
		}
		a.views[i].even.join(v.even)
		a.views[i].bursts.join(v.bursts)
		a.views[i].pulseless += v.pulseless
	}
}

// view tells how the noise went in the chunk in hand, the frames to skip aside.
func (a *Accumulator) view(s *spectrum.Spectrogram, skip []bool) (v timeView) {
	rate, half := a.envelope.rate, len(a.envelope.filter.workRe)/2
	v.even = evennessOf(a.envelope.sum, half, BlockLength(rate, quietBlock), skip)
	v.bursts = a.bursts.add(a.envelope.sum, rate, a.independent(s), half, skip)
	return v
}

// independent is how many independent powers a sample of the envelope is made
// of: as many as channels, less as their samples come closer than their width
// asks.
func (a *Accumulator) independent(s *spectrum.Spectrogram) float64 {
	f := a.envelope.filter
	if f == nil {
		return 1
	}
	return float64(len(a.envelope.firsts)) * f.Width(s) / f.Rate(s)
}

// Bursts gives the bursts of milliseconds at most that came where they come too
// often to leave out frames for them.
func (a *Accumulator) Bursts() float64 { return a.views[1].bursts.many }

// Vd gives the envelope's Vd.
func (a *Accumulator) Vd() (db, width float64, ok bool) { return a.envelope.vd() }

// A Course is what the noise's course in time says of a floor that is a mean over
// frames.
type Course struct {
	Evenness    float64 // what the floor is to be multiplied by for the frames' uneven hold on time
	BurstFactor float64 // and to be free of foreign bursts
	Variation   float64 // of the noise's power from millisecond to millisecond: variance over squared mean
	EdgeDoubt   float64 // relative standard error for what lies at both ends of the recording
	BurstDoubt  float64 // and for bursts
	Quiet       float64 // what the floor, its evenness taken in, is to be multiplied by to be that between bursts; 0: not known
}

// Course tells what the frames averaged say, or those left out as well if
// everything counts. The recording had so many frames like those of s, and after the
// last of them so many hops beyond.
func (a *Accumulator) Course(s *spectrum.Spectrogram, everything bool, frames int, beyond float64) Course {
	v := &a.views[0]
	if everything {
		v = &a.views[1]
	}
	independent := a.independent(s)
	c := Course{Evenness: 1, BurstFactor: v.bursts.factor(), BurstDoubt: v.bursts.doubt(),
		Variation: v.even.blocks.variation(independent)}
	if filter := a.envelope.filter; filter != nil {
		half := float64(len(filter.workRe) / 2)
		c.Evenness = v.even.factor(independent, half, half*beyond)
	}
	// The noise at both ends is taken to be what it is beside: half a hop's at the
	// beginning, and at the end as much and what lies beyond.
	c.EdgeDoubt = math.Sqrt(v.even.halves.variation(independent)) * math.Hypot(0.5, 0.5+beyond) / float64(max(1, frames))
	if ratio, ok := a.envelope.quiet(); ok {
		c.Quiet = ratio * v.pulseless / a.frames
	}
	return c
}
