package transient

import (
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// Passages sums up over a recording what was left out as transient: whether it was that is
// told by how much of it came.
type Passages struct {
	Seconds       float64 // of the recording
	leftOut       float64 // seconds of the frames left out
	pulses        int
	transmissions int
	busy          float64   // seconds that transmissions lasted
	starts        []float64 // of transmissions, the first of them
	hop           float64   // seconds from frame to frame
	open          int       // frames pending at the end of the last chunk
	Unsure        float64   // frames' worth of power at the recording's ends that may be a transmission's
}

// How much may come (METHODS.md 5.6); chosen on simulated signals.
const (
	Continuous    = 20.0 // a second: events that come as often are not isolated
	pulsesMost    = 22.0 // a second: Continuous, counted by frames, with some room for chance
	framesOfPulse = 3    // that a pulse touches: two that overlap, and one by its skirt
	// Transmissions are set apart up to so many a second and such a share of the time; they
	// are transient for certain under the first, noise for certain over the last.
	transmissionsFew, transmissionsMost, transmissionsNoise = 4.5, 5.5, 9.0
	busyLittle, busyMost, busyNoise                         = 0.2, 0.25, 0.35
	leftMost                                                = 0.7 // share of the frames that may be left out
	startsKept                                              = 64  // starts, that tell whether transmissions are regular: memory
)

// count takes in the verdicts on a chunk; drop tells that what was pending before it is left
// out.
func (s *Passages) count(verdicts []spectrum.Verdict, hop float64, drop bool) {
	n := 0
	if drop {
		n = s.open
		s.leftOut += float64(n) * hop
	}
	s.hop = hop
	joined, long := n > 0, false
	s.open = 0
	for f, v := range verdicts {
		if v == spectrum.LeftOut || v == spectrum.LeftLong {
			s.leftOut += hop
			n++
			long = long || v == spectrum.LeftLong
			continue
		}
		s.close(n, long || joined && n > pulseFrames, s.Seconds+float64(f-n)*hop, hop)
		n, long, joined = 0, false, false
		if v == spectrum.Pending {
			s.open++
		}
	}
	s.Seconds += float64(len(verdicts)) * hop
	s.close(n, long || joined && n > pulseFrames, s.Seconds-float64(n)*hop, hop)
}

// close counts a passage of n frames.
func (s *Passages) close(n int, long bool, start, hop float64) {
	switch {
	case n == 0:
	case !long:
		s.pulses += max(1, n/framesOfPulse) // one, or several that touch each other's frames
	default:
		s.transmissions++
		s.busy += (float64(n) - 1.5) * hop // frames reach beyond it on either side
		if s.starts == nil {
			s.starts = make([]float64, 0, startsKept)
		}
		if len(s.starts) < startsKept {
			s.starts = append(s.starts, start)
		}
	}
}

// Transient tells whether what was left out is transient, and whether that is certain.
func (s *Passages) Transient() (transient, certain bool) {
	if s.Seconds == 0 || s.leftOut == 0 {
		return true, true
	}
	if s.leftOut > leftMost*s.Seconds || float64(s.pulses) >= pulsesMost*s.Seconds {
		return false, true
	}
	rate, share := float64(max(0, s.transmissions-1))/s.Seconds, s.busy/s.Seconds
	// Starts are known to a hop. Regular transmissions are noise, of a machine or of the mains.
	if rate <= transmissionsMost && share <= busyMost && stat.Period(s.starts, s.hop) == 0 {
		return true, rate <= transmissionsFew && share <= busyLittle
	}
	return false, rate > transmissionsNoise || share > busyNoise
}
