package input

import (
	"nightfloor/reports/stats"
	"nightfloor/survey"
	"nightfloor/survey/level"
)

// An OwnNoise is what a floor holds beside what the antenna brings: the receiver's own noise.
type OwnNoise struct {
	survey.SelfNoise
	// Thermal is the share of it that is the terminator's, kT0, with which no antenna comes: 0
	// where it is not known what full scale stands for.
	Thermal float64
}

// ownOf gives the self-noise that was measured into a terminator, with the terminator's share of it.
func ownOf(n *survey.SelfNoise, l *level.Level) *OwnNoise {
	if n == nil {
		return nil
	}
	own := &OwnNoise{SelfNoise: *n}
	if l != nil {
		over := float64(n.Density) + float64(l.FullScale) - float64(survey.RoomNoise)
		own.Thermal = min(1, stats.FromDecibel(-over))
	}
	return own
}

// Margin gives how far the reading's floor stands above its own noise.
func (k *CalibrationFor) Margin(r *survey.Reading) (d float64, ok bool) {
	if k == nil || k.Noise == nil || r.Floor == nil || !stats.Finite(float64(r.Floor.Density)) {
		return 0, false
	}
	return float64(r.Floor.Density.Over(k.Noise.Density)), true
}

// share gives how much of a floor at a margin of d is subtracted as its own noise, as powers. Nearer to it
// than LimitedMargin no more is subtracted than at that margin: the rest is not known.
func (n *OwnNoise) share(d float64) float64 {
	return (1 - n.Thermal) * stats.FromDecibel(-max(d, LimitedMargin))
}

// Correction gives by how many dB a floor at a margin of d is to be changed so that its own noise is
// out of it.
func (n *OwnNoise) Correction(d float64) float64 { return stats.Decibel(1 - n.share(d)) }

// Errors gives how many times the errors of a floor and of its own noise, d dB under it, count once
// that is subtracted: r/(r − 1) and 1/(r − 1) where none of it is the terminator's, r = 10^(d/10).
func (n *OwnNoise) Errors(d float64) (floor, own float64) {
	floor = 1 / (1 - n.share(d))
	return floor, floor * stats.FromDecibel(-max(d, LimitedMargin))
}
