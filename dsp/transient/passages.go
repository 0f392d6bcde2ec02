package transient

import "nightfloor/dsp/spectrum"

// Passages sums up over a recording what was left out for being foreign
// and short: whether it was that for certain is told by how much of it came.
type Passages struct {
	Seconds       float64 // of the recording
	out           float64 // seconds of the frames left out
	pulses        int
	transmissions int
	busy          float64   // seconds that transmissions lasted
	starts        []float64 // of transmissions, the first of them
	hop           float64   // seconds from frame to frame
	open          int       // frames pending at the end of the last chunk
	Unsure        float64   // frames' worth of power at the recording's ends that may be a transmission's
}

const (
	Continuous    = 20.0 // a second: events that come as often are not isolated
	pulsesMost    = 22.0 // counted by frames, with some room for chance
	framesOfPulse = 3
	// Transmissions are set apart up to so many a second and such a share of the
	// time; they are foreign for certain under the first, noise for certain over
	// the last.
	transmissionsFew, transmissionsMost, transmissionsNoise = 4.5, 5.5, 9.0
	busyLittle, busyMost, busyNoise                         = 0.2, 0.25, 0.35
	leftMost                                                = 0.7 // of the frames may be left out
	startsKept                                              = 64
	startsRegular                                           = 4   // as many tell whether they are regular
	regular                                                 = 0.1 // spread of intervals, of their mean
)

// count takes in the verdicts on a chunk; foreign tells that what was pending
// before it is left out.
func (s *Passages) count(verdicts []spectrum.Verdict, hop float64, foreign bool) {
	n := 0
	if foreign {
		n = s.open
		s.out += float64(n) * hop
	}
	s.hop = hop
	joined, long := n > 0, false
	s.open = 0
	for f, v := range verdicts {
		if v == spectrum.LeftOut || v == spectrum.LeftLong {
			s.out += hop
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

// Foreign tells whether what was left out is foreign and short, and whether that
// is certain.
func (s *Passages) Foreign() (foreign, certain bool) {
	if s.Seconds == 0 || s.out == 0 {
		return true, true
	}
	if s.out > leftMost*s.Seconds || float64(s.pulses) >= pulsesMost*s.Seconds {
		return false, true
	}
	rate, share := float64(max(0, s.transmissions-1))/s.Seconds, s.busy/s.Seconds
	periodic := s.periodic()
	foreign = rate <= transmissionsMost && share <= busyMost && !periodic
	if foreign {
		return true, rate <= transmissionsFew && share <= busyLittle
	}
	return false, rate > transmissionsNoise || share > busyNoise
}

// periodic tells whether the transmissions come at even intervals.
func (s *Passages) periodic() bool {
	if len(s.starts) < startsRegular {
		return false
	}
	least, most := s.starts[1]-s.starts[0], 0.0
	for i := 1; i < len(s.starts); i++ {
		d := s.starts[i] - s.starts[i-1]
		least, most = min(least, d), max(most, d)
	}
	mean := (s.starts[len(s.starts)-1] - s.starts[0]) / float64(len(s.starts)-1)
	return most-least < regular*mean+2*s.hop // starts are known to a hop
}
