package noise

import (
	"cmp"
	"math"
	"slices"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/readlog"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// Find finds the devices behind the findings. Those that share a spacing, an
// envelope or hours are one. A source was found at two epochs or more, or is in recordings
// that were imported; chance alone makes one so sure in less than one of 1,000 surveys.
func Find(log *readlog.Log) *Found {
	l := newNoiseLog(log)
	f := &Found{log: l}
	f.sources, f.alone = l.sources()
	return f
}

// Found are the noise sources of a selection.
type Found struct {
	log     *noiseLog
	sources []*noiseSource // the surest first
	alone   int            // combs of which chance is not ruled out
}

// Result judges the sources and shows them, clock hours in the given zone. Rises of the floor
// are left to the caller.
func (f *Found) Result(zone *time.Location) result.NoiseSources {
	l := f.log
	out := result.NoiseSources{Schema: result.SchemaNoiseSources, Simulated: l.In.Simulated(), Sources: []result.NoiseSource{}, Rises: []result.Rise{}, Doubts: []doubt.Doubt{}}
	j := l.newJudge(f.sources, zone)
	for _, s := range f.sources {
		out.Sources = append(out.Sources, l.result(s, j))
	}
	for i := range out.Sources {
		out.Sources[i].ID = i + 1
	}
	out.OwnLines = l.ownLines()
	if f.alone > 0 {
		out.Doubts = append(out.Doubts, doubt.New(doubt.CombsOnce, doubt.Count{N: f.alone, Noun: "comb"}))
	}
	if !l.sought() {
		out.Doubts = append(out.Doubts, doubt.New(doubt.NotSought))
	}
	return out
}

// sought tells whether any reading holds a finding, measured by force or detected, or
// there are no readings.
func (l *noiseLog) sought() bool {
	return len(l.Readings) == 0 || slices.ContainsFunc(l.Readings, func(h readlog.Reading) bool { return len(h.Findings) > 0 })
}

// sources gives all sources, the surest first, and how many combs are none.
func (l *noiseLog) sources() (all []*noiseSource, alone int) {
	all, alone = l.combs()
	for _, s := range all {
		l.place(s, nil)
		s.drift, s.spacing, s.drifts, s.brief = l.drift(s)
	}
	combs := all
	for _, beat := range l.beats() {
		if rest := l.share(beat, combs); rest != nil {
			all = append(all, rest)
		}
	}
	all = append(all, l.pulses()...)
	all = append(all, l.humps()...)
	all = append(all, l.notches()...)
	slices.SortStableFunc(all, func(a, b *noiseSource) int {
		return cmp.Or(cmp.Compare(a.doubt, b.doubt), cmp.Compare(len(b.obs), len(a.obs)))
	})
	return all, alone
}

// result shows a source.
func (l *noiseLog) result(s *noiseSource, j *judge) result.NoiseSource {
	out := result.NoiseSource{Kind: s.kind, ShareOfRounds: s.share(), Confidence: 1 - s.doubt, Detections: len(s.obs), Strength: l.strengths(s)}
	for _, p := range s.spans {
		out.Hours = append(out.Hours, result.NoiseHours{From: p.First.UTC(), To: p.Last.UTC()})
	}
	out.First, out.Last = out.Hours[0].From, out.Hours[0].To
	for _, h := range out.Hours {
		if h.To.After(out.Last) {
			out.Last = h.To
		}
	}
	if low, high, ok := s.stretch(); ok {
		out.Low, out.High = &low, &high
	}
	switch s.kind {
	case survey.FindingComb:
		out.Spacing = hertz(s.spacing)
		lines := l.linesInView(s)
		out.Lines = &lines
		if s.drifts {
			drift := math.Round(100*s.drift)/100 + 0 // no −0
			out.Drift = &drift
		}
		if b := s.lineBeat(); b.found() {
			setBeat(&out, b.envelope, b.mains, b.depth, "")
		} else if p := s.mains; p != nil && len(p.among) < 2 {
			setBeat(&out, p.envelope, p.mains, p.depth, p.shape)
		}
	case survey.FindingMains:
		envelope, depth, shape := beatFigures(s.findings())
		setBeat(&out, envelope, mainsOf(s.obs[0].found[0].Finding), depth, shape)
	case survey.FindingImpulses:
		c := l.pulseCount(s)
		out.Pulses, out.Listened = c.pulses, c.time
		if !c.few() {
			out.Rate = hertz(c.rate())
		}
	}
	v := j.judge(s, &out)
	out.Likely, out.Evidence, out.Against = v.likely, v.evidence, v.against
	return out
}

func setBeat(out *result.NoiseSource, envelope, mains, depth float64, shape string) {
	out.Envelope, out.Mains = hertz(envelope), hertz(mains)
	if depth > 0 {
		out.Depth = &depth
	}
	if shape != "" {
		out.Shape = &shape
	}
}

// hertz gives a frequency, nil where it is none.
func hertz(f float64) *survey.Hz {
	if !(f > 0) || !stats.Finite(f) {
		return nil
	}
	hz := survey.Hz(f)
	return &hz
}

// stretch gives the edges between which the source was seen.
func (s *noiseSource) stretch() (low, high survey.Hz, ok bool) {
	for g := range s.findings() {
		if g.High <= g.Low {
			continue
		}
		if !ok {
			low, high, ok = g.Low, g.High, true
		}
		low, high = min(low, g.Low), max(high, g.High)
	}
	return low, high, ok
}

// linesInView gives the most multiples in view at one epoch, in all its tunings.
func (l *noiseLog) linesInView(s *noiseSource) (most int) {
	for _, o := range s.obs {
		if o.harmonicAlias {
			continue
		}
		lines, seen := 0, map[survey.Hz]bool{}
		for _, g := range o.found {
			if centre := l.Readings[g.reading].Centre; !seen[centre] {
				seen[centre] = true
				lines += g.Lines
			}
		}
		most = max(most, lines)
	}
	return most
}
