package spectrum

import "testing"

// Bins are as narrow as asked for at every rate, and a short recording is
// flagged.
func TestFrameLength(t *testing.T) {
	for _, test := range []struct {
		rate    float64
		samples int64
		want    int
	}{
		{2.4e6, 1_200_000, 32768}, // 73.2 Hz
		{1.024e6, 512_000, 16384}, // 62.5 Hz
		{225001, 112_500, 4096},   // 54.9 Hz
		{3.2e6, 1_600_000, 65536}, // 48.8 Hz
		{2.4e6, 120_000, 16384},   // 50 ms: six frames of 32768 would fit, thirteen of these at 146 Hz
	} {
		if got := FrameLength(test.rate, test.samples); got != test.want {
			t.Errorf("%v S/s, %d samples: %d, want %d", test.rate, test.samples, got, test.want)
		}
	}
}
