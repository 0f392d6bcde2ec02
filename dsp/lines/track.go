package lines

import (
	"math"

	"nightfloor/dsp/spectrum"
)

// Tracks, METHODS.md 6.9.
const (
	sameLine   = 5.0  // Hz from where a line is expected in the next chunk; chosen (TestTracks)
	maxDrift   = 12.0 // Hz/s: oscillators of appliances that warm up, Doppler of aircraft; chosen (TestTracks)
	maxTracked = 4000 // lines; bounds the memory
)

// A trackedLine is a line followed from chunk to chunk.
type trackedLine struct {
	offset    float64 // Hz from the centre, mean weighted by power
	weight    float64
	doubt     float64 // Σ (weight · standard error)² of the offsets
	low, high float64 // Hz, offsets found
	last      float64 // Hz, where it was found last
	when      float64 // s since the start, the middle of the chunk of last
	drift     float64 // Hz a second
	power     float64 // Σ power · frames
	variance  float64 // Σ (sigma · frames)²
	quiet     float64 // Σ (quiet · frames)²
	frames    int     // in which it was measured
	passive   int     // frames of chunks in which it was the mirror image or a sideband of another
	found     int     // chunks in which it stood out
	seen      bool    // in the current chunk
}

// A lineTrack merges the lines of chunks by frequency.
type lineTrack struct {
	lines  []trackedLine
	now    float64   // s since the start: the middle of the current chunk
	past   []float64 // Σ power · frames by column, of the chunks before
	frames int       // of those chunks
}

func (t *lineTrack) reset() {
	t.lines, t.now, t.frames = t.lines[:0], 0, 0
	clear(t.past)
}

// merge joins the lines of one chunk to the tracks; power is the chunk's mean by column,
// floor roughly what noise holds there. A tracked line that was not found is measured where
// it is expected.
func (t *lineTrack) merge(s *spectrum.Spectrogram, z *zoom, found []chunkLine, power, floor, gain []float64) {
	length := float64(s.Frames) * float64(s.Hop) / s.Rate
	t.now += length / 2
	for i := range t.lines {
		t.lines[i].seen = false
	}
	old := len(t.lines)
	for i := range found {
		l := &found[i]
		known := t.nearest(l.offset, old)
		if known == nil && len(t.lines) < maxTracked {
			t.lines = append(t.lines, trackedLine{seen: true, low: l.offset, high: l.offset})
			known = &t.lines[len(t.lines)-1]
			known.addEarlier(t, l, power, floor, gain)
		}
		if known != nil {
			known.follow(l.offset, t.now)
			known.add(l.offset, l.zoomedLine, gain[l.column], s.Frames, l.image || l.sideband)
		}
	}
	for i := range t.lines[:old] {
		if l := &t.lines[i]; !l.seen {
			t.measureMissing(s, z, l, found, gain)
		}
	}
	t.now += length / 2
	t.addPast(power, s.Frames)
}

// addPast keeps the chunk's power for lines that stand out only later.
func (t *lineTrack) addPast(power []float64, frames int) {
	if len(t.past) != len(power) {
		t.past = make([]float64, len(power))
	}
	for b, p := range power {
		t.past[b] += p * float64(frames)
	}
	t.frames += frames
}

// measureMissing measures a line that did not stand out. Where another line stands in its
// place its power counts as zero.
func (t *lineTrack) measureMissing(s *spectrum.Spectrogram, z *zoom, l *trackedLine, found []chunkLine, gain []float64) {
	at := l.expected(t.now)
	for i := range found {
		if math.Abs(found[i].offset-at) < 2*zoomHz {
			l.frames += s.Frames
			return
		}
	}
	b := s.Column(at)
	z.load(s, b)
	l.add(at, z.measureAt(s, at-s.Offset(b)), gain[b], s.Frames, false)
}

// nearest gives the line not yet seen in this chunk that is expected nearest to an offset,
// nil where none is within sameLine. A line found only once may have drifted further: its
// drift is not known yet.
func (t *lineTrack) nearest(offset float64, among int) *trackedLine {
	var best *trackedLine
	least := math.Inf(1)
	for i := range t.lines[:among] {
		l := &t.lines[i]
		if l.seen {
			continue
		}
		d, limit := min(math.Abs(l.expected(t.now)-offset), math.Abs(l.last-offset)), sameLine
		if l.found == 1 {
			limit = max(limit, min(2*sameLine, maxDrift*(t.now-l.when)))
		}
		if d < limit && d < least {
			best, least = l, d
		}
	}
	if best != nil {
		best.seen = true
	}
	return best
}

// expected gives the offset at which a line is expected; its drift is trusted for a second.
func (l *trackedLine) expected(now float64) float64 {
	return l.last + l.drift*min(now-l.when, 1)
}

// follow notes where a line was found. The drift is smoothed, for fading moves the
// frequency of a steady line by a hertz.
func (l *trackedLine) follow(offset, now float64) {
	if l.found > 0 && now > l.when {
		rate := (offset - l.last) / (now - l.when)
		share := 0.5
		if l.found == 1 {
			share = 1
		}
		l.drift += share * (rate - l.drift)
		l.drift = max(-maxDrift, min(maxDrift, l.drift))
	}
	l.last, l.when = offset, now
	l.low, l.high = min(l.low, offset), max(l.high, offset)
	l.found++
}

// addEarlier estimates the power in the chunks before of a line that stands out for the
// first time: its present power, times its column's mean excess over the floor in those
// chunks over the present excess.
func (l *trackedLine) addEarlier(t *lineTrack, c *chunkLine, power, floor, gain []float64) {
	excess := power[c.column] - floor[c.column]
	if t.frames == 0 || excess <= 0 {
		return
	}
	n := float64(t.frames)
	ratio := max(-1, min(1, (t.past[c.column]/n-floor[c.column])/excess))
	now := c.power * gain[c.column]
	// The rough floor is good to about a tenth.
	quiet := now * 0.1 * floor[c.column] / excess
	doubt := quiet + now*0.1*math.Abs(ratio)
	l.power += now * ratio * n
	l.variance += doubt * doubt * n * n
	l.quiet += quiet * quiet * n * n
	l.frames += t.frames
}

func (l *trackedLine) add(offset float64, z zoomedLine, gain float64, frames int, passive bool) {
	n := float64(frames)
	if w := max(0, z.power) * n; w > 0 {
		l.weight += w
		l.offset += (offset - l.offset) * w / l.weight
		l.doubt += w * z.doubt * w * z.doubt
	}
	l.power += z.power * gain * n
	l.variance += z.sigma * gain * n * z.sigma * gain * n
	l.quiet += z.quiet * gain * n * z.quiet * gain * n
	l.frames += frames
	if passive {
		l.passive += frames
	}
}

// mean gives the line's power over the recording, with its standard error and what that would be
// with no line there.
func (l *trackedLine) mean() (power, sigma, quiet float64) {
	n := float64(l.frames)
	return l.power / n, math.Sqrt(l.variance) / n, math.Sqrt(l.quiet) / n
}

// frequencySigma gives the standard error of the mean offset, in Hz.
func (l *trackedLine) frequencySigma() float64 {
	if l.weight <= 0 {
		return sameLine
	}
	return math.Sqrt(l.doubt) / l.weight
}
