package wav

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"slices"

	"nightfloor/survey"
)

const (
	tagPCM        = 1
	tagFloat      = 3
	tagExtensible = 0xFFFE
)

func (w *walker) doubt(format string, args ...any) {
	w.Doubts = append(w.Doubts, fmt.Sprintf(format, args...))
}

// finish settles what the chunks come to.
func (w *walker) finish() error {
	switch {
	case !w.data && w.missing > 0:
		return w.cut(w.last.start)
	case !w.data:
		return faultf(Damaged, doCopy, "the WAV file has no samples: no chunk is called data")
	case w.format == nil:
		return faultf(Damaged, doCopy, "the WAV file has samples and no format chunk, which says of what kind they are")
	}
	if err := w.readFormat(); err != nil {
		return err
	}
	w.wholeFrames()
	w.Start = w.start()
	switch {
	case w.open:
		w.doubt("the WAV header gives no length: the recording was cut off, and is read to the end of the file")
	case w.missing > 0:
		w.doubt("%s promised by the WAV header are missing: the recording was cut off", survey.Count(int(w.missing), "byte"))
	}
	return nil
}

// readFormat reads the chunk "fmt ".
func (w *walker) readFormat() error {
	b, le := w.format, binary.LittleEndian
	if len(b) < 16 {
		return faultf(Damaged, "record it anew", "the format chunk of the WAV file has %d bytes, not 16 or more", len(b))
	}
	tag, channels, align, bits := le.Uint16(b), int(le.Uint16(b[2:])), int64(le.Uint16(b[12:])), int(le.Uint16(b[14:]))
	if tag == tagExtensible {
		var err error
		if tag, err = extensibleTag(b); err != nil {
			return err
		}
	}
	switch channels {
	case 2:
	case 1:
		return faultf(Unsupported, "record I and Q as left and right", "a mono WAV file: I/Q takes two channels, and one alone does not tell what lies over the centre from what lies under it")
	default:
		return faultf(Unsupported, "record I and Q as left and right", "a WAV file of %s, where I/Q takes two", survey.Count(channels, "channel"))
	}
	w.Rate = le.Uint32(b[4:])
	// Codes of other lengths fill the upper bits of the next larger word.
	w.Format = Format{Float: tag == tagFloat, Bits: (bits + 7) / 8 * 8}
	readable := []int{8, 16, 24, 32}
	if w.Format.Float {
		readable = []int{32, 64}
	}
	if tag != tagPCM && tag != tagFloat || !slices.Contains(readable, w.Format.Bits) {
		return faultf(Unsupported, "convert it to 16-bit or 32-bit float samples", "WAV samples of format %d with %d bits, where integers of up to 32 bits and floats of 32 and 64 can be read", tag, bits)
	}
	if align != w.Format.frame() {
		return faultf(Damaged, "record it anew", "the WAV header contradicts itself: %d bytes a sample, where 2 channels of %d bits make %d", align, bits, w.Format.frame())
	}
	return nil
}

// extensibleTag gives the format within WAVE_FORMAT_EXTENSIBLE: the first two
// bytes of the sub-format, whose others are fixed.
func extensibleTag(b []byte) (uint16, error) {
	fixed := []byte{0x00, 0x00, 0x00, 0x00, 0x10, 0x00, 0x80, 0x00, 0x00, 0xAA, 0x00, 0x38, 0x9B, 0x71}
	if len(b) < 40 || !bytes.Equal(b[26:40], fixed) {
		return 0, faultf(Unsupported, "convert it to plain 16-bit WAV", "an extensible WAV format that is neither PCM nor float")
	}
	return binary.LittleEndian.Uint16(b[24:]), nil
}

// wholeFrames leaves out what is no whole frame at the end of each stretch but the last: a chunk
// begins with a frame, so that the one before is lost.
func (w *walker) wholeFrames() {
	w.Data = slices.DeleteFunc(w.Data, func(s Stretch) bool { return s.Size == 0 })
	for i := range w.Data[:max(0, len(w.Data)-1)] {
		rest := w.Data[i].Size % w.Format.frame()
		if rest == 0 {
			continue
		}
		w.Data[i].Size -= rest
		w.Lost++
		w.doubt("%s after the last whole sample of a data chunk left out: samples are missing between it and the next", survey.Count(int(rest), "byte"))
	}
}
