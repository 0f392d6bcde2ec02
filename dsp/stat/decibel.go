package stat

import "math"

// FromDB gives the power ratio of a number of decibels.
func FromDB(db float64) float64 { return math.Pow(10, db/10) }

// DB gives a power ratio in decibels; −300 where it is nothing.
func DB(ratio float64) float64 { return 10 * math.Log10(max(1e-30, ratio)) }

// SquaredAbs gives |z|².
func SquaredAbs(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

// SigmaDB turns a relative standard error into dB.
func SigmaDB(relative float64) float64 { return 10 * math.Log10(1+relative) }
