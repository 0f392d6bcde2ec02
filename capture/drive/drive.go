// Package drive judges by the codes of 8-bit I/Q how a receiver's converter is driven, and by how
// much a gain may rise or must fall. Steps are those of Info.Gains, rising; gains are in dB.
package drive

import (
	"math"
	"slices"

	"nightfloor/survey"
)

// The drive that a pilot sweep aims at: rms and peaks against full scale. Fading, and
// another broadcaster that comes on the air, need some 8 dB above the peaks seen now;
// the quantiser needs 2 codes rms (−36 dBFS) or more (PHYSICS.md 7.2).
const (
	aimRMS  = -20.0 // dBFS
	aimPeak = -8.0  // dBFS, of the component that 1 in 10,000 exceeds
)

// StepAtMost gives the highest step that is not above gain, else the lowest.
func StepAtMost(steps []survey.DB, gain survey.DB) int {
	at, found := slices.BinarySearch(steps, gain)
	if found {
		return at
	}
	return max(0, at-1)
}

// Room tells by how much the gain may rise (or must fall) for the codes of a
// short look at the signal to stand where a pilot wants them.
func Room(iq []byte) survey.DB {
	var histogram [256]int
	sum, squares := 0.0, 0.0
	for _, c := range iq {
		histogram[c]++
		x := (float64(c) - 127.5) / 128
		sum += x
		squares += x * x
	}
	n := float64(len(iq))
	mean := sum / n
	power := 2 * (squares/n - mean*mean) // of I and Q together
	beyond, peak := 0, 127.5
	for a := 0; a < 128; a++ { // from the outermost pair of codes inwards
		beyond += histogram[a] + histogram[255-a]
		if float64(beyond) > n/1e4 {
			peak = 127.5 - float64(a)
			break
		}
	}
	if peak >= 127 { // clipping hides how far it goes
		return -12
	}
	const least = 1.0 / 128 / 128 / 12 // the quantiser's own noise
	byRMS := aimRMS - 10*math.Log10(max(power, least))
	byPeak := aimPeak - 20*math.Log10(max(peak, 0.5)/128)
	return survey.DB(min(byRMS, byPeak))
}
