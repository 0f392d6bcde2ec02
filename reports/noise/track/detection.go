package track

import (
	"iter"
	"math"
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
	"nightfloor/survey"
)

// An Epoch tells apart pieces of evidence: readings that share a tuning share what was found in
// it, and those of one sweep of a survey share their combs.
type Epoch struct {
	Survey int64
	At     time.Time
}

// EpochOf gives the epoch of what was found of one kind in a reading.
func EpochOf(l *readlog.Log, r *readlog.Reading, kind string) Epoch {
	if kind == survey.FindingComb && l.Recorded[r.Sweep.Survey] {
		return Epoch{r.Sweep.Survey, r.Sweep.Start}
	}
	return Epoch{r.Sweep.Survey, r.Start}
}

// A Detection is what one epoch tells of a source.
type Detection struct {
	Epoch
	input.Span            // of the readings that hold it
	Round         int     // of the first of them
	Spacing       float64 // Hz; of a comb
	Doubt         float64 // the probability that chance alone gives such evidence
	HarmonicAlias bool    // a comb at another multiple of the source's spacing
	Findings      []Finding
	shared        bool // found as one with another comb, whose spacing was the same just then
	copied        bool // the same, nearer to the other's track: put in where the spacing was due
}

// A Finding is what was found in one reading.
type Finding struct {
	Reading int
	*survey.Finding
}

// findingDoubtLeast is the least doubt that a single finding is given: no detector has been tried so
// often that less could be said of it (STATISTICS.md 7.2); TestDoubtThatIsLeft of package source.
const findingDoubtLeast = 1e-9

// A Track is what was detected of one thing, in order of time.
type Track []Detection

// detect gathers detected findings of one kind by epoch. Those of one epoch that are not
// different are one detection.
func detect(l *readlog.Log, kind string) (all Track) {
	now := map[int64][]int{} // by survey: the detections of its latest epoch
	for i := range l.Readings {
		r := &l.Readings[i]
		for j := range r.Findings {
			f := &r.Findings[j]
			if f.Kind != kind || !f.Detected() {
				continue
			}
			epoch := EpochOf(l, r, kind)
			own := now[epoch.Survey]
			if len(own) > 0 && all[own[0]].Epoch != epoch {
				own = own[:0]
			}
			k := slices.IndexFunc(own, func(n int) bool { return !different[kind](all[n].Findings[0].Finding, f) })
			if k < 0 {
				k, own = len(own), append(own, len(all))
				all = append(all, Detection{Epoch: epoch, Round: r.Round, Spacing: float64(f.Spacing), Doubt: 1})
			}
			now[epoch.Survey] = own
			d := &all[own[k]]
			d.Span, d.Doubt = d.With(input.SpanOf(r.Reading)), min(d.Doubt, max(findingDoubtLeast, 1-f.Confidence))
			d.Findings = append(d.Findings, Finding{i, f})
		}
	}
	slices.SortStableFunc(all, func(a, b Detection) int { return a.At.Compare(b.At) })
	return all
}

// Finding gives the first finding, whose kind is that of all.
func (t Track) Finding() *survey.Finding { return t[0].Findings[0].Finding }

// Kind is that of all findings.
func (t Track) Kind() string { return t.Finding().Kind }

// Findings gives the findings of all detections but harmonic aliases, in order of time.
func (t Track) Findings() iter.Seq[Finding] {
	return func(yield func(Finding) bool) {
		for i := range t {
			for _, f := range t[i].Findings {
				if !t[i].HarmonicAlias && !yield(f) {
					return
				}
			}
		}
	}
}

// Fundamental gives the detections that are no harmonic aliases.
func (t Track) Fundamental() Track {
	return slices.DeleteFunc(slices.Clone(t), func(d Detection) bool { return d.HarmonicAlias })
}

// In gives the detections of some rounds.
func (t Track) In(which func(round int) bool) Track {
	return slices.DeleteFunc(slices.Clone(t), func(d Detection) bool { return !which(d.Round) })
}

func (t Track) first() *Detection { return &t[0] }
func (t Track) last() *Detection  { return &t[len(t)-1] }

// Duration is the time from the first detection to the last.
func (t Track) Duration() time.Duration { return t.last().At.Sub(t.first().At) }

// Since gives the detections at an instant and after it.
func (t Track) Since(at time.Time) Track {
	i, _ := slices.BinarySearchFunc(t, at, func(d Detection, at time.Time) int { return d.At.Compare(at) })
	return t[i:]
}

// Nearest gives the detection nearest in time.
func (t Track) Nearest(at time.Time) *Detection {
	i := len(t) - len(t.Since(at))
	if i == len(t) || i > 0 && at.Sub(t[i-1].At) < t[i].At.Sub(at) {
		i--
	}
	return &t[i]
}

// Spacings gives those of all detections.
func (t Track) Spacings() (all []float64) {
	for i := range t {
		all = append(all, t[i].Spacing)
	}
	return all
}

// RelativeDifference gives how far b is from a, as a share of a.
func RelativeDifference(a, b float64) float64 { return math.Abs(b/a - 1) }
