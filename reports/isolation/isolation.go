// Package isolation tells by how much the same thing comes weaker through a control, a terminator in
// place of the antenna, than through an antenna, and what a leakage so strong makes of the figures.
//
// A Ratio gathers powers that were measured of one thing through both, by force, so that they may be
// negative and carry standard errors. What leaks of a station or of a supply is coherent with what the
// antenna brings: voltages add, and the level errs by 20·log10(1 ∓ 10^(−I/20)), which is Errors. Noise
// from elsewhere adds its power, and a tenth of it does no harm (stations.ControlMargin). PHYSICS.md 5.7.
package isolation

import (
	"math"

	"nightfloor/reports/result"
	"nightfloor/reports/stats"
)

// Coherent is the isolation that stations, noise sources and nulls need, in dB: it keeps levels within
// −0.50 and +0.48 dB. PHYSICS.md 5.7; TestErrors, TestLeakageOfStations, TestLeakageOfASource.
const Coherent = 25.0

// heardSigmas is how many standard errors over nothing the control must hear of a thing for it to be said that it
// leaks: of ten thousand that do not, chance lets half a one stand so high. TestPoor.
const heardSigmas = 4.0

// Errors gives by how many dB a level errs at the least and at the most, with an isolation in dB, by the
// phase of what leaks; low is −∞ where that is as strong as the level itself.
func Errors(isolation float64) (low, high float64) {
	leak := math.Pow(10, -isolation/20)
	return 20 * math.Log10(max(0, 1-leak)), 20 * math.Log10(1+leak)
}

// A Ratio is of what was measured of one thing through a control, and through an antenna, at one gain.
type Ratio struct {
	Squares                    bool // what was measured are squares of powers
	control, variance, antenna float64
}

// Add takes what was measured through the control with its standard error, and through the antenna.
func (r *Ratio) Add(control, sigma, antenna float64) {
	r.control, r.variance, r.antenna = r.control+control, r.variance+sigma*sigma, r.antenna+antenna
}

// Leak gives the share of the antenna's power that comes through the control, and whether that is a bound, twice
// its standard error, which it is under; ok is false where the antenna has no power.
func (r *Ratio) Leak() (share float64, bound, ok bool) {
	least := 2 * math.Sqrt(r.variance)
	share = max(r.control, least) / r.antenna
	if r.Squares {
		share = math.Sqrt(share)
	}
	return share, r.control < least, r.antenna > 0 && max(r.control, least) > 0
}

// Isolation gives the isolation with what it means; nil where the antenna has no power.
func (r *Ratio) Isolation() *result.Isolation {
	share, bound, ok := r.Leak()
	if !ok {
		return nil
	}
	out := Of(-stats.Decibel(share), bound)
	out.Poor = float64(*out.DB) < Coherent && r.control > heardSigmas*math.Sqrt(r.variance)
	return out
}

// Of shows an isolation in dB that is known, or no less than that.
func Of(isolation float64, bound bool) *result.Isolation {
	low, high := Errors(isolation)
	out := &result.Isolation{DB: result.DB(isolation), Bound: bound, High: result.DB(high), Poor: isolation < Coherent && !bound}
	if stats.Finite(low) {
		out.Low = result.DB(low)
	}
	return out
}

// Worse gives the one of two that leaks more: what is heard before what is a bound only. Either may be nil.
func Worse(a, b *result.Isolation) *result.Isolation {
	if a == nil || b != nil && (a.Bound && !b.Bound || a.Bound == b.Bound && *b.DB < *a.DB) {
		return b
	}
	return a
}
