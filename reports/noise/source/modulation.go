package source

import (
	"iter"
	"maps"
	"slices"

	"nightfloor/reports/noise/track"
	"nightfloor/reports/readlog"
	"nightfloor/reports/stats"
	"nightfloor/reports/strength"
	"nightfloor/survey"
)

// Noise modulated by the mains has no name of its own: any number of devices modulate at twice
// the mains frequency. What comes and goes with a comb is taken for that comb's; what is left is
// a source of its own (STATISTICS.md 8.7).

// A comb's lines are modulated where that was found in one of modulatedOften epochs, or more, that could
// show it: chance alone gives one in 5,000; TestLinesModulatedOften.
const modulatedOften = 10

// A Modulation is how something is modulated by the mains.
type Modulation struct {
	Envelope, Mains float64 // Hz
	Depth           float64 // of the power
	Shape           string  // of a mains period
}

// A LineModulation is the modulation of a comb's own lines, over its epochs.
type LineModulation struct {
	Modulation
	With, Of int // epochs in which it was found; in which lines were strong enough to show it
}

// Found tells whether the lines are modulated.
func (m LineModulation) Found() bool { return m.With > 0 && modulatedOften*m.With >= m.Of }

// lineModulation gathers what the detections of a comb tell.
func lineModulation(t track.Track) (m LineModulation) {
	mains := map[float64]int{}
	for _, d := range t.Fundamental() {
		if !slices.ContainsFunc(d.Findings, func(f track.Finding) bool { return f.Sought }) {
			continue
		}
		m.Of++
		if k := slices.IndexFunc(d.Findings, func(f track.Finding) bool { return f.Envelope != 0 }); k >= 0 {
			m.With++
			mains[track.MainsOf(d.Findings[k].Finding)]++
		}
	}
	m.Modulation = modulationOf(slices.Values(slices.DeleteFunc(slices.Collect(t.Findings()), func(f track.Finding) bool {
		return f.Envelope == 0 || (track.MainsOf(f.Finding) == 60) != (mains[60] > mains[50])
	})))
	return m
}

// A NoiseModulation is the modulation of noise that goes with a comb.
type NoiseModulation struct {
	Modulation
	With, Of       int       // rounds in which it was detected while the comb was on
	Without, OffOf int       // and while it was off
	Switchings     int       // of the comb, at which it was shown to be the comb's
	Among          []*Source // the combs of which one has it, where that cannot be told
	Rise           float64   // dB, of its amplitude, while the comb is on; +Inf: from nothing
}

// Shown tells whether it was shown to be the comb's.
func (m *NoiseModulation) Shown() bool { return m.Switchings > 0 }

// surer chooses between modulation at two mains frequencies, of which a comb can have one: the one
// that was shown to go with it, or was detected with it more often; either may be nil.
func surer(a, b *NoiseModulation) *NoiseModulation {
	switch {
	case b == nil:
		return a
	case a == nil || b.Shown() && !a.Shown() || a.Shown() == b.Shown() && b.With > a.With:
		return b
	}
	return a
}

// Modulation gives how the source is modulated: a comb's lines, or else the noise that goes with it
// and with no other; the zero Modulation where it is not, or that cannot be told.
func (s *Source) Modulation() (m Modulation) {
	switch c := &s.Comb; {
	case s.Kind() == survey.FindingMains:
		return modulationOf(s.Findings())
	case c.Lines.Found():
		return c.Lines.Modulation
	case c.Noise != nil && len(c.Noise.Among) < 2:
		return c.Noise.Modulation
	}
	return m
}

// modulationOf gives the median envelope frequency and depth of findings at one mains frequency,
// of those of which they are known, and the commonest shape.
func modulationOf(findings iter.Seq[track.Finding]) (m Modulation) {
	var envelopes, depths []float64
	count := map[string]int{}
	for f := range findings {
		m.Mains = track.MainsOf(f.Finding)
		if f.Envelope > 0 {
			envelopes = append(envelopes, float64(f.Envelope))
		}
		if f.Depth > 0 {
			depths = append(depths, f.Depth)
		}
		if f.Shape != "" {
			count[f.Shape]++
		}
	}
	m.Envelope, m.Depth = stats.Median(envelopes), stats.Median(depths)
	for _, shape := range slices.Sorted(maps.Keys(count)) { // of equally many the first by the alphabet
		if count[shape] > count[m.Shape] {
			m.Shape = shape
		}
	}
	return m
}

