package dsptest

import (
	"encoding/binary"
	"math"
)

// U8 appends x as unsigned bytes, I first: code = round(128·x + 127.5), kept
// within 0…255.
func U8(dst []byte, x []complex64) []byte {
	for _, v := range x {
		dst = append(dst, u8(real(v)), u8(imag(v)))
	}
	return dst
}

func u8(v float32) byte { return byte(max(0, min(255, v*128+128))) } // the cut to whole numbers rounds 127.5 + v·128

// I8 appends x as signed bytes: code = round(128·x), kept within −128…127.
func I8(dst []byte, x []complex64) []byte {
	for _, v := range x {
		dst = append(dst, byte(code(real(v), 128)), byte(code(imag(v), 128)))
	}
	return dst
}

// I16 appends x as signed 16-bit little-endian: code = round(32768·x).
func I16(dst []byte, x []complex64) []byte {
	for _, v := range x {
		dst = binary.LittleEndian.AppendUint16(dst, uint16(code(real(v), 32768)))
		dst = binary.LittleEndian.AppendUint16(dst, uint16(code(imag(v), 32768)))
	}
	return dst
}

func code(v float32, scale float64) int16 {
	return int16(max(-scale, min(scale-1, math.Round(float64(v)*scale))))
}

// F32 appends x as 32-bit little-endian floats.
func F32(dst []byte, x []complex64) []byte {
	for _, v := range x {
		dst = binary.LittleEndian.AppendUint32(dst, math.Float32bits(real(v)))
		dst = binary.LittleEndian.AppendUint32(dst, math.Float32bits(imag(v)))
	}
	return dst
}

// FromU8 gives the samples that bytes stand for: (code − 127.5)/128.
func FromU8(iq []byte) []complex64 {
	x := make([]complex64, len(iq)/2)
	for i := range x {
		x[i] = complex((float32(iq[2*i])-127.5)/128, (float32(iq[2*i+1])-127.5)/128)
	}
	return x
}

// A Step is the size of one code in full-scale units.
type Step float64

// Steps of the formats; a float has none.
const (
	StepU8  Step = 1.0 / 128
	StepI8  Step = 1.0 / 128
	StepI16 Step = 1.0 / 32768
	StepF32 Step = 0
)

// Density gives the quantisation noise, FS²/Hz: each component's rounding error
// is uniform over one step, variance step²/12 [Bennett:1948, pp. 446-472], and the
// two spread over the rate. It holds where the signal moves over half a step (rms) or more.
func (s Step) Density(rate float64) float64 { return 2 * float64(s*s) / 12 / rate }
