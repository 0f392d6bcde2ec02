package comb

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/dsp/envelope"
	"nightfloor/dsp/interference"
)

// Figures of the search for the beat of a comb's own lines.
const (
	beatLines  = 12    // of a recording at most, the strongest
	beatLeast  = 8     // a line's power over the floor in one resolution: 9 dB, that lines of 10 dB count
	beatRoom   = 250.0 // Hz about a line that must pass alike, or half of its width, which the window is part of
	beatOff    = 2.0   // columns by which a kept place may miss a line's middle
	beatSwing  = 0.25  // |c| of a depth of a half, which must be seen for the lines to count as looked at
	beatStands = 25.0  // times the noise's |c|² that such a beat must have for that
	beatOver   = 2.0   // how much more the lines must swing than the noise under them does
)

// A Beat tells whether a comb's own lines beat at twice the mains frequency: their
// power, not that of the noise between them, as MainsModulation does.
type Beat struct {
	Sought   bool    // four lines or more stood 10 dB over the floor, and a depth of a half would have been seen
	Mains    float64 // Hz, nominal: 50 or 60; 0: no beat was found
	Envelope float64 // Hz, of the beat
	Depth    float64 // (max − min)/(max + min) of the lines' power folded at Envelope
	P        float64 // that chance gives a beat so strong, all frequencies tried taken together
}

// beat seeks the beat of a comb's lines. All lines of one supply share their envelope; each
// counts alike, whatever its power, so that what beats must beat in most: one station's
// hum, and what comes through one line's channel, is told by the spread between lines (see
// interference.SeekBeat).
func (s *combSearch) beat(c Comb) Beat {
	var all []*envelope.Channels
	under := 0.0 // as interference.Beat.Power, of the noise under the lines
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
	out := Beat{P: 1}
	b, ok := interference.SeekModulation(s.views[0].mains, all)
	if !ok {
		return out
	}
	out.Sought = beatSwing*beatSwing > max(beatStands*b.Noise, beatOver*beatOver*under/b.Seconds)
	if out.P = b.P; b.Power < beatOver*beatOver*under || !b.Shared {
		return out
	}
	out.Sought, out.Mains, out.Envelope, out.Depth = true, b.Mains, b.Envelope, b.Depth
	return out
}

// lineChannels gives the power of a comb's strongest lines in a stretch, each over its own
// mean, noise subtracted; density holds that mean. It gives nil where fewer than mainsChannels
// are strong enough, and stand still enough.
func (v *View) lineChannels(s *lineStretch, c Comb, lines []combLine) *envelope.Channels {
	type own struct {
		*linePlace
		power, over float64
	}
	var some []own
	for _, l := range lines {
		wide := math.Abs(v.first+l.at*v.width) / c.Spacing * c.Width / 2 // half of it, Hz
		at := slices.IndexFunc(s.places, func(p linePlace) bool { return math.Abs(p.at-l.at) <= beatOff+wide/v.width })
		if at < 0 || math.Abs(s.places[at].at-l.at)*v.width+max(wide, beatRoom) > envelopeFlat {
			continue
		}
		place := &s.places[at]
		power := place.mean - l.noise*s.enbw/v.enbw
		if over := power / l.noise; over >= beatLeast {
			some = append(some, own{place, power, over})
		}
	}
	if len(some) < interference.FewestChannels {
		return nil
	}
	slices.SortFunc(some, func(a, b own) int { return cmp.Compare(b.over, a.over) })
	some = some[:min(len(some), beatLines)]
	n := len(some[0].linePlace.power)
	out := &envelope.Channels{Rate: s.rate, Start: s.start, Length: n, Sum: make([]float64, n)}
	for _, l := range some {
		mean := 0.0
		for _, p := range l.linePlace.power {
			mean += float64(p) / float64(n)
		}
		scale := l.linePlace.mean / mean / l.power // droop out
		for i, p := range l.linePlace.power {
			x := 1 + (float64(p)-mean)*scale
			out.Power = append(out.Power, float32(x))
			out.Sum[i] += x / float64(len(some))
		}
		out.Density = append(out.Density, l.power)
	}
	return out
}
