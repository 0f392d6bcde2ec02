package comb

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/dsp/envelope"
	"nightfloor/dsp/interference"
)

// The search for modulation of a comb's lines. METHODS.md 12.12; c is half the depth of a
// cosine.
const (
	modulationMaxLines = 12    // of a recording, the strongest; with more the depth is hardly better known, which bounds the time
	modulationMinPower = 8     // of a line over the noise in one resolution: 9 dB, that lines of 10 dB count (TestModulationNeedsStrongLines)
	modulationHalfBand = 250.0 // Hz on either side of a line, or half its width, that its channel must pass alike (TestModulationPValue)
	keptLineError      = 2.0   // columns from a multiple to a kept line; chosen (TestKeptLineOffItsMultiple)
	resolvableSwing    = 0.25  // |c| of a depth of a half, which Sought promises would be seen
	resolvableRatio    = 25.0  // |c|² of that depth over that of noise: five standard deviations (TestModulationNeedsStrongLines)
	overNoiseSwing     = 2.0   // swing of the lines over that of the noise under them; chosen (TestNoModulationOfLines)
)

// A Modulation says whether the power of a comb's lines swings at twice the mains
// frequency. interference.MainsModulation says so of the noise between the lines.
type Modulation struct {
	Sought   bool    // four lines or more stood 10 dB over the floor, and a depth of a half would have been seen
	Mains    float64 // Hz, nominal: 50 or 60; 0: none was found
	Envelope float64 // Hz, of the swing: about twice Mains
	Depth    float64 // (max − min)/(max + min) of the lines' power folded at Envelope
	P        float64 // probability that noise gives a swing as strong, all frequencies tried counted
}

// modulation seeks the modulation of a comb's lines. All lines of one supply share their
// envelope. Each counts alike, whatever its power, so that most must swing: the hum of one
// station, or a disturbance in one channel, widens the spread between the lines instead.
func (s *combSearch) modulation(c Comb) Modulation {
	var all []*envelope.Channels
	under := 0.0 // Σ seconds·|c|² of the noise under the lines
	for _, v := range s.views {
		lines := v.combLines(c)
		for i := range v.stretches {
			ch := v.lineChannels(&v.stretches[i], c, lines)
			if ch == nil {
				continue
			}
			all = append(all, ch)
			noise := 0.0
			for _, power := range ch.Density { // of a cosine c is half the amplitude
				noise += v.swing * v.stretches[i].enbw * v.width / power / 2 / float64(ch.Count())
			}
			under += ch.Seconds() * noise * noise
		}
	}
	out := Modulation{P: 1}
	b, ok := interference.SeekModulation(s.views[0].mains, all)
	if !ok {
		return out
	}
	out.Sought = resolvableSwing*resolvableSwing > max(resolvableRatio*b.Noise, overNoiseSwing*overNoiseSwing*under/b.Seconds)
	if out.P = b.P; b.Power < overNoiseSwing*overNoiseSwing*under || !b.Shared {
		return out
	}
	out.Sought, out.Mains, out.Envelope, out.Depth = true, b.Mains, b.Envelope, b.Depth
	return out
}

// lineChannels gives the power over time of a comb's strongest lines in a stretch, each
// over its own mean, noise subtracted; Density holds those means. It returns nil where
// fewer than interference.FewestChannels are strong enough and within their channels.
func (v *View) lineChannels(s *lineStretch, c Comb, lines []combLine) *envelope.Channels {
	type own struct {
		*keptLine
		power, over float64
	}
	var some []own
	for _, l := range lines {
		wide := math.Abs(v.first+l.at*v.width) / c.Spacing * c.Width / 2 // half of it, Hz
		at := slices.IndexFunc(s.lines, func(p keptLine) bool { return math.Abs(p.at-l.at) <= keptLineError+wide/v.width })
		if at < 0 || math.Abs(s.lines[at].at-l.at)*v.width+max(wide, modulationHalfBand) > keptHalfBand {
			continue
		}
		place := &s.lines[at]
		power := place.mean - l.noise*s.enbw/v.enbw
		if over := power / l.noise; over >= modulationMinPower {
			some = append(some, own{place, power, over})
		}
	}
	if len(some) < interference.FewestChannels {
		return nil
	}
	slices.SortFunc(some, func(a, b own) int { return cmp.Compare(b.over, a.over) })
	some = some[:min(len(some), modulationMaxLines)]
	n := len(some[0].keptLine.power)
	out := &envelope.Channels{Rate: s.rate, Start: s.start, Length: n, Sum: make([]float64, n)}
	for _, l := range some {
		mean := 0.0
		for _, p := range l.keptLine.power {
			mean += float64(p) / float64(n)
		}
		scale := l.keptLine.mean / mean / l.power // droop out
		for i, p := range l.keptLine.power {
			x := 1 + (float64(p)-mean)*scale
			out.Power = append(out.Power, float32(x))
			out.Sum[i] += x / float64(len(some))
		}
		out.Density = append(out.Density, l.power)
	}
	return out
}
