package track

import (
	"math"
	"slices"

	"nightfloor/reports/readlog"
	"nightfloor/survey"
)

// Impulses are told apart by their rate: single clicks, pulses at the mains frequency or twice
// that, and other rows of pulses.
const (
	Clicks = iota
	MainsPulses
	OtherPulses
)

// Impulses up to clickRateMost a second are single clicks, a few in half a second; those within
// pulseRateTolerance of the mains' rate, as a share, are the mains' (STATISTICS.md 7.6);
// TestFindingsToldApart.
const clickRateMost, pulseRateTolerance = 20.0, 0.03

// ImpulsesOf tells which of the three a finding is.
func ImpulsesOf(f *survey.Finding) int {
	rate := float64(f.Rate)
	for _, mains := range []float64{50, 60, 100, 120} {
		if math.Abs(rate/mains-1) < pulseRateTolerance {
			return MainsPulses
		}
	}
	if rate <= clickRateMost {
		return Clicks
	}
	return OtherPulses
}

// MainsOf gives the mains frequency of a finding that is modulated by it, 50 or 60 Hz.
func MainsOf(f *survey.Finding) float64 {
	switch {
	case f.Mains > 0:
		return float64(f.Mains)
	case f.Envelope > 110:
		return 60
	}
	return 50
}

// different tells by kind which two findings are not of one source.
var different = map[string]func(a, b *survey.Finding) bool{
	survey.FindingComb: func(a, b *survey.Finding) bool {
		return RelativeDifference(float64(a.Spacing), float64(b.Spacing)) > spacingResolution
	},
	survey.FindingMains:    func(a, b *survey.Finding) bool { return MainsOf(a) != MainsOf(b) },
	survey.FindingImpulses: func(a, b *survey.Finding) bool { return ImpulsesOf(a) != ImpulsesOf(b) },
	// Humps of one source have more than half of the wider in common.
	survey.FindingHump: func(a, b *survey.Finding) bool {
		return 2*(min(a.High, b.High)-max(a.Low, b.Low)) < max(a.High-a.Low, b.High-b.Low)
	},
	// A device that leaves out one band leaves out all.
	survey.FindingNotch: func(a, b *survey.Finding) bool { return false },
}

// Of gives the tracks of findings of a kind, combs apart, told apart by their first findings.
// Noise modulated by the mains is taken as if all of one frequency were of one device.
func Of(l *readlog.Log, kind string) (tracks []Track) {
	for _, d := range detect(l, kind) {
		k := slices.IndexFunc(tracks, func(t Track) bool { return !different[kind](t.Finding(), d.Findings[0].Finding) })
		if k < 0 {
			k, tracks = len(tracks), append(tracks, nil)
		}
		tracks[k] = append(tracks[k], d)
	}
	return tracks
}
