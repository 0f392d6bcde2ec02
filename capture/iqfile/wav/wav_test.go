package wav

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"
)

var le = binary.LittleEndian

// chunkHead gives a chunk's name and length.
func chunkHead(id string, length uint32) []byte { return le.AppendUint32([]byte(id), length) }

// formatOf gives a format chunk; extension is what WAVE_FORMAT_EXTENSIBLE has behind.
func formatOf(tag, channels, bits, align uint16, extension ...byte) []byte {
	b := chunkHead("fmt ", uint32(16+len(extension)))
	b = le.AppendUint16(le.AppendUint16(b, tag), channels)
	b = le.AppendUint32(le.AppendUint32(b, 48_000), 48_000*uint32(align))
	return append(le.AppendUint16(le.AppendUint16(b, align), bits), extension...)
}

var pcm16 = formatOf(tagPCM, 2, 16, 4)

// A sparse file has bytes where some were put, and zeros elsewhere.
type sparse struct {
	size  int64
	parts map[int64][]byte
}

func (s sparse) ReadAt(b []byte, pos int64) (n int, err error) {
	clear(b)
	for at, part := range s.parts {
		if from, to := max(at, pos), min(at+int64(len(part)), pos+int64(len(b))); from < to {
			copy(b[from-pos:], part[from-at:to-at])
		}
	}
	if left := s.size - pos; left < int64(len(b)) {
		return int(max(0, left)), io.EOF
	}
	return len(b), nil
}

// Lengths over 4 GiB: those of ds64, and those of files whose 32 bits do not hold them.
func TestLongFiles(t *testing.T) {
	const long = 6<<30 + 8 // samples, bytes
	note := append(chunkHead("note", 4), "text"...)
	ds64 := le.AppendUint64(le.AppendUint64(chunkHead("ds64", 28), 4+36+24+8+long+12), long)
	ds64 = append(ds64, make([]byte, 12)...)
	riff := func(lacks int64) []byte {
		length := uint32(long - lacks)
		return slices.Concat(chunkHead("RIFF", 4+24+8+length+12), []byte("WAVE"), pcm16, chunkHead("data", length))
	}
	for name, test := range map[string]struct {
		head   []byte
		more   int64 // read for samples
		doubts []string
	}{
		"RF64": {slices.Concat(chunkHead("RF64", unknown), []byte("WAVE"), ds64, pcm16, chunkHead("data", unknown)), 0, nil},
		"RIFF": {riff(4 << 30), 0,
			[]string{"the lengths in the WAV header lack 4 GiB, more than they can hold: the samples are read to their end"}},
		"RIFF that ends early": {riff(3 << 30), 12,
			[]string{"the file goes on for 3,221,225,484 bytes after the samples that the WAV header tells of: they are read as samples, too"}},
	} {
		start := int64(len(test.head))
		f := sparse{size: start + long + 12, parts: map[int64][]byte{0: test.head, start + long: note}}
		got, err := Read(f, f.size)
		if err != nil || !slices.Equal(got.Data, []Stretch{{start, long + test.more}}) || !slices.Equal(got.Doubts, test.doubts) {
			t.Errorf("%s: %+v, %v; want %d bytes from %d on, doubts %q", name, got, err, long+test.more, start, test.doubts)
		}
	}
}

// A list of samples and silence as long as a night, and one that does not end.
func TestManyChunks(t *testing.T) {
	for _, test := range []struct {
		chunks int
		want   string
	}{{mostChunks - 2, ""}, {mostChunks, "the WAV file has more than 65536 chunks"}} {
		file := slices.Concat(chunkHead("RIFF", 0), []byte("WAVE"), pcm16, bytes.Repeat(append(chunkHead("data", 4), 1, 2, 3, 4), test.chunks))
		got, err := Read(bytes.NewReader(file), int64(len(file)))
		if err == nil && (test.want != "" || len(got.Data) != test.chunks) {
			t.Errorf("%d chunks: %d stretches, want %q", test.chunks, len(got.Data), test.want)
		}
		if err != nil && (test.want == "" || !strings.HasPrefix(err.Error(), test.want)) {
			t.Errorf("%d chunks: %v", test.chunks, err)
		}
	}
}

