package iqfile

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"

	"nightfloor/survey"
)

// A waveHeader is what a WAV file says of its samples.
//
// Sources: Multimedia Programming Interface and Data Specifications 1.0 (RIFF,
// WAVE); WAVEFORMATEXTENSIBLE; EBU Tech 3306 (RF64, chunk ds64).
type waveHeader struct {
	file     io.ReaderAt
	all      int64  // bytes in the file
	riff     uint32 // length in the file's header
	wide     int64  // length of the samples in ds64, −1 where there is none
	datatype Datatype
	rate     survey.Hz
	samples  stretch
	missing  int64 // bytes that the header promises beyond the file's end
	open     bool  // the recorder was cut off before it wrote the length
}

const (
	wavePCM        = 1
	waveFloat      = 3
	waveExtensible = 0xFFFE
	// waveUnknown stands in 32-bit lengths that ds64 gives, and in files whose
	// recorder did not know the length.
	waveUnknown = math.MaxUint32
	// mostChunks bounds how many chunks of a malicious file are read; real ones have a dozen.
	mostChunks = 1000
)

// readWAV reads the header of a two-channel WAV file of size bytes: I left, Q right.
func readWAV(_ string, f io.ReaderAt, size int64, o Options) ([]Recording, error) {
	h := waveHeader{file: f, all: size, wide: -1}
	if err := h.parse(); err != nil {
		return nil, err
	}
	if o.Rate == 0 {
		o.Rate = h.rate
		if err := checkRate(o.Rate, "the sample rate in the WAV header"); err != nil {
			return nil, err
		}
	}
	r := Recording{Datatype: h.datatype, Centre: o.Centre, Rate: o.Rate, data: &dataset{stretch: h.samples}}
	if err := r.fill(h.samples.size); err != nil {
		return nil, err
	}
	o.fromName(&r)
	if r.Centre == 0 {
		return nil, faultf(ErrNoCentre, "give it with --center HZ", "a WAV file does not say its centre frequency%s", also(o.named.NoCentre))
	}
	switch {
	case h.open:
		r.Doubts = append(r.Doubts, "the WAV header gives no length: the recording was cut off, and is read to the end of the file")
	case h.missing > 0:
		r.Doubts = append(r.Doubts, survey.Count(int(h.missing), "byte")+" promised by the WAV header are missing: the recording was cut off")
	}
	return []Recording{r}, nil
}

func isRIFF(head []byte) bool {
	form := string(head[:4])
	return (form == "RIFF" || form == "RIFX" || form == "RF64") && string(head[8:12]) == "WAVE"
}

// parse walks the chunks up to the samples; those that do not matter are passed over.
func (h *waveHeader) parse() error {
	var head [12]byte
	if err := h.read(head[:], 0); err != nil {
		return err
	}
	switch {
	case !isRIFF(head[:]):
		return faultf(ErrFormat, "name the file by what it holds, such as .cu8 or .cs16", "no WAV header: this is no WAV file")
	case string(head[:4]) == "RIFX":
		return faultf(ErrUnsupported, "convert it to little-endian WAV", "a WAV file with big-endian samples (RIFX)")
	}
	h.riff = binary.LittleEndian.Uint32(head[4:])
	pos := int64(len(head))
	for range mostChunks {
		var chunk [8]byte
		if err := h.read(chunk[:], pos); err != nil {
			return err
		}
		pos += int64(len(chunk))
		length := int64(binary.LittleEndian.Uint32(chunk[4:]))
		var err error
		switch string(chunk[:4]) {
		case "fmt ":
			err = h.format(pos, length)
		case "ds64":
			var sizes [16]byte // RIFF length, then data length
			err = h.read(sizes[:], pos)
			h.wide = int64(min(binary.LittleEndian.Uint64(sizes[8:]), math.MaxInt64))
		case "data":
			return h.data(pos, length)
		}
		if err != nil {
			return err
		}
		pos += length + length%2 // chunks begin at even offsets
	}
	return faultf(ErrFormat, "record it anew", "no samples within the first %d chunks of the WAV file", mostChunks)
}

