package capturetest_test

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"nightfloor/capture/capturetest"
	"nightfloor/capture/iqfile"
	"nightfloor/survey"
)

func TestFake(t *testing.T) {
	capturetest.TestReceiver(t, func(t *testing.T) capturetest.Candidate {
		// −70 + 30 + 10 = −30 dBFS over −120 + 30 + 10 = −80 dBFS/Hz: in the 30 Hz of
		// 50 ms with Hann −65 dBFS, 35 dB below the line, and 29 dB at 6 dB less.
		fake := capturetest.New(capturetest.Sky{Floor: -120, Carriers: []capturetest.Carrier{{At: 6.07e6, Level: -70}}})
		return capturetest.Candidate{Receiver: fake, Centre: 6.05e6, Other: 6.0937e6, Line: 6.07e6, Gain: 30}
	})
}

// A recording played as a receiver sits the exam as far as it goes: it stays at
// one centre and one gain.
func TestPlayedRecording(t *testing.T) {
	iq := make([]byte, 1<<20)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range iq {
		iq[i] = byte(127.5 + 20*rng.NormFloat64()) // 6 sigma to the ends
	}
	path := filepath.Join(t.TempDir(), "night.cu8")
	if err := os.WriteFile(path, iq, 0o600); err != nil {
		t.Fatal(err)
	}
	capturetest.TestReceiver(t, func(t *testing.T) capturetest.Candidate {
		rx, err := iqfile.NewReceiver(path, iqfile.Options{Centre: 6.05e6, Rate: 1e6})
		if err != nil {
			t.Fatal(err)
		}
		return capturetest.Candidate{Receiver: rx, Centre: survey.Hz(6.05e6)}
	})
}
