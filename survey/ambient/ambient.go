// Package ambient relates what an antenna of known factor reads to the noise around it: the external noise
// figure, as [P.372] publishes it for surroundings.
package ambient

import (
	"math"

	"nightfloor/survey"
)

// How a field of noise relates to a noise figure, dB (PHYSICS.md 4.7; TestFigure fails when one moves).
const (
	OverGround survey.DB = 95.5 // a short monopole over ground, the total vertical field there
	FreeSpace  survey.DB = 98.5 // a small loop or dipole far from ground
	// AllAzimuths is by how much a loop reads low under noise that comes from all around: the mean of the
	// squared cosine is a half.
	AllAzimuths survey.DB = 3.01
)

// microvolt is 1 µV at 50 ohm, dBm.
const microvolt = -106.99

// Figure gives the external noise figure Fa, dB over kT0, of a density read where an antenna's factor, dB(1/m), is
// defined: Fa = D + 106.99 + AF − 20 log f + K, f in MHz (PHYSICS.md 5.6).
func Figure(d survey.DBmPerHz, factor survey.DB, f survey.Hz, k survey.DB) survey.DB {
	return survey.DB(d) - microvolt + factor - survey.DB(20*math.Log10(float64(f)*1e-6)) + k
}

// FigureOf gives it for a kind of antenna: a whip's by its height over ground, all others' in free space, and of a
// loop what noise from all azimuths would give.
func FigureOf(d survey.DBmPerHz, a survey.Antenna, f survey.Hz) survey.DB {
	switch a.Kind {
	case survey.KindWhip:
		return Figure(d, *a.Factor, f, OverGround)
	case survey.KindLoop:
		return Figure(d, *a.Factor, f, FreeSpace) + AllAzimuths
	}
	return Figure(d, *a.Factor, f, FreeSpace)
}
