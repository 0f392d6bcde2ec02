package stat

import "math"

// FromDB gives the power ratio of a number of decibels.
func FromDB(db float64) float64 { return math.Pow(10, db/10) }

// DB gives a power ratio in decibels, −300 at the least: ratios of 0 and less give that.
func DB(ratio float64) float64 { return 10 * math.Log10(max(1e-30, ratio)) }

// SquaredAbs gives |z|².
func SquaredAbs(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

// SigmaDB gives a relative standard error of a power in decibels: what a power higher by
// as much reads more (METHODS.md 1.2).
func SigmaDB(relative float64) float64 { return 10 * math.Log10(1+relative) }
