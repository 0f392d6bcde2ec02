package iqfile

import (
	"bufio"
	"crypto/sha512"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"math"
	"os"
	"strings"
	"time"

	"nightfloor/survey"
)

// sigmfVersion is the version of the standard that is written.
const sigmfVersion = "1.2.5"

// A Meta is what a written recording says of itself.
type Meta struct {
	Datatype    Datatype
	Rate        survey.Hz // complex samples a second
	Antenna     string    // "" where unknown
	Placement   string    // "" where unknown
	Bearing     survey.Bearing
	Simulated   bool   // no receiver heard this
	Description string // free text, "" for none
	Recorder    string // what wrote it, "" for none
	Hardware    string // what heard it, "" for none
}

// A Capture is an unbroken stretch of what is written.
type Capture struct {
	Centre      survey.Hz
	Start       time.Time   // zero where unknown
	GlobalIndex *int64      // of its first sample in the receiver's stream; nil where unknown
	Gain        survey.Gain // written where it is known and exact: others could not be trusted to refer levels to
}

// A Writer writes a SigMF pair as the samples come. Until Close, the pair has no
// description, so that half a recording is not taken for a whole one.
type Writer struct {
	base     string
	meta     Meta
	data     *os.File
	out      *bufio.Writer
	sum      hash.Hash
	raw      []byte
	samples  int64
	captures []map[string]any
}

// Create begins a pair. path names the description or the data, or is their
// name without ending; files that exist are not overwritten.
func Create(path string, m Meta, first Capture) (*Writer, error) {
	base := strings.TrimSuffix(strings.TrimSuffix(path, metaEnding), dataEnding)
	what := "write " + oneLine(base) + metaEnding
	if m.Datatype.Size() == 0 {
		return nil, at(what, faultf(ErrUnsupported, readable, "datatype %s cannot be written", quoted(string(m.Datatype))))
	}
	if err := checkRate(m.Rate, "the sample rate"); err != nil {
		return nil, at(what, err)
	}
	if _, err := os.Lstat(base + metaEnding); err == nil {
		return nil, at(what, faultf(os.ErrExist, "choose another name or remove it", "it exists"))
	}
	data, err := os.OpenFile(base+dataEnding, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, os.ErrExist) {
		return nil, at(what, faultf(err, "choose another name or remove it", "its data file exists"))
	}
	if err != nil {
		return nil, &Error{What: what, Why: rootCause(err), Do: "choose a folder that can be written to", Err: err}
	}
	w := &Writer{base: base, meta: m, data: data, out: bufio.NewWriterSize(data, blockBytes), sum: sha512.New(), raw: make([]byte, blockBytes)}
	if err := w.Begin(first); err != nil {
		return nil, errors.Join(err, w.discard())
	}
	return w, nil
}

// Begin starts a capture at the next sample.
func (w *Writer) Begin(c Capture) error {
	if err := checkCentre(c.Centre, "the centre frequency"); err != nil {
		return at(w.what(), err)
	}
	fields := map[string]any{"core:sample_start": w.samples, "core:frequency": float64(c.Centre)}
	if !c.Start.IsZero() {
		// A fixed number of digits, so that times sort as text.
		fields["core:datetime"] = c.Start.UTC().Format("2006-01-02T15:04:05.000000000Z")
	}
	if c.GlobalIndex != nil {
		fields["core:global_index"] = *c.GlobalIndex
	}
	if c.Gain.Known && c.Gain.Exact {
		fields["capture_details:gain"] = float64(c.Gain.DB)
	}
	if n := len(w.captures); n > 0 && w.captures[n-1]["core:sample_start"] == w.samples {
		n-- // the capture before stayed empty
		w.captures = w.captures[:n]
	}
	w.captures = append(w.captures, fields)
	return nil
}

// Write appends samples: rounded to the nearest code, clamped at full scale.
func (w *Writer) Write(x []complex64) error {
	size := int(w.meta.Datatype.Size())
	for len(x) > 0 {
		n := min(len(x), len(w.raw)/size)
		w.meta.Datatype.encode(w.raw, x[:n])
		if err := w.WriteRaw(w.raw[:n*size]); err != nil {
			return err
		}
		x = x[n:]
	}
	return nil
}

