package capture_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/capturetest"
	"nightfloor/dsp/codes"
	"nightfloor/survey"
)

// record makes a recording of n samples of a sky, as a source to be measured.
func record(sky capturetest.Sky, setup survey.Setup, centre survey.Hz, gain survey.DB, start time.Time, n int) capture.Source {
	ctx := context.Background()
	sky.Stale = time.Nanosecond // what is heard is so from the first sample on
	f := capturetest.New(sky)
	_, changed := f.Change(ctx, setup)
	_, tuned := f.Tune(ctx, centre)
	_, set := f.SetGain(ctx, gain)
	iq := make([]byte, 2*n)
	_, read := f.Read(ctx, iq)
	if err := errors.Join(changed, tuned, set, read); err != nil {
		panic(err) // a script of faults is no use here
	}
	digest := sha256.Sum256(iq)
	return capture.Source{
		File: hex.EncodeToString(digest[:4]) + ".cu8", Setup: setup, Start: start, Centre: centre, Rate: f.Info().SampleRate,
		Samples: int64(n), Gain: survey.Gain{DB: gain, Known: true, Exact: true}, Simulated: true,
		Open: func() (capture.Samples, error) { return &samples{iq: iq, codes: codes.NewCounter(8)}, nil },
		Digest: func() (string, string, error) {
			return hex.EncodeToString(digest[:]), hex.EncodeToString(digest[1:]), nil
		},
	}
}

// samples streams a recording from memory.
type samples struct {
	iq    []byte
	codes *codes.Counter
}

func (s *samples) Read(x []complex64) (int, error) {
	n := min(len(x), len(s.iq)/2)
	if n == 0 {
		return 0, io.EOF
	}
	for i := range n {
		x[i] = complex((float32(s.iq[2*i])-127.5)/128, (float32(s.iq[2*i+1])-127.5)/128)
	}
	s.codes.AddU8(s.iq[:2*n])
	s.iq = s.iq[2*n:]
	return n, nil
}

func (s *samples) Codes() *codes.Counter { return s.codes }
func (s *samples) Close() error          { return nil }
