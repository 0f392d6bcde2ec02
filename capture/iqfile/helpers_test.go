package iqfile

import (
	"archive/tar"
	"bytes"
	"encoding/binary"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// put writes a file into folder and gives its path.
func put(t testing.TB, folder, name string, content []byte) string {
	t.Helper()
	path := filepath.Join(folder, name)
	if err := os.WriteFile(path, content, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// putPair writes a SigMF pair and gives the path of its description.
func putPair(t testing.TB, folder, base, meta string, data []byte) string {
	t.Helper()
	put(t, folder, base+dataEnding, data)
	return put(t, folder, base+metaEnding, []byte(meta))
}

// member is one file of a tar archive.
type member struct {
	name    string
	content []byte
}

// tarOf packs members as POSIX tar.
func tarOf(members ...member) []byte {
	var b bytes.Buffer
	w := tar.NewWriter(&b)
	for _, m := range members {
		h := &tar.Header{Name: m.name, Mode: 0o644, Size: int64(len(m.content)), Format: tar.FormatPAX}
		err := w.WriteHeader(h)
		if err == nil {
			_, err = w.Write(m.content)
		}
		if err != nil {
			panic(err) // a buffer takes everything; the header is wrong
		}
	}
	if err := w.Close(); err != nil {
		panic(err)
	}
	return b.Bytes()
}

// tarWithHoles packs data as a sparse file in the PAX form of GNU tar (version
// 1.0): the list of what is stored (one stretch, 4 bytes at offset 0) comes
// before the bytes. The writer refuses the keys, so they are put in afterwards.
func tarWithHoles() []byte {
	list := make([]byte, 512)
	copy(list, "1\n0\n4\n")
	var b bytes.Buffer
	w := tar.NewWriter(&b)
	h := &tar.Header{Name: "n.sigmf-data", Mode: 0o644, Size: int64(len(list) + 4), Format: tar.FormatPAX, PAXRecords: map[string]string{
		"xxx.sparse.major": "1", "xxx.sparse.minor": "0", "xxx.sparse.name": "n.sigmf-data", "xxx.sparse.realsize": "4"}}
	err := w.WriteHeader(h)
	if err == nil {
		_, err = w.Write(append(list, 1, 2, 3, 4))
	}
	if err != nil {
		panic(err) // a buffer takes everything; the header is wrong
	}
	if err := w.Close(); err != nil {
		panic(err)
	}
	return bytes.ReplaceAll(b.Bytes(), []byte("xxx.sparse."), []byte("GNU.sparse."))
}

// Tags of formats in WAV files, and the length that stands where 32 bits do not say it.
const (
	wavePCM        = 1
	waveFloat      = 3
	waveExtensible = 0xFFFE
	waveUnknown    = math.MaxUint32
)

// wave is a WAV file to be made, field by field, so that tests can lie in each.
type wave struct {
	form     string // RIFF, RF64, RIFX
	riff     uint32
	tag      uint16
	channels uint16
	rate     uint32
	align    uint16
	bits     uint16
	sub      uint16 // sub-format where tag is waveExtensible
	short    bool   // the extension is missing all the same
	before   []byte // chunks between format and data
	length   uint32 // in the header of the data chunk
	samples  []byte
	after    []byte
}

// waveOf gives an honest two-channel file of these samples.
func waveOf(tag, bits uint16, rate uint32, samples []byte) wave {
	return wave{form: "RIFF", riff: uint32(36 + len(samples)), tag: tag, channels: 2, rate: rate,
		align: bits / 4, bits: bits, length: uint32(len(samples)), samples: samples}
}

func (w wave) bytes() []byte {
	le := binary.LittleEndian
	format := le.AppendUint16(nil, w.tag)
	format = le.AppendUint16(format, w.channels)
	format = le.AppendUint32(format, w.rate)
	format = le.AppendUint32(format, w.rate*uint32(w.align))
	format = le.AppendUint16(format, w.align)
	format = le.AppendUint16(format, w.bits)
	if w.tag == waveExtensible && !w.short {
		format = le.AppendUint16(format, 22)
		format = le.AppendUint16(format, w.bits)
		format = le.AppendUint32(format, 3) // front left, front right
		format = le.AppendUint16(format, w.sub)
		format = append(format, 0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71)
	}
	file := append([]byte(w.form), le.AppendUint32(nil, w.riff)...)
	file = append(file, "WAVE"...)
	file = append(file, chunkOf("fmt ", format)...)
	file = append(file, w.before...)
	file = append(file, "data"...)
	file = le.AppendUint32(file, w.length)
	file = append(file, w.samples...)
	return append(file, w.after...)
}

// chunkOf gives a RIFF chunk, padded to an even length.
func chunkOf(id string, content []byte) []byte {
	c := binary.LittleEndian.AppendUint32([]byte(id), uint32(len(content)))
	c = append(c, content...)
	if len(content)%2 == 1 {
		c = append(c, 0)
	}
	return c
}

// openOne opens a file that holds one recording.
func openOne(t testing.TB, path string, o Options) Recording {
	t.Helper()
	list, err := Open(path, o)
	if err != nil {
		t.Fatal(err)
	}
	if len(list) != 1 {
		t.Fatalf("%d recordings, want 1", len(list))
	}
	return list[0]
}

// samplesOf reads a whole recording, in blocks of an odd length.
func samplesOf(t testing.TB, r Recording) []complex64 {
	t.Helper()
	x, err := readAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func readAll(r Recording) ([]complex64, error) {
	reader, err := r.Open()
	if err != nil {
		return nil, err
	}
	defer reader.Close()
	var all []complex64
	block := make([]complex64, 777)
	for {
		n, err := reader.Read(block)
		all = append(all, block[:n]...)
		if err == io.EOF {
			return all, nil
		}
		if err != nil {
			return all, err
		}
	}
}

// at31m is a centre and a rate for files that do not say theirs.
var at31m = Options{Centre: 9_650_000, Rate: 2_400_000}

// encode is decode's inverse: it rounds to the nearest code and clamps what
// lies beyond full scale, as a converter does.
func (d Datatype) encode(raw []byte, x []complex64) {
	for i, v := range x {
		for j, c := range [2]float32{real(v), imag(v)} {
			switch k := 2*i + j; d {
			case CU8:
				raw[k] = byte(code(float64(c)*128+127.5, 0, 255))
			case CI8:
				raw[k] = byte(code(float64(c)*128, -128, 127))
			case CI16LE:
				binary.LittleEndian.PutUint16(raw[2*k:], uint16(code(float64(c)*32768, -32768, 32767)))
			case CI16BE:
				binary.BigEndian.PutUint16(raw[2*k:], uint16(code(float64(c)*32768, -32768, 32767)))
			case CI24LE:
				c := code(float64(c)*(1<<23), -1<<23, 1<<23-1)
				raw[3*k], raw[3*k+1], raw[3*k+2] = byte(c), byte(c>>8), byte(c>>16)
			case CI32LE:
				binary.LittleEndian.PutUint32(raw[4*k:], uint32(code(float64(c)*(1<<31), -1<<31, 1<<31-1)))
			case CI32BE:
				binary.BigEndian.PutUint32(raw[4*k:], uint32(code(float64(c)*(1<<31), -1<<31, 1<<31-1)))
			case CF64LE:
				binary.LittleEndian.PutUint64(raw[8*k:], math.Float64bits(float64(c)))
			case CF64BE:
				binary.BigEndian.PutUint64(raw[8*k:], math.Float64bits(float64(c)))
			case CF32LE:
				binary.LittleEndian.PutUint32(raw[4*k:], math.Float32bits(c))
			case CF32BE:
				binary.BigEndian.PutUint32(raw[4*k:], math.Float32bits(c))
			}
		}
	}
}

// code rounds v to a whole code between low and high.
func code(v, low, high float64) int {
	return int(math.Round(min(max(v, low), high)))
}
