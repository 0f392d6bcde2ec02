package spectrum

import "math"

// The choice of frame length, METHODS.md 2.6; all chosen. TestFrameLength.
const (
	WantedBinWidth = 80.0  // Hz, at most: a carrier and its hum 100 Hz beside it are resolved
	widestBinWidth = 150.0 // Hz, for recordings so short that they would have under FewestFrames
	FewestFrames   = 8     // under which averages are poor
	longestChunk   = 0.5   // s, which is held in memory at once
)

// DCGuard is the least distance from the centre, in Hz, that is kept clear of the DC spike,
// which flickers. Chosen; METHODS.md 4.2.
const DCGuard = 1000.0

// A Band is a stretch of spectrum to be measured, in Hz (absolute).
type Band struct{ Low, High float64 }

// Usable gives the offsets from the centre between which a receiver is used: the central two
// thirds of its sample rate. Beyond, its decimation filter droops and lets aliases through.
func Usable(rate float64) (low, high float64) { return -rate / 3, rate / 3 }

// FrameLength gives the number of points of the transform for a recording of so many samples
// at rate, 0 samples where the length is not known: a power of two with bins of at most
// WantedBinWidth, or of at most widestBinWidth where a short recording needs it to have
// FewestFrames.
func FrameLength(rate float64, samples int64) int {
	n := 64
	for rate/float64(n) > WantedBinWidth {
		n *= 2
	}
	for samples > 0 && framesIn(samples, n) < FewestFrames && rate/float64(n/2) <= widestBinWidth {
		n /= 2
	}
	return n
}

// framesIn counts the half-overlapping frames of n samples in a recording.
func framesIn(samples int64, n int) int {
	if samples < int64(n) {
		return 0
	}
	return int((samples-int64(n))/int64(n/2)) + 1
}

// FramesInChunk shares the frames of a recording out evenly over chunks of about
// longestChunk, so that the last is as long as the others. Where the length is not known
// every chunk has longestChunk.
func FramesInChunk(rate float64, samples int64, n int) int {
	full := max(FewestFrames, int(longestChunk*rate)/(n/2))
	all := framesIn(samples, n)
	if all == 0 {
		return full
	}
	chunks := max(1, int(math.Round(float64(all)/float64(full))))
	return (all + chunks - 1) / chunks
}
