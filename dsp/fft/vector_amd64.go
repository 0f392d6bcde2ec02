package fft

import "golang.org/x/sys/cpu"

// haveVectors reports whether the processor and the system support AVX2 and fused
// multiply-add: most do since 2013.
var haveVectors = cpu.X86.HasAVX2 && cpu.X86.HasFMA

// useVectors lets tests compare the two ways.
var useVectors = haveVectors

// The functions in vector_amd64.s work on eight points at once and check no bounds; their
// callers below do.

// stageFirstAVX is a stage of stride 1; quarter is a multiple of 8.
//
//go:noescape
func stageFirstAVX(fromRe, fromIm, toRe, toIm, twiddles *float32, quarter, pitch int)

// stageFirstWeighedAVX is stageFirstAVX of from·window.
//
//go:noescape
func stageFirstWeighedAVX(fromRe, fromIm, toRe, toIm, twiddles *float32, quarter, pitch int, window *float32)

// stageSecondAVX is a stage of stride 4; quarter is a multiple of 2.
//
//go:noescape
func stageSecondAVX(fromRe, fromIm, toRe, toIm, twiddles *float32, quarter, pitch int)

// stageLaterAVX is a stage whose stride is a multiple of 8.
//
//go:noescape
func stageLaterAVX(fromRe, fromIm, toRe, toIm, twiddles *float32, quarter, pitch, stride int)

// lastRadix4AVX ends a transform; quarter is a multiple of 8.
//
//go:noescape
func lastRadix4AVX(fromRe, fromIm, toRe, toIm *float32, quarter int)

// lastRadix2AVX ends a transform; half is a multiple of 8.
//
//go:noescape
func lastRadix2AVX(fromRe, fromIm, toRe, toIm *float32, half int)

// unpackU8AVX turns 2n codes into n samples; n is a multiple of 8 above 0.
//
//go:noescape
func unpackU8AVX(re, im *float32, iq *byte, n int)

// splitAVX splits n numbers; n is a multiple of 8 above 0.
//
//go:noescape
func splitAVX(re, im *float32, x *complex64, n int)

// addPowersAVX adds |x|² of n points to sum; n is a multiple of 8 above 0.
//
//go:noescape
func addPowersAVX(sum, re, im *float32, n int)

func runStageVector(s *stage, fromRe, fromIm, toRe, toIm []float32) bool {
	n := 4 * s.quarter * s.stride
	if !useVectors || n < 32 {
		return false
	}
	fr, fi, tr, ti, w := &fromRe[:n][0], &fromIm[:n][0], &toRe[:n][0], &toIm[:n][0], &s.twiddles[0]
	switch s.stride {
	case 1:
		stageFirstAVX(fr, fi, tr, ti, w, s.quarter, s.pitch)
	case 4:
		stageSecondAVX(fr, fi, tr, ti, w, s.quarter, s.pitch)
	default:
		stageLaterAVX(fr, fi, tr, ti, w, s.quarter, s.pitch, s.stride)
	}
	return true
}

func lastRadix4Vector(fromRe, fromIm, toRe, toIm []float32) bool {
	n := len(fromRe)
	if !useVectors || n < 32 {
		return false
	}
	lastRadix4AVX(&fromRe[0], &fromIm[:n][0], &toRe[:n][0], &toIm[:n][0], n/4)
	return true
}

func lastRadix2Vector(fromRe, fromIm, toRe, toIm []float32) bool {
	n := len(fromRe)
	if !useVectors || n < 32 {
		return false
	}
	lastRadix2AVX(&fromRe[0], &fromIm[:n][0], &toRe[:n][0], &toIm[:n][0], n/2)
	return true
}

// runFirstWeighedVector is the first stage s of from·window.
func runFirstWeighedVector(s *stage, fromRe, fromIm, toRe, toIm, window []float32) bool {
	n := 4 * s.quarter
	if !useVectors || n < 32 {
		return false
	}
	stageFirstWeighedAVX(&fromRe[:n][0], &fromIm[:n][0], &toRe[:n][0], &toIm[:n][0], &s.twiddles[0],
		s.quarter, s.pitch, &window[:n][0])
	return true
}

// unpackU8Vector and those after it do the first points and tell how many; the rest, fewer
// than eight or all, is left to the loop in Go.
func unpackU8Vector(re, im []float32, iq []byte) (done int) {
	n := len(re) &^ 7
	if !useVectors || n == 0 {
		return 0
	}
	unpackU8AVX(&re[0], &im[:n][0], &iq[:2*n][0], n)
	return n
}

func splitVector(re, im []float32, x []complex64) (done int) {
	n := len(re) &^ 7
	if !useVectors || n == 0 {
		return 0
	}
	splitAVX(&re[0], &im[:n][0], &x[:n][0], n)
	return n
}

func addPowersVector(sum, re, im []float32) (done int) {
	n := len(re) &^ 7
	if !useVectors || n == 0 {
		return 0
	}
	addPowersAVX(&sum[:n][0], &re[0], &im[:n][0], n)
	return n
}
