package judge

import (
	"fmt"
	"slices"
	"time"

	"nightfloor/reports/noise/source"
	"nightfloor/reports/readlog"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

const (
	// Silence by day, or by night, tells something from roundsFew rounds on (STATISTICS.md 8.6);
	// TestSignsOfFences.
	roundsFew = 4
	// allTheTime is the share of the rounds from which a source counts as never off; TestSignsOfFences.
	allTheTime = 0.9
	// Where more than one in unmeasuredOften readings while the source was on hold no measure of it,
	// that is said; TestMissingMeasures.
	unmeasuredOften = 5
)

// A Verdict is what a source is taken for, and why.
type Verdict struct {
	Likely            string
	Evidence, Against []string
}

func (v *Verdict) supports(format string, args ...any) {
	v.Evidence = append(v.Evidence, fmt.Sprintf(format, args...))
}

func (v *Verdict) contradicts(format string, args ...any) {
	v.Against = append(v.Against, fmt.Sprintf(format, args...))
}

// known is what is known, besides a source itself, when it is judged.
type known struct {
	*readlog.Log
	all      []*source.Source
	zone     *time.Location // of the clock hours it tells
	controls map[survey.Setup]bool
	own      []calibratedLine
	sunsets  [][]crossing
	sunrises [][]crossing
}

// Verdicts judges all sources, which are numbered from 1 in their order; clock hours are those of
// the zone.
func Verdicts(l *readlog.Log, all []*source.Source, zone *time.Location) (verdicts []Verdict) {
	k := &known{l, all, zone, l.In.Controls(), calibrated(l), crossings(l, false), crossings(l, true)}
	for _, s := range all {
		verdicts = append(verdicts, k.judge(s))
	}
	return verdicts
}

func (k *known) judge(s *source.Source) Verdict {
	v := Verdict{Likely: result.LikelyNotKnown, Evidence: []string{}, Against: []string{}}
	h := k.habits(s)
	switch s.Kind() {
	case survey.FindingComb:
		k.comb(&v, s, h)
	case survey.FindingMains:
		k.modulated(&v, s, h)
	case survey.FindingImpulses:
		k.impulses(&v, s, h)
	case survey.FindingHump:
		k.hump(&v, s)
	case survey.FindingNotch:
		k.notch(&v, s)
	}
	h.tell(&v)
	k.common(&v, s)
	return v
}

// common says what speaks against any source.
func (k *known) common(v *Verdict, s *source.Source) {
	if len(s.Track) == 1 {
		v.contradicts("seen once")
	}
	detected, there := map[survey.Setup]bool{}, map[survey.Setup]bool{}
	for _, d := range s.Track {
		for _, f := range d.Findings {
			detected[k.Readings[f.Reading].Sweep.Setup] = true
		}
	}
	readings, unmeasured := 0, 0
	for i := range k.Readings {
		if setup := k.Readings[i].Sweep.Setup; s.During[i] {
			there[setup] = true
			if s.Kind() == survey.FindingComb && detected[setup] {
				readings++
				if s.Measured[i] == nil {
					unmeasured++
				}
			}
		}
	}
	v.supports("stood out by itself at %s, through %d of %s", survey.Count(len(s.Track), "moment"), len(detected), survey.Count(len(there), "setup"))
	if len(detected) == 1 && len(there) > 1 {
		v.contradicts("heard through one setup only")
	}
	if unmeasuredOften*unmeasured > readings {
		v.contradicts("%d of %s while it was on hold no measure of it: levels may read high", unmeasured, survey.Count(readings, "reading"))
	}
	if s.NeverOff() && len(s.Track) > 1 {
		v.contradicts("it was never heard off: its hours tell nothing of it")
	}
}

// segments gives the names of the segments in which the source was detected, and the words for them.
func (k *known) segments(s *source.Source) (names []string, text string) {
	for f := range s.Findings() {
		if name := wording.Printable(k.Readings[f.Reading].Segment.Name); !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	if len(names) > 4 {
		return names, fmt.Sprintf("in %d segments", len(names))
	}
	return names, "on " + wording.List(names)
}
