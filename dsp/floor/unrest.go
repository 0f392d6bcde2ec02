package floor

import (
	"math"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
)

// An Unrest tells how much of what is free goes up and down over time in one part of a band
// and not in the others, as programmes do with their syllables and noise does not: what
// sidebands and splatter add to the noise, which no mask finds (METHODS.md 5.11). Noise that
// varies in all of the band alike, as with the mains, is no unrest. Buffers are reused.
type Unrest struct {
	power  []float32 // of a block by column
	level  []float64 // by block and group
	groups []unrestGroup
}

// An unrestGroup is a stretch of columns of a band. Sums are over all chunks.
type unrestGroup struct {
	columns          float64 // free ones in this chunk
	weight           float64 // columns times degrees of freedom
	square, expected float64 // squared deviations, and what steady noise has of them, times columns
	doubt            float64 // variance of expected
}

const (
	// unrestBlock is how long a block of frames is, seconds, and unrestWidth how wide a group of
	// columns, Hz: syllables come 2 to 6 times a second, splatter is about as wide as a station.
	// Half and twice as much tell as well. A narrower band has leastGroups. Chosen.
	unrestBlock = 0.06
	unrestWidth = 10e3
	leastGroups = 8

	// unrestFrom is the share of a band that lines and their room must take before unrest in it is theirs. Chosen.
	unrestFrom = 0.1
	// unrestSigmas is how many standard errors of noise's scatter do not count: one in 40 is beyond.
	unrestSigmas = 2
	// programmeShare is what programmes may add to the floor over what the unrest tells of it: syllables
	// swing by about their mean, of which 60 ms within half a second show a part, and what is
	// found to be noise beside them is high. TestCrowdedFloorIsHonest.
	programmeShare = 4
	// mostProgramme is the relative error for that, 1.25 dB, from which the floor is not told: beyond it
	// floors of simulated bands were up to 8 dB high. TestCrowdedFloorIsHonest.
	mostProgramme = 1.0 / 3
	// closeShare is the least share of a band in which programmes are taken to be where not even the
	// carriers have room for their sidebands.
	closeShare = 0.5
	// mostVariation is the variation of the noise's power over time from which its scatter is not known well
	// enough: of mains bursts of a third of the time it is 1.8, of short pulses 10 and more. Chosen.
	mostVariation = 3
)

// Reset forgets all.
func (u *Unrest) Reset() { clear(u.groups) }

// Add takes the frames of a chunk that are not skipped. free tells the columns that are free of
// what is known; all lie within from…to.
func (u *Unrest) Add(s *spectrum.Spectrogram, free, skip []bool, from, to int) {
	groups := max(leastGroups, int(float64(to-from)*s.BinWidth()/unrestWidth))
	if len(u.groups) != groups || len(u.power) != to-from {
		u.groups, u.power = make([]unrestGroup, groups), make([]float32, to-from)
	}
	for g := range u.groups {
		u.groups[g].columns = 0
	}
	for b := from; b < to; b++ {
		if free[b] {
			u.groups[(b-from)*groups/(to-from)].columns++
		}
	}
	u.level = u.level[:0]
	blocks, kept := int(math.Round(float64(s.Frames*s.Hop)/s.Rate/unrestBlock)), 0
	for k := range blocks {
		kept += u.addBlock(s, free, skip, from, [2]int{k * s.Frames / blocks, (k + 1) * s.Frames / blocks})
	}
	if len(u.level) > 0 {
		u.compare(float64(kept) * float64(groups) / float64(len(u.level)))
	}
}

// addBlock appends the levels of the groups in a block of frames, and counts the frames kept.
func (u *Unrest) addBlock(s *spectrum.Spectrogram, free, skip []bool, from int, frames [2]int) (kept int) {
	clear(u.power)
	for f := frames[0]; f < frames[1]; f++ {
		if !skip[f] {
			re, im := s.Row(f)
			fft.AddPowers(u.power, re[from:from+len(u.power)], im[from:from+len(u.power)])
			kept++
		}
	}
	if kept == 0 {
		return 0
	}
	at, groups := len(u.level), len(u.groups)
	for range groups {
		u.level = append(u.level, 0)
	}
	for b, p := range u.power {
		if free[from+b] {
			u.level[at+b*groups/len(u.power)] += float64(p) / float64(kept)
		}
	}
	return kept
}

// compare adds up how far the groups' levels, each over its mean, go beside what all have in
// common; a block has so many frames on average.
func (u *Unrest) compare(frames float64) {
	groups, all := len(u.groups), 0.0
	for g := range u.groups {
		mean := 0.0
		for at := g; at < len(u.level); at += groups {
			mean += u.level[at] * float64(groups) / float64(len(u.level))
		}
		for at := g; at < len(u.level) && mean > 0; at += groups {
			u.level[at] /= mean
		}
		all += u.groups[g].columns
	}
	for at := 0; at < len(u.level); at += groups {
		common := 0.0
		for g := range u.groups {
			common += u.groups[g].columns / all * u.level[at+g]
		}
		for g := range u.groups {
			if common > 0 {
				d := u.level[at+g]/common - 1
				u.groups[g].square += u.groups[g].columns * d * d
			}
		}
	}
	for g := range u.groups {
		if n := u.groups[g].columns; n > 0 {
			u.groups[g].expect(frames, float64(len(u.level)/groups-1)*(1-n/all))
		}
	}
}

// expect adds what steady noise has of squared deviations in blocks of so many frames.
func (g *unrestGroup) expect(frames, freedoms float64) {
	n := g.columns
	pairs := 1 + 2*((n-1)*fft.BinCorrelation(1)+max(0, n-2)*fft.BinCorrelation(2))/n
	variance := pairs * fft.OverlapLoss / frames // times n, as the squares are
	g.expected += freedoms * variance
	g.doubt += 2 * freedoms * variance * variance
	g.weight += freedoms * n
}

// excess gives the relative variance by which what is free goes up and down by itself.
func (u *Unrest) excess() float64 {
	var excess, weight float64
	for _, g := range u.groups {
		excess, weight = excess+g.square-g.expected, weight+g.weight
	}
	return excess / weight
}

// Programme gives the relative error of the floor for what programmes add to it, and whether a
// floor can be told beside it. variation is that of the noise's power over time, by which it
// scatters more than steady noise.
func (u *Unrest) Programme(f *Estimate, variation float64) (sigma float64, ok bool) {
	v := 1 + variation
	var weight, sum, square, doubt float64
	for _, g := range u.groups {
		if g.weight > 0 {
			excess := g.square - v*g.expected
			weight, sum, doubt = weight+g.weight, sum+excess, doubt+v*v*g.doubt
			square += (excess*excess - v*v*g.doubt) / g.weight
		}
	}
	excess := sum - unrestSigmas*math.Sqrt(doubt)
	if !f.stations || variation > mostVariation || !(excess > 0) {
		return 0, true
	}
	// Where the excess is all in a share of the band, it adds to the mean by the root of that share less.
	share := 1.0
	if square*weight > sum*sum {
		share = sum * sum / (square * weight)
	}
	if f.close {
		share = max(share, closeShare)
	}
	sigma = programmeShare * math.Sqrt(excess/weight*share)
	return sigma, sigma <= mostProgramme
}
