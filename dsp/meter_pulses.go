package dsp

import "slices"

// Isolated pulses are not part of the floor: the frames they fall into are left
// out of the averages. Events that come at pulsesContinuous a second or more
// are continuous noise and count with their mean.
const (
	subBands         = 64
	subBlocks        = 20   // blocks in a sub-band; the quarter with the least power speaks
	pulsesContinuous = 20.0 // a second
	pulseFrames      = 4    // an isolated pulse touches no more frames in a row
	pulseLeast       = 0.03 // rise of a frame over the median that is looked at
)

// pulseWatch tells which frames of a chunk hold isolated pulses. Buffers are
// reused.
type pulseWatch struct {
	level  []float32 // frames × subBands
	rise   []float32 // by frame: median over the sub-bands of power over its own median in time
	sorted []float32
	struck []bool
}

func newPulseWatch(frames int) *pulseWatch {
	return &pulseWatch{level: make([]float32, 0, frames*subBands), rise: make([]float32, 0, frames),
		sorted: make([]float32, 0, max(frames, subBands)), struck: make([]bool, 0, frames)}
}

// reset forgets the chunk.
func (p *pulseWatch) reset() { p.level = p.level[:0] }

// see takes one frame: in each sub-band the lower quartile of the power of its
// blocks, so that stations do not hide what happens between them.
func (p *pulseWatch) see(re, im []float32) {
	const all = subBands * subBlocks
	width := max(1, len(re)/all)
	var blocks [subBlocks]float32
	for s := range subBands {
		for k := range blocks {
			from := (s*subBlocks + k) * (len(re) - width) / (all - 1)
			blocks[k] = power(re[from:from+width], im[from:from+width])
		}
		slices.Sort(blocks[:])
		p.level = append(p.level, blocks[subBlocks/4])
	}
}

// power sums |X|².
func power(re, im []float32) (sum float32) {
	im = im[:len(re)]
	for b, r := range re {
		i := im[b]
		sum += r*r + i*i
	}
	return sum
}

// isolated tells by frame whether it holds an isolated pulse; frames come hop
// seconds apart.
func (p *pulseWatch) isolated(frames int, hop float64) []bool {
	p.struck = p.struck[:0]
	for range frames {
		p.struck = append(p.struck, false)
	}
	if frames < fewestFrames {
		return p.struck
	}
	p.riseOver(frames)
	median := p.median(p.rise)
	p.sorted = p.sorted[:0]
	for _, r := range p.rise {
		p.sorted = append(p.sorted, max(r-median, median-r))
	}
	slices.Sort(p.sorted)
	// Six standard deviations by the median deviation: what swings with the
	// mains all the time never gets that far out.
	limit := median + max(pulseLeast, 6*1.4826*p.sorted[frames/2])
	events := p.mark(limit)
	if float64(events) >= pulsesContinuous*float64(frames)*hop {
		clear(p.struck)
	}
	return p.struck
}

// riseOver works out rise.
func (p *pulseWatch) riseOver(frames int) {
	for s := range subBands {
		p.sorted = p.sorted[:0]
		for f := range frames {
			p.sorted = append(p.sorted, p.level[f*subBands+s])
		}
		slices.Sort(p.sorted)
		if m := p.sorted[frames/2]; m > 0 {
			for f := range frames {
				p.level[f*subBands+s] /= m
			}
		}
	}
	p.rise = p.rise[:0]
	for f := range frames {
		p.rise = append(p.rise, p.median(p.level[f*subBands:(f+1)*subBands]))
	}
}

// median leaves x as it is.
func (p *pulseWatch) median(x []float32) float32 {
	p.sorted = append(p.sorted[:0], x...)
	slices.Sort(p.sorted)
	return p.sorted[len(p.sorted)/2]
}

// mark marks runs of frames over the limit, if short, and counts them.
func (p *pulseWatch) mark(limit float32) (events int) {
	for f := 0; f < len(p.rise); f++ {
		from := f
		for f < len(p.rise) && p.rise[f] > limit {
			f++
		}
		if n := f - from; n > 0 {
			events++
			for k := from; k < f && n <= pulseFrames; k++ {
				p.struck[k] = true
			}
		}
	}
	return events
}
