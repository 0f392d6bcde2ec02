// Package density packs the densities of a spectrum as they stand in column density of the
// table spectra.
//
//	byte 0     version of this layout, 1
//	bytes 1–2  step in 0.001 dB, little-endian, 100 for 0.1 dB
//	bytes 3–6  number n of bins, little-endian
//	then       a zstd frame (RFC 8878) of 2n bytes: the low bytes of n 16-bit
//	           words, then their high bytes
//
// A word is the zigzag (0, −1, 1, −2 … as 0, 1, 2, 3 …) of the difference,
// modulo 65536, between a bin's code and the one before, the first against 0.
// A code is the density in steps, rounded, in dBFS/Hz; the codes below −32000
// and above 32000 are kept for what has no steps.
package density

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"sync"

	"github.com/klauspost/compress/zstd"

	"nightfloor/survey"
)

const (
	blobVersion = 1
	blobHeader  = 7
	stepMilliDB = 100
	maxCode     = 32000
	codeNaN     = -32768
	codeNegInf  = -32767
	codePosInf  = 32767
	maxBins     = 1 << 23 // 16 times a segment of the widest dongle in 6 Hz bins
)

// ErrUnreadable tells that bytes are not what Encode packed.
var ErrUnreadable = errors.New("spectrum cannot be read")

// coders gives the compressor and the decompressor of all stores; their
// one-shot methods may be used from any goroutine.
var coders = sync.OnceValues(func() (*zstd.Encoder, *zstd.Decoder) {
	enc, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithEncoderCRC(true),
		zstd.WithEncoderLevel(zstd.SpeedDefault), zstd.WithAllLitEntropyCompression(true))
	if err != nil {
		panic(err) // the options are ours
	}
	dec, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(2),
		zstd.WithDecoderMaxMemory(2*maxBins+1024), zstd.WithDecodeAllCapLimit(true))
	if err != nil {
		panic(err)
	}
	return enc, dec
})

// Encode packs densities in dBFS/Hz, exact to half a step of 0.1 dB;
// NaN and the infinities are kept. survey.ErrInvalid: a density beyond ±3200 dBFS/Hz,
// which no receiver gives, or too many bins.
func Encode(density []float32) ([]byte, error) {
	n := len(density)
	if n > maxBins {
		return nil, fmt.Errorf("%w: spectrum of %d bins, at most %d can be kept; cut it into segments", survey.ErrInvalid, n, maxBins)
	}
	words := make([]byte, 2*n)
	before := int16(0)
	for i, d := range density {
		code, err := codeOf(float64(d))
		if err != nil {
			return nil, fmt.Errorf("bin %d: %w", i, err)
		}
		diff := code - before // wraps, and so does its undoing
		before = code
		word := uint16(diff<<1) ^ uint16(diff>>15)
		words[i], words[n+i] = byte(word), byte(word>>8)
	}
	blob := make([]byte, blobHeader, blobHeader+n+64)
	blob[0] = blobVersion
	binary.LittleEndian.PutUint16(blob[1:], stepMilliDB)
	binary.LittleEndian.PutUint32(blob[3:], uint32(n))
	enc, _ := coders()
	return enc.EncodeAll(words, blob), nil
}

// codeOf gives the code of a density in dBFS/Hz.
func codeOf(d float64) (int16, error) {
	switch {
	case math.IsNaN(d):
		return codeNaN, nil
	case math.IsInf(d, -1):
		return codeNegInf, nil
	case math.IsInf(d, 1):
		return codePosInf, nil
	}
	code := math.Round(d * (1000.0 / stepMilliDB))
	if math.Abs(code) > maxCode {
		return 0, fmt.Errorf("%w: density %g dBFS/Hz; this is a mistake in nightfloor, please report it", survey.ErrInvalid, d)
	}
	return int16(code), nil
}

// Decode unpacks what Encode packed. It trusts nothing in the
// blob: ErrUnreadable, and never more memory than six bytes a bin that the blob
// claims, which a frame of fewer bytes than claimed ends as an error.
func Decode(blob []byte) ([]float32, error) {
	if len(blob) < blobHeader {
		return nil, fmt.Errorf("%w: %d bytes are too few", ErrUnreadable, len(blob))
	}
	if blob[0] != blobVersion {
		return nil, fmt.Errorf("%w: layout %d, this version knows %d; update nightfloor", ErrUnreadable, blob[0], blobVersion)
	}
	step := float64(binary.LittleEndian.Uint16(blob[1:])) / 1000
	n := int(binary.LittleEndian.Uint32(blob[3:]))
	if n > maxBins || step == 0 {
		return nil, fmt.Errorf("%w: %d bins in steps of %g dB", ErrUnreadable, n, step)
	}
	_, dec := coders()
	words, err := dec.DecodeAll(blob[blobHeader:], make([]byte, 0, 2*n))
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrUnreadable, err)
	}
	if len(words) != 2*n {
		return nil, fmt.Errorf("%w: %d bytes for %d bins", ErrUnreadable, len(words), n)
	}
	density := make([]float32, n)
	code := int16(0)
	for i := range density {
		word := uint16(words[i]) | uint16(words[n+i])<<8
		code += int16(word>>1) ^ -int16(word&1)
		density[i] = densityOf(code, step)
	}
	return density, nil
}

// densityOf gives the density of a code in steps of step dB.
func densityOf(code int16, step float64) float32 {
	switch code {
	case codeNaN:
		return float32(math.NaN())
	case codeNegInf:
		return float32(math.Inf(-1))
	case codePosInf:
		return float32(math.Inf(1))
	}
	return float32(float64(code) * step)
}