// read fills buf from the header; a file that ends there is truncated.
func (h *waveHeader) read(buf []byte, pos int64) error {
	_, err := h.file.ReadAt(buf, pos)
	if errors.Is(err, io.EOF) {
		if pos == 0 {
			return faultf(ErrFormat, "check how it was recorded", "the file is too short to be a WAV file")
		}
		return faultf(ErrTruncated, "copy or record it anew", "the WAV file is cut off soon after byte %d, before its samples begin", pos)
	}
	return err
}

// format reads the chunk "fmt ".
func (h *waveHeader) format(pos, length int64) error {
	if length < 16 {
		return faultf(ErrFormat, "record it anew", "the format chunk of the WAV file has %d bytes, not 16 or more", length)
	}
	b := make([]byte, min(length, 40))
	if err := h.read(b, pos); err != nil {
		return err
	}
	le := binary.LittleEndian
	tag, channels, align, bits := le.Uint16(b), int(le.Uint16(b[2:])), int(le.Uint16(b[12:])), int(le.Uint16(b[14:]))
	if tag == waveExtensible {
		var err error
		if tag, err = extensibleTag(b); err != nil {
			return err
		}
	}
	if channels != 2 {
		return faultf(ErrUnsupported, "record I and Q as left and right", "a WAV file of %s, where I/Q takes two", survey.Count(channels, "channel"))
	}
	h.rate = survey.Hz(le.Uint32(b[4:]))
	switch {
	case tag == wavePCM && bits == 8:
		h.datatype = CU8
	case tag == wavePCM && bits == 16:
		h.datatype = CI16LE
	case tag == wavePCM && bits == 24:
		h.datatype = CI24LE
	case tag == wavePCM && bits == 32:
		h.datatype = CI32LE
	case tag == waveFloat && bits == 32:
		h.datatype = CF32LE
	case tag == waveFloat && bits == 64:
		h.datatype = CF64LE
	default:
		return faultf(ErrUnsupported, "convert it to 16-bit or 32-bit float samples", "WAV samples of format %d with %d bits, where integers of 8 to 32 bits and floats of 32 and 64 can be read", tag, bits)
	}
	if int64(align) != h.datatype.Size() {
		return faultf(ErrFormat, "record it anew", "the WAV header contradicts itself: %d bytes a sample, where 2 channels of %d bits make %d", align, bits, h.datatype.Size())
	}
	return nil
}

// extensibleTag gives the format within WAVE_FORMAT_EXTENSIBLE: the first two
// bytes of the sub-format, whose others are fixed.
func extensibleTag(b []byte) (uint16, error) {
	fixed := []byte{0x00, 0x00, 0x00, 0x00, 0x10, 0x00, 0x80, 0x00, 0x00, 0xAA, 0x00, 0x38, 0x9B, 0x71}
	if len(b) < 40 || !bytes.Equal(b[26:40], fixed) {
		return 0, faultf(ErrUnsupported, "convert it to plain 16-bit WAV", "an extensible WAV format that is neither PCM nor float")
	}
	return binary.LittleEndian.Uint16(b[24:]), nil
}

// data settles where the samples end. Their length is whatever the header says
// and the file holds; a recorder that was cut off leaves 0 or 0xFFFFFFFF.
func (h *waveHeader) data(pos, length int64) error {
	if h.datatype == "" {
		return faultf(ErrFormat, "record it anew", "the WAV file has samples but no format chunk before them")
	}
	there := max(h.all-pos, 0)
	switch {
	case length == waveUnknown && h.wide >= 0:
		length = h.wide
	case length == waveUnknown, length == 0 && (h.riff == 0 || h.riff == waveUnknown):
		h.open, length = true, there
	}
	h.samples = stretch{start: pos, size: min(length, there)}
	h.missing = length - h.samples.size
	return nil
}