func TestFormats(t *testing.T) {
	extension := func(valid uint16, sub uint16, rest string) []byte {
		b := le.AppendUint32(le.AppendUint16(le.AppendUint16(nil, 22), valid), 3)
		return append(le.AppendUint16(b, sub), rest...)
	}
	const known = "\x00\x00\x00\x00\x10\x00\x80\x00\x00\xAA\x00\x38\x9B\x71"
	for name, test := range map[string]struct {
		format []byte
		want   Format
		kind   Kind
		why    string
	}{
		"8 bits":            {formatOf(tagPCM, 2, 8, 2), Format{Bits: 8}, 0, ""},
		"12 bits":           {formatOf(tagPCM, 2, 12, 4), Format{Bits: 16}, 0, ""}, // in the upper bits of 16
		"24 bits":           {formatOf(tagPCM, 2, 24, 6), Format{Bits: 24}, 0, ""},
		"32 bits":           {formatOf(tagPCM, 2, 32, 8), Format{Bits: 32}, 0, ""},
		"float":             {formatOf(tagFloat, 2, 32, 8), Format{Float: true, Bits: 32}, 0, ""},
		"double":            {formatOf(tagFloat, 2, 64, 16), Format{Float: true, Bits: 64}, 0, ""},
		"extensible":        {formatOf(tagExtensible, 2, 32, 8, extension(24, tagPCM, known)...), Format{Bits: 32}, 0, ""}, // 24 in the upper bits of 32
		"extensible float":  {formatOf(tagExtensible, 2, 32, 8, extension(32, tagFloat, known)...), Format{Float: true, Bits: 32}, 0, ""},
		"extensible, other": {formatOf(tagExtensible, 2, 16, 4, extension(16, tagPCM, "\x21\x07\xD3\x11\x86\x44\xC8\xC1\xCA\x00\x00\x00\x00\x00")...), Format{}, Unsupported, "neither PCM nor float"},
		"extensible, short": {formatOf(tagExtensible, 2, 16, 4), Format{}, Unsupported, "neither PCM nor float"},
		"64 bits":           {formatOf(tagPCM, 2, 64, 16), Format{}, Unsupported, "format 1 with 64 bits"},
		"float of 16 bits":  {formatOf(tagFloat, 2, 16, 4), Format{}, Unsupported, "format 3 with 16 bits"},
		"compressed":        {formatOf(2, 2, 4, 1024), Format{}, Unsupported, "format 2 with 4 bits"},
		"24 bits in 32":     {formatOf(tagPCM, 2, 24, 8), Format{}, Damaged, "contradicts itself: 8 bytes a sample, where 2 channels of 24 bits make 6"},
		"mono":              {formatOf(tagPCM, 1, 16, 2), Format{}, Unsupported, "mono WAV file: I/Q takes two channels"},
		"four channels":     {formatOf(tagPCM, 4, 16, 8), Format{}, Unsupported, "4 channels"},
		"no bits":           {formatOf(tagPCM, 2, 0, 0), Format{}, Unsupported, "format 1 with 0 bits"},
	} {
		file := slices.Concat(chunkHead("RIFF", uint32(4+len(test.format)+8+96)), []byte("WAVE"), test.format, chunkHead("data", 96), make([]byte, 96))
		got, err := Read(bytes.NewReader(file), int64(len(file)))
		var fault *Fault
		switch {
		case test.why == "" && (err != nil || got.Format != test.want || got.Rate != 48_000 || len(got.Doubts) > 0):
			t.Errorf("%s: %+v, %v; want %+v", name, got, err, test.want)
		case test.why != "" && (!errors.As(err, &fault) || fault.Kind != test.kind || !strings.Contains(fault.Why, test.why)):
			t.Errorf("%s: %v, want one of kind %d about %q", name, err, test.kind, test.why)
		}
	}
}
