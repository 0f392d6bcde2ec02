package transient

import (
	"math"
	"slices"

	"nightfloor/dsp/spectrum"
)

// Transients are sought in the frames themselves, in stretches of the passband from
// passageWidth up to the whole of it; what is narrower the mask takes out by its columns.
// Package envelope finds short events in the power of free channels, but which columns are
// free is told by averages of frames, and which frames are averaged is told here.
//
// The figures (METHODS.md 5.5) are chosen, but for what is said.
const (
	evenPart     = 0.2 // of its strongest frame that a transmission holds in its weakest
	subBands     = 64
	subBlocks    = 20   // blocks in a sub-band; the lower quartile of their powers is its level (TestPulseBetweenCarriers)
	passageWidth = 25e3 // Hz
	riseLeast    = 0.03 // nepers of a frame over the usual that are looked at, 3 %
	riseSigmas   = 6.0  // standard deviations of a frame of noise: 1e-9
	swingSigmas  = 4.0  // swings of the frames' lower half
	stillPart    = 0.1  // of a rise that may be beside it (TestStillBesideARise)
	skirtSigmas  = 2.0  // standard deviations from which on a frame beside a rise belongs to it
	pulseFrames  = 4    // a pulse touches no more frames in a row
	edgeFrames   = 2    // nor more of a recording's first or last (TestRiseAtTheEnd)
	longestShort = 0.1  // s: what lasts longer is no short transmission
)

// Quantiles of normal values, in standard deviations (TestUsualOfNormalFrames).
const (
	quantileGap   = 0.9704 // from 5 % to 25 %
	quantileSwing = 0.5488 // from 25 % to 45 %
	quantileMean  = 0.6745 // from 25 % to the mean
)

// A passage is a stretch of the passband that is looked at by itself.
type passage struct {
	from, to int // sub-bands
	// Of the last chunk judged, logarithms of the rise:
	usual float32 // its level without transients
	sigma float32 // its standard deviation, as its lower half tells
	limit float32 // what transients pass
	run   int     // frames over the limit at the end of that chunk
}

// A Detector tells which frames of a chunk hold transients: what stands clearly over a level
// that is the same before and after. Whether so much of it came that it is continuous noise
// is told by its Passages, at the end. Buffers are reused.
type Detector struct {
	passages []passage
	level    []float32         // frames × subBands
	base     [subBands]float32 // the usual level of the last chunk judged
	known    bool              // base, and the passages' limits, are known
	rise     []float32         // by frame: logarithm of a passage's power over its usual
	sorted   []float32
	verdicts []spectrum.Verdict
	Passages Passages // of the recording so far
}

// NewDetector readies a Detector for chunks of so many frames of a passband so
// many Hz wide.
func NewDetector(frames int, passband float64) *Detector {
	p := &Detector{level: make([]float32, 0, frames*subBands), rise: make([]float32, 0, frames),
		sorted: make([]float32, 0, max(frames, subBands)), verdicts: make([]spectrum.Verdict, 0, frames)}
	width := max(1, min(subBands, int(math.Ceil(passageWidth/passband*subBands))))
	for ; ; width = min(subBands, 2*width) {
		step := max(1, width/2)
		for from := 0; ; from += step {
			from = min(from, subBands-width)
			p.passages = append(p.passages, passage{from: from, to: from + width})
			if from == subBands-width {
				break
			}
		}
		if width == subBands {
			return p
		}
	}
}

// Reset forgets the recording.
func (p *Detector) Reset() {
	p.level = p.level[:0]
	p.known, p.Passages = false, Passages{starts: p.Passages.starts[:0]}
	for i := range p.passages {
		p.passages[i].run = 0
	}
}

// Add takes one frame: in each sub-band the lower quartile of the power of its
// blocks, so that stations do not hide what happens between them.
func (p *Detector) Add(re, im []float32) {
	const all = subBands * subBlocks
	width := max(1, len(re)/all)
	var blocks [subBlocks]float32
	for s := range subBands {
		for k := range blocks {
			from := (s*subBlocks + k) * (len(re) - width) / (all - 1)
			blocks[k] = spectrum.Power(re[from:from+width], im[from:from+width])
		}
		slices.Sort(blocks[:])
		p.level = append(p.level, blocks[subBlocks/4])
	}
}

