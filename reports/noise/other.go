package noise

import (
	"math"
	"slices"

	"nightfloor/survey"
)

// Impulses, humps and notches as sources of their own.

// pulseClasses tell impulses apart by their rate: single clicks, pulses at the mains
// frequency or twice that, and other rows of pulses.
const (
	clicks = iota
	mainsPulses
	otherPulses
)

// slowClicks is up to how many clicks a second are single ones: a few in half a second.
const slowClicks = 20.0

func pulseClass(f *survey.Finding) int {
	rate := float64(f.Rate)
	for _, mains := range []float64{50, 60} {
		for k := 1.0; k <= 2; k++ {
			if math.Abs(rate/(k*mains)-1) < 0.03 {
				return mainsPulses
			}
		}
	}
	if rate <= slowClicks {
		return clicks
	}
	return otherPulses
}

// pulses gives the sources of impulses, a class each.
func (l *noiseLog) pulses() []*noiseSource {
	return l.grouped(survey.FindingImpulses, func(a, b *survey.Finding) bool { return pulseClass(a) != pulseClass(b) })
}

// humps are told apart by their place: two are one where they have more than half of
// the wider in common.
func (l *noiseLog) humps() []*noiseSource {
	return l.grouped(survey.FindingHump, func(a, b *survey.Finding) bool {
		return 2*(min(a.High, b.High)-max(a.Low, b.Low)) < max(a.High-a.Low, b.High-b.Low)
	})
}

// notches are one source, in whatever bands: a device that leaves out one leaves out all.
func (l *noiseLog) notches() []*noiseSource {
	return l.grouped(survey.FindingNotch, func(a, b *survey.Finding) bool { return false })
}

// grouped gives the sources of one kind, told apart by their first findings.
func (l *noiseLog) grouped(kind string, apart func(a, b *survey.Finding) bool) (sources []*noiseSource) {
	var groups [][]detection
	for _, o := range l.observe(kind, apart) {
		at := slices.IndexFunc(groups, func(g []detection) bool { return !apart(g[0].found[0].Finding, o.found[0].Finding) })
		if at < 0 {
			groups = append(groups, []detection{o})
			continue
		}
		groups[at] = append(groups[at], o)
	}
	for _, g := range groups {
		if s := l.newNoiseSource(kind, g, 1); l.shows(s) {
			l.measureDetected(s)
			l.place(s, nil)
			sources = append(sources, s)
		}
	}
	return sources
}
