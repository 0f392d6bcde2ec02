package iqfile

import (
	"encoding/binary"
	"math"
	"strings"
)

// A Datatype is how a complex sample is stored, by its SigMF name, which that of 24 bits lacks.
type Datatype string

// Datatypes that can be read.
const (
	CU8    Datatype = "cu8"
	CI8    Datatype = "ci8"
	CI16LE Datatype = "ci16_le"
	CI16BE Datatype = "ci16_be"
	CI24LE Datatype = "ci24_le" // in WAV alone
	CI32LE Datatype = "ci32_le"
	CI32BE Datatype = "ci32_be"
	CF32LE Datatype = "cf32_le"
	CF32BE Datatype = "cf32_be"
	CF64LE Datatype = "cf64_le"
	CF64BE Datatype = "cf64_be"
)

const readable = "cu8, ci8, and ci16, ci32, cf32 and cf64 with _le or _be can be read"

// Size gives the bytes of one complex sample, 0 for an unknown datatype.
func (d Datatype) Size() int64 { return int64(d.Bits()) / 4 }

// Bits gives the bits of one component, 0 for an unknown datatype.
func (d Datatype) Bits() int {
	switch d {
	case CU8, CI8:
		return 8
	case CI16LE, CI16BE:
		return 16
	case CI24LE:
		return 24
	case CI32LE, CI32BE, CF32LE, CF32BE:
		return 32
	case CF64LE, CF64BE:
		return 64
	}
	return 0
}

// codeBits gives what a codes.Counter is to count: codes of 8, 16, or 24 bits and more, or floats.
func (d Datatype) codeBits() int {
	switch {
	case d == CI32LE, d == CI32BE:
		return 24
	case d[1] == 'f':
		return 32
	}
	return d.Bits()
}

// parseDatatype gives the datatype of that name. Its error says whether SigMF has no such
// datatype, it holds real samples, its byte order is missing or it is not supported here.
func parseDatatype(name string) (Datatype, error) {
	if d := Datatype(name); d.Size() > 0 && d != CI24LE {
		return d, nil
	}
	base := strings.TrimSuffix(strings.TrimSuffix(name, "_le"), "_be")
	const kinds = " f64 f32 i32 i16 i8 u32 u16 u8 "
	switch {
	case len(base) < 3 || !strings.Contains(kinds, " "+base[1:]+" "), base[0] != 'r' && base[0] != 'c':
		return "", faultf(ErrFormat, "correct the description: "+readable, "core:datatype %s is none that SigMF knows", quoted(name))
	case base[0] == 'r':
		return "", faultf(ErrUnsupported, "record I and Q (a datatype that begins with c)", "core:datatype %s holds real samples, which have no centre frequency to be measured around", quoted(name))
	case base == name:
		return "", faultf(ErrFormat, "add _le (most computers) or _be to the datatype", "core:datatype %s lacks its byte order", quoted(name))
	}
	return "", faultf(ErrUnsupported, "convert the recording: "+readable, "core:datatype %s is not supported", quoted(name))
}

// decode turns the bytes of len(x) samples into full-scale units. It is exact: every code of 8 to
// 24 bits has a float32 of its own. Longer ones are rounded to 24 bits, 150 dB under themselves.
func (d Datatype) decode(x []complex64, raw []byte) {
	order := binary.ByteOrder(binary.LittleEndian)
	if strings.HasSuffix(string(d), "_be") {
		order = binary.BigEndian
	}
	switch d {
	case CU8:
		for i := range x {
			x[i] = complex((float32(raw[2*i])-127.5)/128, (float32(raw[2*i+1])-127.5)/128)
		}
	case CI8:
		for i := range x {
			x[i] = complex(float32(int8(raw[2*i]))/128, float32(int8(raw[2*i+1]))/128)
		}
	case CI16LE, CI16BE:
		decode16(x, raw, order)
	case CI24LE: // the upper three bytes of 32 bits
		decodeBy(x, raw, d.Size()/2, func(b []byte) float32 {
			return float32(int32(b[0])<<8|int32(b[1])<<16|int32(int8(b[2]))<<24) / (1 << 31)
		})
	case CI32LE, CI32BE:
		decodeBy(x, raw, d.Size()/2, func(b []byte) float32 { return float32(int32(order.Uint32(b))) / (1 << 31) })
	case CF32LE, CF32BE:
		decode32(x, raw, order)
	case CF64LE, CF64BE:
		decodeBy(x, raw, d.Size()/2, func(b []byte) float32 { return float32(math.Float64frombits(order.Uint64(b))) })
	}
}

func decode16(x []complex64, raw []byte, order binary.ByteOrder) {
	for i := range x {
		re, im := int16(order.Uint16(raw[4*i:])), int16(order.Uint16(raw[4*i+2:]))
		x[i] = complex(float32(re)/32768, float32(im)/32768)
	}
}

func decode32(x []complex64, raw []byte, order binary.ByteOrder) {
	for i := range x {
		re, im := order.Uint32(raw[8*i:]), order.Uint32(raw[8*i+4:])
		x[i] = complex(math.Float32frombits(re), math.Float32frombits(im))
	}
}

// decodeBy turns raw into the samples x, component by component, of size bytes each. Formats that
// are rare may take twice as long.
func decodeBy(x []complex64, raw []byte, size int64, level func(component []byte) float32) {
	for i := range x {
		x[i] = complex(level(raw[:size]), level(raw[size:]))
		raw = raw[2*size:]
	}
}
