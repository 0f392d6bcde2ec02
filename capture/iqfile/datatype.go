package iqfile

import (
	"encoding/binary"
	"math"
	"strings"
)

// A Datatype is how a complex sample is stored, by its SigMF name.
type Datatype string

// Datatypes that can be read.
const (
	CU8    Datatype = "cu8"
	CI8    Datatype = "ci8"
	CI16LE Datatype = "ci16_le"
	CI16BE Datatype = "ci16_be"
	CF32LE Datatype = "cf32_le"
	CF32BE Datatype = "cf32_be"
)

const readable = "cu8, ci8, ci16_le, ci16_be, cf32_le and cf32_be can be read"

// Size gives the bytes of one complex sample, 0 for an unknown datatype.
func (d Datatype) Size() int64 { return int64(d.Bits()) / 4 }

// Bits gives the bits of one component, 0 for an unknown datatype.
func (d Datatype) Bits() int {
	switch d {
	case CU8, CI8:
		return 8
	case CI16LE, CI16BE:
		return 16
	case CF32LE, CF32BE:
		return 32
	}
	return 0
}

// parseDatatype gives the datatype of that name. Its error says whether SigMF has no such
// datatype, it holds real samples, its byte order is missing or it is not supported here.
func parseDatatype(name string) (Datatype, error) {
	if d := Datatype(name); d.Size() > 0 {
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

// decode turns the bytes of len(x) samples into full-scale units. It is exact:
// every code of 8 and 16 bits has a float32 of its own.
func (d Datatype) decode(x []complex64, raw []byte) {
	switch d {
	case CU8:
		for i := range x {
			x[i] = complex((float32(raw[2*i])-127.5)/128, (float32(raw[2*i+1])-127.5)/128)
		}
	case CI8:
		for i := range x {
			x[i] = complex(float32(int8(raw[2*i]))/128, float32(int8(raw[2*i+1]))/128)
		}
	case CI16LE:
		decode16(x, raw, binary.LittleEndian)
	case CI16BE:
		decode16(x, raw, binary.BigEndian)
	case CF32LE:
		decode32(x, raw, binary.LittleEndian)
	case CF32BE:
		decode32(x, raw, binary.BigEndian)
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
