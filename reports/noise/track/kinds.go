package track

import (
	"cmp"
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

// clickRateMost is up to how many impulses a second are single clicks: a few in half a second;
// pulseRateTolerance is how far from the mains' a rate may be, as a share (STATISTICS.md 7.6);
// TestOtherKinds.
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

// Impulses gives a track for each of the three.
func Impulses(l *readlog.Log) []Track {
	return grouped(l, survey.FindingImpulses, func(a, b *survey.Finding) bool { return ImpulsesOf(a) != ImpulsesOf(b) })
}

// Humps gives a track for each hump: two are one where they have more than half of the wider
// in common.
func Humps(l *readlog.Log) []Track {
	return grouped(l, survey.FindingHump, func(a, b *survey.Finding) bool {
		return 2*(min(a.High, b.High)-max(a.Low, b.Low)) < max(a.High-a.Low, b.High-b.Low)
	})
}

// Notches gives one track of all, in whatever bands: a device that leaves out one leaves out all.
func Notches(l *readlog.Log) []Track {
	return grouped(l, survey.FindingNotch, func(a, b *survey.Finding) bool { return false })
}

// Modulated gives a track of noise modulated by the mains for each mains frequency, as if all
// were of one device each, 50 Hz first.
func Modulated(l *readlog.Log) []Track {
	tracks := grouped(l, survey.FindingMains, func(a, b *survey.Finding) bool { return MainsOf(a) != MainsOf(b) })
	slices.SortFunc(tracks, func(a, b Track) int { return cmp.Compare(MainsOf(a.Finding()), MainsOf(b.Finding())) })
	return tracks
}

// grouped gives tracks of one kind, told apart by their first findings.
func grouped(l *readlog.Log, kind string, different func(a, b *survey.Finding) bool) (tracks []Track) {
	for _, d := range detect(l, kind, different) {
		k := slices.IndexFunc(tracks, func(t Track) bool { return !different(t.Finding(), d.Findings[0].Finding) })
		if k < 0 {
			tracks = append(tracks, Track{d})
			continue
		}
		tracks[k] = append(tracks[k], d)
	}
	return tracks
}