// Judge gives the verdict on each frame of the chunk in hand; frames come hop
// seconds apart, and last tells that none will follow. drop tells whether the
// frames left pending in the chunk before are to be left out. The next frame opens the
// next chunk; the verdicts hold until that is judged.
func (p *Detector) Judge(frames int, hop float64, last bool) (_ []spectrum.Verdict, drop bool) {
	p.verdicts = slices.Grow(p.verdicts[:0], frames)[:frames]
	clear(p.verdicts)
	longest := int(longestShort/hop) + 2 // a transmission touches a frame more on either side
	drop = p.carryOn(frames, longest)
	if frames >= spectrum.FewestFrames {
		first := !p.known
		p.setBase(frames)
		for i := range p.passages {
			p.mark(&p.passages[i], frames, longest, first, last)
		}
	}
	p.Passages.count(p.verdicts, hop, drop)
	p.level = p.level[:0]
	return p.verdicts, drop
}

// carryOn follows into the chunk in hand what stood over the level of the chunk before: a
// step lasts, a transmission ends. drop tells that it ended. In a chunk too short to have a
// level of its own carryOn finds all transients.
func (p *Detector) carryOn(frames, longest int) (drop bool) {
	if !p.known {
		return false
	}
	ended, stayed := 0, 0 // passages, of which the more decide: single ones err by noise
	for i := range p.passages {
		g := &p.passages[i]
		p.riseOf(g, frames)
		n := 0
		for n < frames && p.rise[n] > g.limit {
			n++
		}
		if g.run+n > longest || n == frames || g.run+n > 0 && !p.falls(g, n, max(n, 1)) {
			if g.run > 0 {
				stayed++
			}
			continue
		}
		if g.run > 0 {
			ended++
		}
		skirt := g.usual + skirtSigmas*g.sigma
		if n > 0 {
			p.excludeFrames(0, n, skirt, p.pulseOrTransmission(g, 0, n))
		}
		for f := n; f < frames && frames < spectrum.FewestFrames; f++ {
			if p.rise[f] > g.limit {
				p.excludeFrames(f, f+1, skirt, spectrum.LeftOut)
			}
		}
	}
	return ended > stayed
}

// setBase takes the usual level of each sub-band from the chunk in hand: the quantile 30 %,
// for pulses may fill more than half of the frames.
func (p *Detector) setBase(frames int) {
	for s := range subBands {
		p.sorted = p.sorted[:0]
		for f := range frames {
			p.sorted = append(p.sorted, p.level[f*subBands+s])
		}
		slices.Sort(p.sorted)
		p.base[s] = p.sorted[frames*3/10]
	}
	p.known = true
}

// riseOf fills rise for a passage: the median over its sub-bands of their power over base.
func (p *Detector) riseOf(g *passage, frames int) {
	p.rise = p.rise[:0]
	for f := range frames {
		p.sorted = p.sorted[:0]
		for s := g.from; s < g.to; s++ {
			over := float32(1) // silence does not rise
			if p.base[s] > 0 {
				over = p.level[f*subBands+s] / p.base[s]
			}
			p.sorted = append(p.sorted, over)
		}
		slices.Sort(p.sorted)
		p.rise = append(p.rise, float32(math.Log(float64(max(1e-6, p.sorted[len(p.sorted)/2])))))
	}
}

