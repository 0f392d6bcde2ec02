package iqfile

import (
	"context"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"
	"time"
)

func newReceiver(t *testing.T, path string, o Options) *Receiver {
	t.Helper()
	rx, err := NewReceiver(path, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { rx.Close() })
	return rx
}

func TestReceiverPlaysTheCodes(t *testing.T) {
	ctx := context.Background()
	path := put(t, t.TempDir(), "night.cu8", []byte{10, 11, 12, 13, 14, 15})
	rx := newReceiver(t, path, at31m)
	if info := rx.Info(); info.URI != "file:"+path || info.SampleRate != 2_400_000 || len(info.Gains) != 0 || info.Simulated {
		t.Errorf("%+v", info)
	}
	if _, err := rx.Tune(ctx, 9_650_000); err != nil {
		t.Errorf("own centre: %v", err)
	}
	if at, err := rx.Tune(ctx, 9_700_000); err != nil || at != 9_650_000 {
		t.Errorf("a centre in it: %v, %v", at, err)
	}
	_, err := rx.Tune(ctx, 10_950_000)
	wantError(t, "another centre", err, ErrUnsupported,
		"tune file:"+path+" to 10.95 MHz: the recording was made at 9.65 MHz, 2.4 MS/s; plan segments that lie in it")
	buf := make([]byte, 4)
	if dropped, err := rx.Read(ctx, buf); dropped != 0 || err != nil || !slices.Equal(buf, []byte{10, 11, 12, 13}) {
		t.Errorf("%v, dropped %d, %v", buf, dropped, err)
	}
	// Two samples at 2.4 MS/s: 833 ns.
	if got := rx.Now().Sub(time.Unix(0, 0)); got != 833*time.Nanosecond {
		t.Errorf("time %v, want 833ns", got)
	}
	_, err = rx.Read(ctx, buf)
	wantError(t, "at the end", err, io.EOF, "read file:"+path+": the recording has come to its end; play a longer one, or record for less time")
	cancelled, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := rx.Read(cancelled, buf); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// A buffer holds an unbroken stretch: what is left of a capture that cannot
// fill it is lost together with what the recorder had lost.
func TestReceiverCountsLosses(t *testing.T) {
	ctx := context.Background()
	rx := newReceiver(t, putPair(t, t.TempDir(), "night", twoCaptures, twoCapturesData), Options{})
	if gain, err := rx.SetGain(ctx, 0); err != nil || gain.DB != 32.8 || !gain.Exact {
		t.Errorf("gain %+v, %v", gain, err)
	}
	buf := make([]byte, 4)
	if dropped, err := rx.Read(ctx, buf); dropped != 0 || err != nil || !slices.Equal(buf, []byte{0, 255, 1, 254}) {
		t.Errorf("%v, dropped %d, %v", buf, dropped, err)
	}
	// one sample left of the first capture, five lost between
	if dropped, err := rx.Read(ctx, buf); dropped != 1+5 || err != nil || !slices.Equal(buf, []byte{3, 252, 4, 251}) {
		t.Errorf("%v, dropped %d, %v", buf, dropped, err)
	}
	// The second capture began at 21:04:11.25; two samples of it have been read.
	if want := time.Date(2026, 11, 3, 21, 4, 11, 250_000_833, time.UTC); !rx.Now().Equal(want) {
		t.Errorf("time %v, want %v", rx.Now(), want)
	}
}

func TestReceiverSleepsThroughSamples(t *testing.T) {
	ctx := context.Background()
	content := make([]byte, 2*240_000) // 0.1 s
	content[2*120_000] = 77
	rx := newReceiver(t, put(t, t.TempDir(), "night.cu8", content), at31m)
	if err := rx.Sleep(ctx, 50*time.Millisecond); err != nil {
		t.Fatal(err)
	}
	buf := make([]byte, 2)
	if _, err := rx.Read(ctx, buf); err != nil || buf[0] != 77 {
		t.Errorf("code %d after 50 ms, want 77 (%v)", buf[0], err)
	}
	if err := rx.Sleep(ctx, time.Second); !errors.Is(err, io.EOF) {
		t.Errorf("beyond the end: %v", err)
	}
}

// ci8 code c is cu8 code c + 128: half a code of DC apart.
func TestReceiverTakesSignedBytes(t *testing.T) {
	rx := newReceiver(t, put(t, t.TempDir(), "night.cs8", []byte{0x80, 0x7F, 0, 0xFF}), at31m)
	buf := make([]byte, 4)
	if _, err := rx.Read(context.Background(), buf); err != nil || !slices.Equal(buf, []byte{0, 255, 128, 127}) {
		t.Errorf("%v, %v", buf, err)
	}
}

func TestReceiverRefuses(t *testing.T) {
	wide := put(t, t.TempDir(), "night.cs16", make([]byte, 16))
	_, err := NewReceiver(wide, at31m)
	wantError(t, "16 bits", err, ErrUnsupported, "read "+wide+": datatype ci16_le does not fit the 8 bits that a receiver delivers; read it in full with nightfloor measure or import")
	hops := `{"global":{` + goodGlobal + `},"captures":[` + goodCapture + `,{"core:sample_start":2,"core:frequency":6075000}]}`
	path := putPair(t, t.TempDir(), "night", hops, make([]byte, 16))
	_, err = NewReceiver(path, Options{})
	wantError(t, "two centres", err, ErrUnsupported, "read "+path+": its captures differ in centre frequency or sample rate; read it with nightfloor measure or import, which take each capture by itself")
}

// A receiver is one recording: a folder is refused, whether recordings lie in it or not.
func TestReceiverOfFolder(t *testing.T) {
	folder := t.TempDir()
	put(t, folder, "bare.cu8", make([]byte, 1000))
	_, err := NewReceiver(folder, at31m)
	wantError(t, "folder", err, ErrFormat, "read "+folder+": a folder; name one recording in it")
}

// A recording that does not say its centre or rate cannot be played: record has no flags for them.
func TestReceiverThatLacksCentre(t *testing.T) {
	path := put(t, t.TempDir(), "bare.cu8", make([]byte, 1000))
	_, err := NewReceiver(path, Options{})
	want := "a bare sample file does not say its centre frequency and sample rate; play one that says so, as SigMF does, or have nightfloor import read this one: give them with --center HZ and --rate HZ"
	if !errors.Is(err, ErrNoCentre) || !strings.HasSuffix(err.Error(), want) {
		t.Errorf("%v, want %s", err, want)
	}
}
