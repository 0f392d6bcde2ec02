package iqfile

import (
	"io"
	"math"
	"os"

	"nightfloor/dsp/codes"
	"nightfloor/survey"
)

// blockBytes bounds what a Reader reads at a time: so much that the cost of a system call does
// not matter.
const blockBytes = 64 << 10

// A Reader streams the samples of one recording, in full-scale units. It is
// not for concurrent use.
type Reader struct {
	recording Recording
	file      *os.File
	source    io.Reader
	raw       []byte
	done      int64 // samples given out
	codes     *codes.Counter
}

// Open begins to stream the recording's samples. Where the description gives a
// checksum (core:sha512), the whole data file is read once before and compared;
// captures of one file share that. The caller closes the Reader.
func (r Recording) Open() (*Reader, error) {
	file, source, err := r.open()
	if err != nil {
		return nil, at(r.what(), err)
	}
	return &Reader{
		recording: r, file: file, source: source,
		raw:   make([]byte, blockBytes),
		codes: codes.NewCounter(r.Datatype.codeBits()),
	}, nil
}

// Read fills x with the next samples and gives their number: len(x), at the recording's end
// fewer, and after it 0 with io.EOF. After any other error x is undefined.
func (r *Reader) Read(x []complex64) (n int, err error) {
	size := int(r.recording.Datatype.Size())
	for n < len(x) {
		raw, err := r.next(len(x) - n)
		if err != nil {
			return n, err
		}
		if len(raw) == 0 {
			break
		}
		part := x[n : n+len(raw)/size]
		r.recording.Datatype.decode(part, raw)
		if err := r.checkFinite(part); err != nil {
			return n, err
		}
		r.count(part, raw)
		r.done += int64(len(part))
		n += len(part)
	}
	if n == 0 && len(x) > 0 {
		return 0, io.EOF
	}
	return n, nil
}

// next gives the bytes of up to most samples, none at the end. They are valid
// until the next call.
func (r *Reader) next(most int) ([]byte, error) {
	size := r.recording.Datatype.Size()
	count := min(int64(most), int64(len(r.raw))/size, r.recording.Samples-r.done)
	raw := r.raw[:count*size]
	_, err := io.ReadFull(r.source, raw)
	switch {
	case err == io.EOF || err == io.ErrUnexpectedEOF:
		return nil, at(r.recording.what(), faultf(ErrTruncated, "leave the file alone while it is read",
			"the file became shorter while it was read: %s were there, it ends after %d", survey.Count(int(r.recording.Samples), "sample"), r.done))
	case err != nil:
		return nil, at(r.recording.what(), faultf(err, "check the disk", "sample %d: %s", r.done, rootCause(err)))
	}
	return raw, nil
}

// count counts the codes, which tell clipping and too little drive.
func (r *Reader) count(x []complex64, raw []byte) {
	switch r.recording.Datatype {
	case CU8:
		r.codes.AddU8(raw)
	case CI8:
		r.codes.AddI8(raw)
	case CI16LE, CI16BE:
		r.codes.AddI16(raw, r.recording.Datatype == CI16BE)
	default:
		r.codes.AddFloat(x)
	}
}

// largestFloat is the largest component taken for a sample: 180 dB over full
// scale. Beyond lie values that no receiver gives, but that floats read in the
// wrong byte order do, and whose square would overflow.
const largestFloat = 1e9

// checkFinite refuses floats that are no samples; codes always pass.
func (r *Reader) checkFinite(x []complex64) error {
	for i, v := range x {
		re, im := math.Abs(float64(real(v))), math.Abs(float64(imag(v)))
		if re <= largestFloat && im <= largestFloat {
			continue
		}
		why := "too large for full-scale units, as floats in the wrong byte order are"
		if math.IsNaN(re+im) || math.IsInf(re+im, 0) {
			why = "not a finite number"
		}
		return at(r.recording.what(), faultf(ErrNotFinite, "cut the recording there or convert it anew",
			"sample %d is %v: %s", r.done+int64(i), v, why))
	}
	return nil
}

// Codes gives the counter of the codes read so far, which tells how they fill the converter's
// range.
func (r *Reader) Codes() *codes.Counter { return r.codes }

// Close closes the file.
func (r *Reader) Close() error { return r.file.Close() }