// mark marks the transients in a passage. The logarithms of the lower half of the frames tell
// the level and how much it swings by itself: noise that swings all the time, with the mains
// or from second to second, does not stand over it.
func (p *Detector) mark(g *passage, frames, longest int, first, last bool) {
	p.riseOf(g, frames)
	p.sorted = append(p.sorted[:0], p.rise...)
	slices.Sort(p.sorted)
	quarter := p.sorted[frames/4]
	sigma := (quarter - p.sorted[frames/20]) / quantileGap
	usual := quarter + quantileMean*sigma
	swing := (p.sorted[frames*9/20] - quarter) / quantileSwing
	g.usual, g.sigma = usual, sigma
	g.limit, g.run = usual+max(riseLeast, riseSigmas*sigma, swingSigmas*swing), 0
	skirt := usual + skirtSigmas*sigma
	for f := 0; f < frames; f++ {
		from := f
		for f < frames && (p.rise[f] > g.limit || f > from && f+1 < frames && p.rise[f+1] > g.limit) {
			f++
		}
		// At an end of the chunk the frames beside a rise are not known.
		begins, ends := from == 0 || first && from == 1, f >= frames-1
		switch n := f - from; {
		case n == 0 || n > longest || from == 0 && !first: // the last: carryOn has judged it
		case !p.rises(g, from, n) || !p.falls(g, f, n): // noise that swings
		case !begins && !ends, (begins || last) && (n <= edgeFrames || p.unevenAtEnd(g, from, f)):
			p.excludeFrames(from, f, skirt, p.pulseOrTransmission(g, from, f))
		case !begins && !last:
			g.run = frames - from
			p.excludeFrames(from, f, skirt, spectrum.Pending)
		default: // what was before, or comes after, is not known
			excess := 0.0
			for _, r := range p.rise[from:f] {
				excess += math.Expm1(float64(r - usual))
			}
			share := excess * float64(g.to-g.from) / subBands
			p.Passages.Unsure = max(p.Passages.Unsure, share)
		}
	}
}

// rises tells whether the n frames from frame from on stand out at once: before them, the
// frames aside that the windows' slopes touch, is no more than a part of their excess. Of
// pulses several may stand side by side.
func (p *Detector) rises(g *passage, from, n int) bool {
	return p.still(g, from-1, -1, n, p.rise[from:from+n])
}

// falls tells whether after the n frames before frame to the level is back at once.
func (p *Detector) falls(g *passage, to, n int) bool {
	return p.still(g, to, +1, n, p.rise[max(0, to-n):max(to, 1)])
}

// still tells whether one of the next frames from frame at on, in the direction of step, is at
// the usual level beside a rise of n frames; beyond the chunk it is taken to be.
func (p *Detector) still(g *passage, at, step, n int, rise []float32) bool {
	p.sorted = append(p.sorted[:0], rise...)
	slices.Sort(p.sorted)
	top := p.sorted[len(p.sorted)/2] - g.usual
	limit := g.usual + max(skirtSigmas*g.sigma, min(top*stillPart, riseSigmas*g.sigma/2))
	reach := 2
	if n <= pulseFrames {
		reach = 4
	}
	seen := false
	for k := 1; k <= reach; k++ {
		f := at + step*k
		if f < 0 || f >= len(p.rise) {
			break
		}
		if p.rise[f] <= limit {
			return true
		}
		seen = true
	}
	return !seen
}

// excludeFrames gives the frames from…to a verdict, and those beside them that the windows'
// slopes reach, but leaves those of a longer transient their own.
func (p *Detector) excludeFrames(from, to int, skirt float32, as spectrum.Verdict) {
	if from > 0 && p.rise[from-1] > skirt {
		from--
	}
	if to < len(p.rise) && p.rise[to] > skirt {
		to++
	}
	for f := from; f < to; f++ {
		if v := p.verdicts[f]; v == spectrum.Kept || v == spectrum.Pending || as == spectrum.LeftLong {
			p.verdicts[f] = as
		}
	}
}

// unevenAtEnd tells whether the power of the frames from…to at a recording's end differs as
// much as that of pulses; the innermost, which the window's slope touches, does not count.
func (p *Detector) unevenAtEnd(g *passage, from, to int) bool {
	if from <= 1 {
		return differ(p.rise[from:to-1], g.usual)
	}
	return differ(p.rise[from+1:to], g.usual)
}

// pulseOrTransmission tells a transmission, which keeps its power from frame to frame
// (LeftLong), from a pulse, or a row of pulses that touch each other's frames (LeftOut).
func (p *Detector) pulseOrTransmission(g *passage, from, to int) spectrum.Verdict {
	if to-from <= pulseFrames || differ(p.rise[from+1:to-1], g.usual) {
		return spectrum.LeftOut
	}
	return spectrum.LeftLong
}

// differ tells whether the least of the rises, over the usual, is but a small
// part of the greatest.
func differ(rise []float32, usual float32) bool {
	most, least := slices.Max(rise), slices.Min(rise)
	return math.Expm1(float64(least-usual)) < evenPart*math.Expm1(float64(most-usual))
}
