package dsp

import "math"

// sameLine is how far a line may have moved from one chunk to the next, in Hz.
const sameLine = 5.0

// mostTracked bounds the memory of long recordings.
const mostTracked = 4000

// A trackedLine is a line followed from chunk to chunk.
type trackedLine struct {
	offset   float64 // Hz from the centre, mean weighted by power
	weight   float64
	power    float64 // Σ power · frames
	variance float64 // Σ (sigma · frames)²
	frames   int     // it was measured in
	images   int     // frames of chunks in which it was a mirror image
	seen     bool    // in the chunk in hand
}

// A lineTrack merges the lines of chunks by frequency.
type lineTrack struct{ lines []trackedLine }

func (t *lineTrack) reset() { t.lines = t.lines[:0] }

// merge takes the lines of one chunk. A line known from before and not found
// this time is measured by force where it is known to be.
func (t *lineTrack) merge(s *Spectrogram, z *zoom, found []chunkLine, gain []float64) {
	for i := range t.lines {
		t.lines[i].seen = false
	}
	old := len(t.lines)
	for i := range found {
		l := &found[i]
		known := t.nearest(l.offset, old)
		if known == nil && len(t.lines) < mostTracked {
			t.lines = append(t.lines, trackedLine{seen: true})
			known = &t.lines[len(t.lines)-1]
		}
		if known != nil {
			known.add(l.offset, l.zoomedLine, gain[l.column], s.Frames, l.image)
		}
	}
	for i := range t.lines[:old] {
		l := &t.lines[i]
		if l.seen {
			continue
		}
		b := s.column(l.offset)
		measured := z.forced(s, b, l.offset-s.Offset(b))
		l.add(l.offset, measured, gain[b], s.Frames, false)
	}
}

// nearest finds a line not yet seen in this chunk within sameLine.
func (t *lineTrack) nearest(offset float64, among int) *trackedLine {
	var best *trackedLine
	for i := range t.lines[:among] {
		l := &t.lines[i]
		if d := math.Abs(l.offset - offset); !l.seen && d < sameLine && (best == nil || d < math.Abs(best.offset-offset)) {
			best = l
		}
	}
	if best != nil {
		best.seen = true
	}
	return best
}

func (l *trackedLine) add(offset float64, z zoomedLine, gain float64, frames int, image bool) {
	n := float64(frames)
	if w := max(0, z.power) * n; w > 0 {
		l.weight += w
		l.offset += (offset - l.offset) * w / l.weight
	}
	l.power += z.power * gain * n
	l.variance += z.sigma * gain * n * z.sigma * gain * n
	l.frames += frames
	if image {
		l.images += frames
	}
}

// mean gives the line's power over the chunks it was measured in: from the one
// on in which it first stood out.
func (l *trackedLine) mean() (power, sigma float64) {
	n := float64(l.frames)
	return l.power / n, math.Sqrt(l.variance) / n
}

// column gives the column nearest to an offset in Hz.
func (s *Spectrogram) column(offset float64) int {
	b := int(math.Round(offset/s.BinWidth())) - s.Lowest
	return max(0, min(s.Bins-1, b))
}
