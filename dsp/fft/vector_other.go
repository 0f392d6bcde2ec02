//go:build !amd64

package fft

// Without vector code for this processor every loop is the one in Go.
const haveVectors = false

var useVectors = false

func runStageVector(*stage, []float32, []float32, []float32, []float32) bool { return false }
func lastRadix4Vector(_, _, _, _ []float32) bool                             { return false }
func lastRadix2Vector(_, _, _, _ []float32) bool                             { return false }
func runFirstWeighedVector(*stage, []float32, []float32, []float32, []float32, []float32) bool {
	return false
}
func unpackU8Vector(_, _ []float32, _ []byte) int   { return 0 }
func splitVector(_, _ []float32, _ []complex64) int { return 0 }
func addPowersVector(_, _, _ []float32) int         { return 0 }
