package iqfile

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
)

// A Receiver plays the recordings of a file as a receiver would have delivered
// them (URI file:PATH), as fast as they are asked for. It is a capture.Clock
// too: the time of a recording is the one it was made at.
type Receiver struct {
	recordings []Recording
	playing    int // index into recordings
	reader     *Reader
	info       capture.Info
}

// NewReceiver opens a file of 8-bit recordings at one centre and rate; several
// captures are played one after the other. Recordings of more than 8 bits are
// refused: cut down to the 8 bits of a dongle, weak noise would drown in their
// quantisation, and the floor would be a figure of our own making.
func NewReceiver(path string, o Options) (*Receiver, error) {
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return nil, at(naming(path, ""), faultf(ErrFormat, "name one recording in it", "a folder"))
	}
	list, err := Open(path, o)
	var fault *Error
	if errors.As(err, &fault) && strings.HasPrefix(fault.Do, "give ") && strings.Contains(fault.Do, "--") { // record has no such flags
		fault.Do = "play one that says so, as SigMF does, or have nightfloor import read this one: " + fault.Do
	}
	if err != nil {
		return nil, err
	}
	what := naming(path, "")
	first := list[0]
	for _, r := range list {
		switch {
		case r.Datatype.Bits() != 8:
			return nil, at(what, faultf(ErrUnsupported, "read it in full with nightfloor measure or import", "datatype %s does not fit the 8 bits that a receiver delivers", r.Datatype))
		case r.Centre != first.Centre || r.Rate != first.Rate:
			return nil, at(what, faultf(ErrUnsupported, "read it with nightfloor measure or import, which take each capture by itself", "its captures differ in centre frequency or sample rate"))
		}
	}
	rx := &Receiver{recordings: list, info: capture.Info{
		URI:        "file:" + path,
		Name:       "recording " + oneLine(filepath.Base(path)),
		SampleRate: first.Rate,
		Simulated:  first.Simulated,
	}}
	rx.reader, err = first.Open()
	if err != nil {
		return nil, err
	}
	return rx, nil
}

// Info says what the recording tells of itself. It has no gain steps.
func (rx *Receiver) Info() capture.Info { return rx.info }

// Tune gives the centre that the recording was made at, and fails where the one
// that was asked for is not in it.
func (rx *Receiver) Tune(_ context.Context, centre survey.Hz) (survey.Hz, error) {
	made := rx.recordings[0].Centre
	if reach := rx.info.SampleRate / 2; centre < made-reach || centre > made+reach {
		return 0, at(fmt.Sprintf("tune %s to %v", oneLine(rx.info.URI), centre), faultf(ErrUnsupported, "plan segments that lie in it",
			"the recording was made at %v, %s", made, survey.RateText(rx.info.SampleRate)))
	}
	return made, nil
}

// SetGain changes nothing: it gives the gain the recording was made at.
func (rx *Receiver) SetGain(context.Context, survey.DB) (survey.Gain, error) {
	return rx.recordings[rx.playing].Gain, nil
}

// Read fills buf and blocks no longer than the disk. buf holds an unbroken
// stretch: where a capture ends within it, what it had of that capture counts
// as dropped too. At the end of the recording it fails with an error that is
// io.EOF.
func (rx *Receiver) Read(ctx context.Context, buf []byte) (dropped int64, err error) {
	for filled := 0; filled < len(buf); {
		if err := ctx.Err(); err != nil {
			return dropped, err
		}
		n, err := rx.readU8(buf[filled:])
		filled += n
		if err == io.EOF {
			var lost int64
			lost, err = rx.nextCapture()
			dropped += lost + int64(filled/2)
			filled = 0
		}
		if err != nil {
			return dropped, err
		}
	}
	return dropped, nil
}

// readU8 reads codes as a dongle gives them. A ci8 code c becomes c + 128,
// which stands for half a code more than c did: it moves the DC spike, which
// is masked anyway, and nothing else.
func (rx *Receiver) readU8(buf []byte) (int, error) {
	raw, err := rx.reader.next(len(buf) / 2)
	if err == nil && len(raw) == 0 {
		err = io.EOF
	}
	copy(buf, raw)
	if rx.recordings[rx.playing].Datatype == CI8 {
		for i := range raw {
			buf[i] ^= 0x80
		}
	}
	rx.reader.done += int64(len(raw) / 2)
	return len(raw), err
}

// nextCapture goes on to the next capture and gives the samples lost between.
func (rx *Receiver) nextCapture() (dropped int64, err error) {
	if rx.playing+1 == len(rx.recordings) {
		return 0, at(naming(rx.info.URI, ""), faultf(io.EOF, "play a longer one, or record for less time", "the recording has come to its end"))
	}
	next := rx.recordings[rx.playing+1]
	reader, err := next.Open()
	if err != nil {
		return 0, err
	}
	rx.reader.Close() // was only read from
	rx.reader = reader
	rx.playing++
	return next.Dropped, nil
}

// Now gives the time of the next sample, as far as the recording tells: where
// its start is unknown, time counts from the beginning of 1970.
func (rx *Receiver) Now() time.Time {
	start := rx.recordings[rx.playing].Start
	if start.IsZero() {
		start = time.Unix(0, 0).UTC()
	}
	return start.Add(time.Duration(float64(rx.reader.done) / float64(rx.info.SampleRate) * float64(time.Second)))
}

// Sleep passes over the samples of d, without waiting. At the end of the
// recording it fails as Read does.
func (rx *Receiver) Sleep(ctx context.Context, d time.Duration) error {
	left := int64(d.Seconds()*float64(rx.info.SampleRate)) * 2
	buf := make([]byte, min(left, blockBytes))
	for left > 0 {
		part := buf[:min(left, int64(len(buf)))]
		if _, err := rx.Read(ctx, part); err != nil {
			return err
		}
		left -= int64(len(part))
	}
	return nil
}

// Close closes the recording.
func (rx *Receiver) Close() error { return rx.reader.Close() }
