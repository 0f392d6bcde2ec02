package noise

import (
	"iter"
	"math"
	"slices"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/noise/judge"
	"nightfloor/reports/noise/source"
	"nightfloor/reports/noise/track"
	"nightfloor/reports/readlog"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/strata"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// Found are the noise sources of a selection.
type Found struct {
	log     *readlog.Log
	sources []*source.Source // the surest first
	chance  int              // combs of which chance is not ruled out
}

// Find finds the devices behind the findings. Those that share a spacing, an
// envelope or hours are one. A source was found at two epochs or more, or is in recordings
// that were imported; chance alone makes one so sure in less than one of 1,000 surveys.
func Find(l *readlog.Log) *Found {
	sources, chance := source.Find(l)
	return &Found{l, sources, chance}
}

// Result judges the sources and shows them, clock hours in the given zone. Rises of the floor
// are left to the caller.
func (f *Found) Result(zone *time.Location) result.NoiseSources {
	l := f.log
	out := result.NoiseSources{Schema: result.SchemaNoiseSources, Simulated: l.In.Simulated(), Sources: []result.NoiseSource{},
		OwnLines: judge.OwnLines(l), Rises: []result.Rise{}, Doubts: []doubt.Doubt{}}
	for i, v := range judge.Verdicts(l, f.sources, zone) {
		x := shown(l, f.sources[i])
		x.ID, x.Likely, x.Evidence, x.Against = i+1, v.Likely, v.Evidence, v.Against
		out.Sources = append(out.Sources, x)
		if d := leaks(&x); d.Kind != "" {
			out.Doubts = append(out.Doubts, d)
		}
	}
	if f.chance > 0 {
		out.Doubts = append(out.Doubts, doubt.New(doubt.CombsOnce, doubt.Count{N: f.chance, Noun: "comb"}))
	}
	sought := func(r readlog.Reading) bool { return len(r.Findings) > 0 } // and measured by force, or detected
	if len(l.Readings) > 0 && !slices.ContainsFunc(l.Readings, sought) {
		out.Doubts = append(out.Doubts, doubt.New(doubt.NotSought))
	}
	return out
}

// Hours gives when each source was on and when it was known to be off, numbered as in the result.
func (f *Found) Hours() (all []strata.Source) {
	for i, s := range f.sources {
		on, off := s.Hours(f.log)
		all = append(all, strata.Source{ID: i + 1, On: on, Off: off})
	}
	return all
}

// shown gives the figures of a source.
func shown(l *readlog.Log, s *source.Source) result.NoiseSource {
	out := result.NoiseSource{Kind: s.Kind(), ShareOfRounds: s.ShareOfRounds(), Confidence: 1 - s.Doubt, Detections: len(s.Track), Strength: source.Strengths(l, s)}
	var whole input.Span
	for _, p := range s.Spans {
		out.Hours = append(out.Hours, result.NoiseHours{From: p.First.UTC(), To: p.Last.UTC()})
		whole = whole.With(p.Span)
	}
	out.First, out.Last = whole.First.UTC(), whole.Last.UTC()
	if low, high, ok := s.Band(); ok {
		out.Low, out.High = &low, &high
	}
	m := s.Modulation()
	out.Envelope, out.Mains = hertz(m.Envelope), hertz(m.Mains)
	if m.Depth > 0 {
		out.Depth = &m.Depth
	}
	if m.Shape != "" {
		out.Shape = &m.Shape
	}
	switch s.Kind() {
	case survey.FindingComb:
		lines := s.LinesInView(l)
		out.Spacing, out.Lines = hertz(s.Comb.Spacing), &lines
		if d := s.Comb.Drift; d.Known {
			drift := math.Round(100*d.Slope)/100 + 0 // no −0
			out.Drift = &drift
		}
	case survey.FindingImpulses:
		out.Pulses, out.Listened = s.Impulses.Impulses, s.Impulses.Time
		if track.ImpulsesOf(s.Finding()) == track.Clicks && s.Impulses.Time > 0 {
			low, high := s.Impulses.RateInterval()
			out.RateLow, out.RateHigh = hertz(low), hertz(high)
		}
		if !s.Impulses.Few() {
			out.Rate = hertz(s.Impulses.Rate())
		}
	}
	return out
}

// leaks says where a source comes through a control nearly as well as through an antenna, of all the nearest; zero where
// it nowhere does. What is the receiver's own does so.
func leaks(s *result.NoiseSource) (d doubt.Doubt) {
	var worst *result.NoiseStrength
	for i := range s.Strength {
		if x := &s.Strength[i]; x.Isolation != nil && x.Isolation.Poor && (worst == nil || *x.Isolation.DB < *worst.Isolation.DB) {
			worst = x
		}
	}
	if worst == nil || s.Likely == result.LikelyOwn {
		return d
	}
	i := worst.Isolation
	if i.Low == nil {
		return doubt.New(doubt.SourceAsStrong, s.ID, worst.Setup, worst.Segment)
	}
	return doubt.New(doubt.SourceLeaks, s.ID, wording.Figure(i.DB, 1), worst.Setup, worst.Segment, wording.Signed(i.Low, 1), wording.Signed(i.High, 1))
}

// hertz gives a frequency, nil where it is none.
func hertz(f float64) *survey.Hz {
	if !(f > 0) || !stats.Finite(f) {
		return nil
	}
	hz := survey.Hz(f)
	return &hz
}

// Measured is what was measured of one source while it was on, in order of time: of a comb
// its lines' power, of noise modulated by the mains the square of its amplitude.
type Measured struct {
	ID       int        // as in the result
	Spacing  *survey.Hz // nil: no comb
	Envelope *survey.Hz // of the mains modulation; nil: none
	Squared  bool       // powers are squares
	WhileOn  iter.Seq2[*readlog.Reading, *survey.Finding]
}

// Measured gives the combs and the noise modulated by the mains, the surest first: the sources that
// are measured by force, so that no reading of them is chosen for its strength.
func (f *Found) Measured() (all []Measured) {
	for i, s := range f.sources {
		if kind := s.Kind(); kind == survey.FindingComb || kind == survey.FindingMains {
			m := s.Modulation()
			if n := s.Comb.Noise; n != nil && !s.Comb.Lines.Found() { // though another comb may have it
				m = n.Modulation
			}
			all = append(all, Measured{ID: i + 1, Spacing: hertz(s.Comb.Spacing), Envelope: hertz(m.Envelope),
				Squared: kind == survey.FindingMains, WhileOn: s.WhileOn(f.log)})
		}
	}
	return all
}

// OnByRound gives for each source that was off at times in which rounds it was on, and in which off.
// Rounds in which it may have been switched are not in it, nor those that could not show it.
func (f *Found) OnByRound() (all []map[input.RoundKey]bool) {
	for _, s := range f.sources {
		if s.NeverOff() {
			continue
		}
		on := map[input.RoundKey]bool{}
		for n, listened := range s.Listened {
			if listened {
				on[f.log.Rounds[n].Key] = s.On[n]
			}
		}
		for _, p := range s.Spans {
			delete(on, f.log.Rounds[p.FirstRound].Key)
			delete(on, f.log.Rounds[p.LastRound].Key)
		}
		all = append(all, on)
	}
	return all
}
