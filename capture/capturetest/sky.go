// Package capturetest holds a small receiver made for tests, and the exam that
// it sits together with the real ones.
//
// The fake is receiver, clock and antenna changer in one, as simple as it can be:
// Gaussian noise and steady tones through antennas that differ by a gain, turned
// into 8-bit I/Q. It holds back samples from before a change as a dongle's queue
// does, and fails where its script says so. Its time passes with the samples
// read and with Sleep; nothing waits.
package capturetest

import (
	"cmp"
	"math"
	"time"

	"nightfloor/survey"
)

// A Sky is what the fake hears, and what befalls it. The zero value is a silent
// sky at 250,000 samples a second.
type Sky struct {
	Floor    survey.DBmPerHz // noise at the terminal of an antenna of 0 dB; 0: none
	Carriers []Carrier
	Antennas map[string]survey.DB // how much more an antenna delivers, noise and carriers alike; 0 where not named

	Drift func(since time.Duration) survey.DB // how much more all of it is at a time since the start; nil: no more

	Faults map[int]error // the n-th Read (from 1) fails, once

	Rate  survey.Hz     // samples a second; 0: 250e3
	Gains []survey.DB   // steps; nil: 0 to 48 dB in steps of 3
	Stale time.Duration // 0: 41 ms, a queue of 12 buffers of 16 KiB at 2.4 MS/s
	Start time.Time     // zero: an evening in November
	Seed  uint64
}

// A Carrier is a steady tone.
type Carrier struct {
	At      survey.Hz
	Level   survey.DBm    // at the terminal of an antenna of 0 dB
	Through string        // the only antenna that hears it; "": all
	From    time.Duration // since the start: it is off the air before
}

// FullScale is the level that drives the fake to 0 dBFS at a gain of 0 dB.
const FullScale survey.DBm = -10

// Density gives the noise density that samples hold through an antenna at a
// gain, with that of rounding to 8 bits: two components of 1/12 of a squared
// step of 1/128, spread over the sample rate.
func (s Sky) Density(antenna string, gain survey.DB) survey.DBFSPerHz {
	s = s.filled()
	rounding := 2.0 / 12 / (128 * 128) / float64(s.Rate)
	return survey.DBFSPerHz(10 * math.Log10(s.noise(antenna, gain)+rounding))
}

// noise gives the noise density in full-scale units per hertz.
func (s Sky) noise(antenna string, gain survey.DB) float64 {
	if s.Floor == 0 {
		return 0
	}
	return linear(float64(s.Floor) + float64(s.Antennas[antenna]+gain) - float64(FullScale))
}

// Power gives a carrier's power in full-scale units.
func (s Sky) Power(c Carrier, antenna string, gain survey.DB) float64 {
	if c.Through != "" && c.Through != antenna {
		return 0
	}
	return linear(float64(c.Level) + float64(s.Antennas[antenna]+gain) - float64(FullScale))
}

func linear(db float64) float64 { return math.Pow(10, db/10) }

func (s Sky) filled() Sky {
	s.Rate = cmp.Or(s.Rate, 250e3)
	if s.Gains == nil {
		for g := survey.DB(0); g <= 48; g += 3 {
			s.Gains = append(s.Gains, g)
		}
	}
	s.Stale = cmp.Or(s.Stale, 41*time.Millisecond)
	s.Start = cmp.Or(s.Start, time.Date(2026, time.November, 3, 20, 0, 0, 0, time.UTC))
	return s
}