// attribute gives by comb the modulated noise of a track that goes with it, nil for none, and the
// source of what is left; nil for nothing.
func attribute(l *readlog.Log, t track.Track, combs []*Source) (own []*NoiseModulation, rest *Source) {
	noise := newSource(l, t, doubtOf(l, t, 1), measuredModulation(l, t), nil)
	found := make([]bool, len(l.Rounds))
	for i := range t {
		found[t[i].Round] = true
	}
	levels := levelsOf(l, noise)
	own = make([]*NoiseModulation, len(combs))
	var mine, perhaps []*Source
	for i, c := range combs {
		m := countRounds(noise, c, found)
		if m.With < 2 || 2*m.With < m.Of {
			continue
		}
		var against bool
		if m.Rise, m.Switchings, against = goesWith(l, levels, combs, i); against {
			continue
		}
		m.Modulation = modulationOf(t.In(func(n int) bool { return c.On[n] }).Findings())
		own[i] = &m
		if m.Shown() {
			mine = append(mine, c)
		} else {
			perhaps = append(perhaps, c)
		}
	}
	perhaps = needed(perhaps, mine, found)
	for i, c := range combs {
		switch {
		case own[i] == nil || own[i].Shown():
		case slices.Contains(perhaps, c):
			own[i].Among = perhaps
		default:
			own[i] = nil
		}
	}
	return own, leftOver(l, noise, append(mine, perhaps...))
}

// measuredModulation gives by reading what was detected of a track, and else what was measured
// by force at its mains frequency.
func measuredModulation(l *readlog.Log, t track.Track) []*survey.Finding {
	measured := detected(l, t)
	for i := range l.Readings {
		for j := range l.Readings[i].Findings {
			if f := &l.Readings[i].Findings[j]; f.Kind == survey.FindingMains && track.MainsOf(f) == track.MainsOf(t.Finding()) && measured[i] == nil {
				measured[i] = f
			}
		}
	}
	return measured
}

// needed gives those of the combs that may have the modulation which were on in a round in which it
// was found while none of those that surely have it was on.
func needed(perhaps, mine []*Source, found []bool) []*Source {
	return slices.DeleteFunc(perhaps, func(c *Source) bool {
		for n := range found {
			if found[n] && c.On[n] && !slices.ContainsFunc(mine, func(m *Source) bool { return m.On[n] }) {
				return false
			}
		}
		return true
	})
}

// countRounds counts the rounds in which the modulation was found, with a comb and without.
func countRounds(noise, c *Source, found []bool) (m NoiseModulation) {
	for n := range found {
		if !noise.Listened[n] || !c.Listened[n] {
			continue
		}
		all, some := &m.OffOf, &m.Without
		if c.On[n] {
			all, some = &m.Of, &m.With
		}
		*all++
		if found[n] {
			*some++
		}
	}
	return m
}

// levelsOf gives by setup segment and round the squared amplitude of the modulation over the
// square of the floor, NaN where it was not measured.
func levelsOf(l *readlog.Log, noise *Source) (levels [][]float64) {
	sums := strength.NewSums(l)
	for i, f := range noise.Measured {
		if r := &l.Readings[i]; f != nil && noise.Sensitive[r.SetupSegment] {
			sums.Add(l, r, f)
		}
	}
	for _, sum := range sums {
		if sum == nil {
			continue
		}
		own := make([]float64, len(l.Rounds))
		for n, p := range sum.Rounds {
			own[n] = p.Power / float64(p.Readings) // NaN of none
		}
		levels = append(levels, own)
	}
	return levels
}

// leftOver is the source of the modulated noise of rounds in which none of the combs that it
// belongs to was on, nor was in the round before or after; nil where that is none.
func leftOver(l *readlog.Log, noise *Source, mine []*Source) *Source {
	near := func(n int) bool {
		return slices.ContainsFunc(mine, func(c *Source) bool {
			return c.On[n] || n > 0 && c.On[n-1] || n+1 < len(c.On) && c.On[n+1]
		})
	}
	t := noise.In(func(n int) bool { return !near(n) })
	doubt := doubtOf(l, t, 1)
	if !shows(l, t, doubt) {
		return nil
	}
	measured := slices.Clone(noise.Measured)
	for i := range measured {
		if near(l.Readings[i].Round) {
			measured[i] = nil
		}
	}
	return newSource(l, t, doubt, measured, near)
}
