// Package drive judges by the codes of 8-bit I/Q how a receiver's converter is driven, and by how
// much a gain may rise or must fall.
//
// A pilot sweep finds the first gain (Find, by short looks at the signal). From then on a Watch keeps
// how each gain drove the converter in all readings of a round, and says at the round's end
// which gains are to rise; those that are to fall are known by overload at once. Steps of gain are
// those that can be set, rising, in dB.
package drive

import (
	"math"
	"slices"

	"nightfloor/dsp/codes"
	"nightfloor/survey"
)

// The drive that a pilot sweep aims at: rms and peaks against full scale. Fading, and
// another broadcaster that comes on the air, need some 8 dB above the peaks seen now;
// the quantiser needs 2 codes rms (−36 dBFS) or more (PHYSICS.md 7.2).
const (
	aimRMS   = -20.0 // dBFS
	aimPeak  = -8.0  // dBFS, of the component that 1 in 10,000 exceeds
	leastRMS = 2.0   // codes
)

// A Level is how far samples fill the converter's range.
type Level struct {
	RMS  float64 // of a component, codes
	Peak float64 // that 1 component in 10,000 exceeds, codes from the middle
}

// LevelOf gives the level of 8-bit samples that were counted.
func LevelOf(c *codes.Counter) Level {
	counts := c.Counts()
	var n, sum, squares float64
	for code, count := range counts {
		x := float64(code) - 127.5
		n += float64(count)
		sum += x * float64(count)
		squares += x * x * float64(count)
	}
	l := Level{RMS: math.Sqrt(squares/n - sum/n*sum/n), Peak: 0.5}
	beyond := 0.0
	for a := range 128 { // from the outermost pair of codes inwards
		beyond += float64(counts[a] + counts[255-a])
		if beyond > n/1e4 {
			l.Peak = 127.5 - float64(a)
			break
		}
	}
	return l
}

// Low tells whether so few codes move that levels are coarse.
func (l Level) Low() bool { return l.RMS < leastRMS }

// Room tells by how much the gain may rise (or must fall) for the codes to stand where a
// pilot wants them.
func (l Level) Room() survey.DB {
	if l.Peak >= 127 { // clipping hides how far it goes
		return -12
	}
	const least = 1.0 / 12                           // of a squared code: the quantiser's own noise
	power := max(2*l.RMS*l.RMS, least) / (128 * 128) // of I and Q together
	byRMS := aimRMS - 10*math.Log10(power)
	byPeak := aimPeak - 20*math.Log10(l.Peak/128)
	return survey.DB(min(byRMS, byPeak))
}

// StepAtMost gives the highest step that is not above gain, else the lowest.
func StepAtMost(steps []survey.DB, gain survey.DB) int {
	at, found := slices.BinarySearch(steps, gain)
	if found {
		return at
	}
	return max(0, at-1)
}

// looks is how many looks at most find a gain: six steps of 12 dB are more than tuners have (TestFind).
const looks = 6

// Find finds the highest step up to the one numbered most that drives the converter without
// overload, beginning at start. look gives the level at a gain.
func Find(steps []survey.DB, start, most int, look func(gain survey.DB) (Level, error)) (survey.DB, error) {
	at, tooHigh := start, most+1
	tried := map[int]bool{}
	for range looks {
		tried[at] = true
		level, err := look(steps[at])
		if err != nil {
			return 0, err
		}
		by := level.Room()
		if by < 0 { // nor will higher steps do, even if a pause in the programme makes them seem to
			tooHigh = min(tooHigh, at)
		}
		at = max(0, min(StepAtMost(steps, steps[at]+by), tooHigh-1))
		if tried[at] {
			break
		}
	}
	return steps[at], nil
}
