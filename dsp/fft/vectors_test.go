package fft

// HaveVectors tells benchmarks whether there is vector code for this processor.
var HaveVectors = haveVectors

// UseVectors lets benchmarks choose between the vector code and the loops in Go.
func UseVectors(so bool) (undo func()) {
	before := useVectors
	useVectors = so
	return func() { useVectors = before }
}
