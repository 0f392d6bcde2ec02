package source

import (
	"cmp"
	"iter"
	"maps"
	"math"
	"slices"

	"nightfloor/reports/isolation"
	"nightfloor/reports/noise/presence"
	"nightfloor/reports/noise/track"
	"nightfloor/reports/readlog"
	"nightfloor/reports/result"
	"nightfloor/reports/strength"
	"nightfloor/survey"
)

// How likely chance agrees with what was detected before (STATISTICS.md 7.2); TestAliasesAgreeByChance.
const (
	// combsAgree is the probability that two combs of chance, found anywhere between 15
	// and 500 kHz, lie within track.ColdTolerance of each other: 2·0.0015/ln(500/15).
	combsAgree = 1e-3
	// aliasAgree is the same for one of the ten ratios between spacings that one source may be
	// found at, to 3e-4 and what an hour of its drift adds: 10·2·8e-4/ln(500/15).
	aliasAgree = 5e-3
	// sourceDoubtLeast is the least doubt that is claimed of a source: what its detections have
	// in common, such as a service that looks like interference, no number of them removes;
	// TestDoubtThatIsLeft.
	sourceDoubtLeast = 1e-6
)

// A Source is one noise source.
type Source struct {
	track.Track // what was detected
	presence.Presence
	Doubt    float64           // the probability that chance alone gives what was detected
	Measured []*survey.Finding // by reading: detected or measured by force; nil: neither
	Comb     Comb              // of a comb
	Impulses presence.ImpulseCount
}

// A Comb is what is known of a comb besides.
type Comb struct {
	Spacing float64 // Hz, once warm
	Drift   Drift
	Lines   LineModulation
	Noise   *NoiseModulation // the modulation of noise that goes with it; nil: none
}