// WriteRaw appends samples in the codes of the datatype, a whole number of them.
func (w *Writer) WriteRaw(raw []byte) error {
	size := w.meta.Datatype.Size()
	if int64(len(raw))%size != 0 {
		panic(fmt.Sprintf("iqfile: %d bytes are no whole number of %s samples", len(raw), w.meta.Datatype))
	}
	w.sum.Write(raw) // never fails
	w.samples += int64(len(raw)) / size
	if _, err := w.out.Write(raw); err != nil {
		return w.failed(err)
	}
	return nil
}

// Close writes the description. If anything fails, both files are removed.
func (w *Writer) Close() error {
	if w.samples == 0 {
		return errors.Join(at(w.what(), faultf(ErrEmpty, "record for longer", "no sample was written")), w.discard())
	}
	text, err := json.MarshalIndent(w.description(), "", "  ")
	if err == nil {
		err = w.out.Flush()
	}
	if err == nil {
		err = w.data.Sync()
	}
	if err == nil {
		err = writeNew(w.base+metaEnding, append(text, '\n'))
	}
	if err != nil {
		return errors.Join(w.failed(err), w.discard())
	}
	return w.data.Close()
}

// writeNew writes a file that must not exist, and removes it where that fails
// half way.
func writeNew(name string, text []byte) error {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return errors.Join(err, os.Remove(name))
	}
	return nil
}

func (w *Writer) discard() error {
	return errors.Join(w.data.Close(), os.Remove(w.data.Name()))
}

func (w *Writer) what() string { return "write " + oneLine(w.base) + metaEnding }

func (w *Writer) failed(err error) error {
	return &Error{What: w.what(), Why: rootCause(err), Do: "check that the disk has room and can be written to", Err: err}
}

// description gives the metadata. Only namespaces that are used are declared,
// all optional: the samples can be read without them.
func (w *Writer) description() map[string]any {
	m := &w.meta
	global := map[string]any{
		"core:datatype":    string(m.Datatype),
		"core:version":     sigmfVersion,
		"core:sample_rate": float64(m.Rate),
		"core:sha512":      hex.EncodeToString(w.sum.Sum(nil)),
	}
	texts := map[string]string{
		"core:description": m.Description, "core:recorder": m.Recorder, "core:hw": m.Hardware,
		"antenna:model": m.Antenna, "nightfloor:placement": m.Placement,
	}
	for field, text := range texts {
		if text != "" {
			global[field] = text
		}
	}
	if m.Simulated {
		global["nightfloor:simulated"] = true
	}
	annotations := []map[string]any{}
	if m.Bearing.Known {
		annotations = append(annotations, map[string]any{
			"core:sample_start": 0, "core:sample_count": w.samples,
			"antenna:azimuth_angle": math.Mod(m.Bearing.Deg, 360),
		})
	}
	all := append([]map[string]any{global}, append(annotations, w.captures...)...)
	if list := extensionsOf(all); len(list) > 0 {
		global["core:extensions"] = list
	}
	return map[string]any{"global": global, "captures": w.captures, "annotations": annotations}
}

// extensionsOf declares the namespaces that fields use, besides core.
func extensionsOf(objects []map[string]any) []map[string]any {
	var list []map[string]any
	for _, name := range []string{"antenna", "capture_details", "nightfloor"} {
		if uses(objects, name+":") {
			list = append(list, map[string]any{"name": name, "version": "1.0.0", "optional": true})
		}
	}
	return list
}

func uses(objects []map[string]any, prefix string) bool {
	for _, o := range objects {
		for field := range o {
			if strings.HasPrefix(field, prefix) {
				return true
			}
		}
	}
	return false
}

// Write writes a pair of one capture.
func Write(path string, m Meta, c Capture, samples []complex64) error {
	w, err := Create(path, m, c)
	if err != nil {
		return err
	}
	if err := w.Write(samples); err != nil {
		return errors.Join(err, w.discard())
	}
	return w.Close()
}

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
