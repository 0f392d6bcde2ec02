// Package wav finds the samples of a two-channel WAV file and what its header says of them. It
// reads headers only: where the samples lie comes out, and who opens the file reads them there.
//
// A WAV file is a form (RIFF, RF64 or BW64) of chunks: four characters, a length of 32 bits, so
// many bytes, and a pad byte where that is odd. Four matter: "fmt " says what a sample is, "data"
// has samples, there may be several, also within a list "wavl"; "ds64" has the lengths that take
// more than 32 bits, and "bext" says when the recording began. All others are passed over: what
// programs keep there for themselves is not known.
//
// Recorders that are killed, or write more than 4 GiB, leave lengths that are wrong. So a length is
// believed where chunks follow upon it to the file's end. Where they do not, what follows are
// samples, too: all that are there are found, and File.Doubts says what was wrong.
//
// Sources: Multimedia Programming Interface and Data Specifications 1.0 (RIFF, WAVE, wavl, slnt);
// WAVEFORMATEXTENSIBLE; EBU Tech 3306 (RF64, ds64); Recommendation ITU-R BS.2088 (BW64);
// EBU Tech 3285 (bext).
package wav

import (
	"fmt"
	"io"
)

// A File is what a WAV file says of its samples, and where they lie.
type File struct {
	Format Format
	Rate   uint32 // frames a second
	// Data are the stretches that hold samples, in their order, none of them empty. All but the
	// last hold whole frames.
	Data []Stretch
	// Lost counts frames that are missing between them.
	Lost   int64
	Start  Start
	Doubts []string // what was wrong, in words
}

// A Format is how components are stored, little-endian, in turns left and right.
type Format struct {
	Float bool // else integers, of 8 bits without a sign
	Bits  int  // 8, 16, 24 or 32; 32 or 64 of floats
}

// frame gives the bytes of a sample of both channels.
func (f Format) frame() int64 { return int64(f.Bits) / 4 }

// A Stretch is a part of the file, in bytes.
type Stretch struct{ Start, Size int64 }

// A Kind tells faults apart.
type Kind int

// Kinds of faults: a file that is not what it says, is of a kind that is not read, or is cut off.
const (
	Damaged Kind = iota
	Unsupported
	Truncated
)

// A Fault is why a file is not read, and what to do.
type Fault struct {
	Kind    Kind
	Why, Do string
}

func (f *Fault) Error() string { return f.Why + "; " + f.Do }

// faultf makes a Fault; why is a format for args.
func faultf(kind Kind, do, why string, args ...any) *Fault {
	return &Fault{Kind: kind, Why: fmt.Sprintf(why, args...), Do: do}
}

// Is tells whether a file that begins with head is a WAV file.
func Is(head []byte) bool {
	if len(head) < headBytes {
		return false
	}
	switch string(head[:4]) {
	case "RIFF", "RIFX", "RF64", "BW64":
		return string(head[8:headBytes]) == "WAVE"
	}
	return false
}

// Read reads the headers in a file of size bytes. An error is a *Fault, or that of f.
func Read(f io.ReaderAt, size int64) (File, error) {
	w := walker{f: f, size: size}
	err := w.begin()
	if err == nil {
		err = w.walk()
	}
	if err == nil {
		err = w.finish()
	}
	return w.File, err
}
