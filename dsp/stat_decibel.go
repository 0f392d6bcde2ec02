package dsp

import "math"

// fromDB gives a power ratio.
func fromDB(db float64) float64 { return math.Pow(10, db/10) }

func decibels10(ratio float64) float64 { return 10 * math.Log10(max(1e-30, ratio)) }

func square(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }
