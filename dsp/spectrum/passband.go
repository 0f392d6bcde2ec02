package spectrum

import "math"

// Bounds of the choice of frame length.
const (
	wantedBinWidth = 80.0  // Hz: carriers 100 Hz from a hum sideband still part
	widestBinWidth = 150.0 // Hz, for short recordings
	FewestFrames   = 8     // under this many the averages are poor
	longestChunk   = 0.5   // s: what is held in memory at once
)

// A Band is a stretch of spectrum to be measured, in Hz (absolute).
type Band struct{ Low, High float64 }

// Usable gives the offsets from the centre between which a receiver is
// trusted: the central two thirds of its sample rate. Beyond, its decimation
// filter droops and folds.
func Usable(rate float64) (low, high float64) { return -rate / 3, rate / 3 }

// FrameLength chooses the transform for a recording of samples at rate (0: as
// long as wanted): a power of two, bins of at most 80 Hz, or of at most 150 Hz
// where that brings a short recording nearer to eight frames.
func FrameLength(rate float64, samples int64) int {
	n := 64
	for rate/float64(n) > wantedBinWidth {
		n *= 2
	}
	for samples > 0 && framesIn(samples, n) < FewestFrames && rate/float64(n/2) <= widestBinWidth {
		n /= 2
	}
	return n
}

// framesIn counts the half-overlapping frames of n samples.
func framesIn(samples int64, n int) int {
	if samples < int64(n) {
		return 0
	}
	return int((samples-int64(n))/int64(n/2)) + 1
}

// FramesInChunk shares the frames of a recording out evenly over chunks of
// about longestChunk, so that no chunk is a stump; without a known length every
// chunk has longestChunk.
func FramesInChunk(rate float64, samples int64, n int) int {
	full := max(FewestFrames, int(longestChunk*rate)/(n/2))
	all := framesIn(samples, n)
	if all == 0 {
		return full
	}
	chunks := max(1, int(math.Round(float64(all)/float64(full))))
	return (all + chunks - 1) / chunks
}

// DCGuard is the room about the middle, in Hz.
const DCGuard = 1000.0
