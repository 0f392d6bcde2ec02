package dsptest

// U8 appends x as unsigned bytes, I first: code = round(128·x + 127.5), kept
// within 0…255.
func U8(dst []byte, x []complex64) []byte {
	for _, v := range x {
		dst = append(dst, u8(real(v)), u8(imag(v)))
	}
	return dst
}

func u8(v float32) byte { return byte(max(0, min(255, v*128+128))) } // the cut to whole numbers rounds 127.5 + v·128

// StepU8 is the size of one code of U8 in full-scale units.
const StepU8 = 1.0 / 128