// Find gives all sources, the surest first, and the number of combs that are none, since chance
// is not ruled out.
func Find(l *readlog.Log) (all []*Source, chance int) {
	combs, chance := combSources(l)
	all = slices.Clone(combs)
	modulated := track.Of(l, survey.FindingMains)
	slices.SortFunc(modulated, func(a, b track.Track) int { return cmp.Compare(track.MainsOf(a.Finding()), track.MainsOf(b.Finding())) })
	for _, t := range modulated { // 50 Hz first
		own, rest := attribute(l, t, combs)
		for i, c := range combs {
			c.Comb.Noise = surer(c.Comb.Noise, own[i])
		}
		if rest != nil {
			all = append(all, rest)
		}
	}
	for _, kind := range []string{survey.FindingImpulses, survey.FindingHump, survey.FindingNotch} {
		for _, t := range track.Of(l, kind) {
			if doubt := doubtOf(l, t, 1); shows(l, t, doubt) {
				s := newSource(l, t, doubt, detected(l, t), nil)
				if kind == survey.FindingImpulses {
					s.Impulses = presence.CountImpulses(l, t, s.Measured, s.Presence)
				}
				all = append(all, s)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b *Source) int {
		return cmp.Or(cmp.Compare(a.Doubt, b.Doubt), cmp.Compare(len(b.Track), len(a.Track)))
	})
	return all, chance
}

func newSource(l *readlog.Log, t track.Track, doubt float64, measured []*survey.Finding, masked func(round int) bool) *Source {
	return &Source{Track: t, Presence: presence.Of(l, t, measured, masked), Doubt: doubt, Measured: measured}
}

// combSources gives the sources of combs, and the number of combs that are none.
func combSources(l *readlog.Log) (sources []*Source, chance int) {
	var tracks []track.Track
	var doubts []float64
	for _, t := range track.Combs(l) {
		if doubt := doubtOf(l, t, combsAgree); shows(l, t, doubt) {
			tracks, doubts = append(tracks, t), append(doubts, doubt)
		} else {
			chance++
		}
	}
	measured := measuredCombs(l, tracks)
	for i, t := range tracks {
		s := newSource(l, t, doubts[i], measured[i], nil)
		s.Comb.Lines = lineModulation(t)
		s.Comb.Drift, s.Comb.Spacing = driftOf(l, s)
		sources = append(sources, s)
	}
	return sources, chance
}

// detected gives by reading what was detected.
func detected(l *readlog.Log, t track.Track) []*survey.Finding {
	measured := make([]*survey.Finding, len(l.Readings))
	for f := range t.Findings() {
		measured[f.Reading] = f.Finding
	}
	return measured
}

// measuredCombs gives by track and reading what was detected, and else what was measured by force:
// a comb at the spacing that the track has near that time.
func measuredCombs(l *readlog.Log, tracks []track.Track) (measured [][]*survey.Finding) {
	own := make([]track.Track, len(tracks))
	for k, t := range tracks {
		measured = append(measured, detected(l, t))
		own[k] = t.Fundamental()
	}
	for i := range l.Readings {
		r := &l.Readings[i]
		for j := range r.Findings {
			f := &r.Findings[j]
			if f.Kind != survey.FindingComb || f.Detected() {
				continue
			}
			best, of := track.ColdTolerance, -1
			for k, t := range own {
				if d := track.RelativeDifference(t.Nearest(r.Start).Spacing, float64(f.Spacing)); d < best {
					best, of = d, k
				}
			}
			if of >= 0 && measured[of][i] == nil {
				measured[of][i] = f
			}
		}
	}
	return measured
}

// doubtOf gives the probability that chance alone makes evidence as strong as a track's
// (STATISTICS.md 7.2). Of each round the surest detection counts: detections of one round share
// their stations and the receiver's state. The k surest rounds say C(n, k) times the product of
// their doubts, n being the number of epochs in all; and each but the first agrees with the one
// before it by chance with the probability agree, an alias with aliasAgree. The k that says most
// is taken, times k(k+1) for having tried the others: 1/2 + 1/6 + 1/12 … = 1.
func doubtOf(l *readlog.Log, t track.Track, agree float64) float64 {
	surest := map[int]float64{}
	for i := range t {
		agrees := agree
		if t[i].HarmonicAlias {
			agrees = aliasAgree
		}
		surest[t[i].Round] = min(surest[t[i].Round], math.Log10(t[i].Doubt*agrees))
	}
	doubts := slices.Sorted(maps.Values(surest))
	n := float64(max(l.Tunings, len(t)))
	least, sum := 0.0, 0.0
	for i, d := range doubts {
		k := float64(i + 1)
		sum += d + math.Log10((n-k+1)/k)
		tried := 0.0
		if len(doubts) > 1 {
			tried = math.Log10(k * (k + 1))
		}
		least = min(least, sum-math.Log10(agree)+tried) // the first agrees with none
	}
	return min(1, max(sourceDoubtLeast, math.Pow(10, least)))
}

// shows tells whether the evidence makes it a source: at two epochs, or at one of recordings
// that were imported.
func shows(l *readlog.Log, t track.Track, doubt float64) bool {
	return 1-doubt >= survey.Confident && (len(t) > 1 || !l.Recorded[t[0].Survey])
}

// WhileOn gives the readings in which the source was measured while it was on.
func (s *Source) WhileOn(l *readlog.Log) iter.Seq2[*readlog.Reading, *survey.Finding] {
	return func(yield func(*readlog.Reading, *survey.Finding) bool) {
		for i, f := range s.Measured {
			if f != nil && s.During[i] && !yield(&l.Readings[i], f) {
				return
			}
		}
	}
}

// Band gives the edges between which the source was seen; ok is false where none is known.
func (s *Source) Band() (low, high survey.Hz, ok bool) {
	low = survey.Hz(math.Inf(1))
	for f := range s.Findings() {
		if f.High > f.Low {
			low, high = min(low, f.Low), max(high, f.High)
		}
	}
	return low, high, high > low
}

// LinesInView gives the most multiples of a comb in view at one epoch, in all its tunings.
func (s *Source) LinesInView(l *readlog.Log) (most int) {
	for _, d := range s.Fundamental() {
		lines, seen := 0, map[survey.Hz]bool{}
		for _, f := range d.Findings {
			if centre := l.Readings[f.Reading].Centre; !seen[centre] {
				seen[centre] = true
				lines += f.Lines
			}
		}
		most = max(most, lines)
	}
	return most
}

// Strengths tells how strong a source is through every setup in every segment while it is on. Of
// combs and of modulated noise every reading counts in which they were measured, by force too,
// so that none between two detections is chosen for its strength: a power may be negative, and
// is combined as it is. Impulses, humps and notches are measured only where they are detected:
// the levels of those that come near the detectors' bounds read high.
func Strengths(l *readlog.Log, s *Source) []result.NoiseStrength {
	sums := strength.NewSums(l)
	for r, f := range s.WhileOn(l) {
		sums.Add(l, r, f)
	}
	out, antennas := []result.NoiseStrength{}, l.In.Antennas()
	for e, sum := range sums {
		if x := strength.At(l, e); sum != nil {
			if sum.Tell(&x); x.Rounds > 0 {
				for c, control := range sums {
					if at := l.SetupSegments[c]; control != nil && antennas[at.Setup].Isolates(antennas[x.Setup]) && !antennas[x.Setup].Control() && at.Segment == l.SetupSegments[e].Segment {
						x.Isolation = isolation.Worse(x.Isolation, sum.Isolation(control))
					}
				}
				out = append(out, x)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b result.NoiseStrength) int { return cmp.Compare(a.SegmentLow, b.SegmentLow) })
	return out
}
