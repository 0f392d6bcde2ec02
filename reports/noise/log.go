package noise

import (
	"cmp"
	"iter"
	"maps"
	"math"
	"slices"
	"time"

	"nightfloor/reports/readlog"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A noiseLog is what a survey heard of interference.
type noiseLog struct {
	*readlog.Log
	epochs int // pieces of evidence that do not depend on each other
}

func newNoiseLog(in *readlog.Log) *noiseLog {
	l := &noiseLog{Log: in}
	l.epochs = l.countEpochs()
	return l
}

// A epoch tells apart pieces of evidence: readings that share a tuning share what was
// found in it, and the sweeps of a survey share their combs.
type epoch struct {
	survey int64
	at     time.Time
}

func (l *noiseLog) epochOf(h *readlog.Reading, comb bool) epoch {
	if comb && l.Recorded[h.Sweep.Survey] {
		return epoch{h.Sweep.Survey, h.Sweep.Start}
	}
	return epoch{h.Sweep.Survey, h.Start}
}

// countEpochs counts the epochs of readings. Those of one survey come one after another.
func (l *noiseLog) countEpochs() (n int) {
	last := map[int64]epoch{} // by survey
	for i := range l.Readings {
		m := l.epochOf(&l.Readings[i], false)
		if last[m.survey] != m {
			last[m.survey] = m
			n++
		}
	}
	return n
}

// A detection is what one epoch tells of a source.
type detection struct {
	epoch
	spacing       float64 // Hz; of a comb
	doubt         float64 // the probability that chance alone gives such evidence
	harmonicAlias bool    // a comb at another multiple of the source's spacing
	shared        bool    // found as one with another comb, whose spacing was the same just then
	lent          bool    // the same, nearer to the other's
	found         []findingAt
}

// roundOf gives the round of a detection.
func (l *noiseLog) roundOf(o *detection) int { return l.Readings[o.found[0].reading].Round }

// A findingAt is a finding in one reading.
type findingAt struct {
	reading int
	*survey.Finding
}

// leastDoubt is what a single finding's doubt is taken for at the least: no detector
// has been tried so often that less could be said of it.
const leastDoubt = 1e-9

// observe gathers detected findings of one kind by epoch, in order of time. Those of
// one epoch for which apart is false are one.
func (l *noiseLog) observe(kind string, apart func(a, b *survey.Finding) bool) []detection {
	var all []detection
	type own struct {
		epoch
		detections []int
	}
	last := map[int64]*own{} // by survey: its epochs come one after another
	for i := range l.Readings {
		h := &l.Readings[i]
		for j := range h.Findings {
			f := &h.Findings[j]
			if f.Kind != kind || !f.Detected() {
				continue
			}
			m := l.epochOf(h, kind == survey.FindingComb)
			now := last[m.survey]
			if now == nil {
				now = &own{}
				last[m.survey] = now
			}
			if now.epoch != m {
				now.epoch, now.detections = m, now.detections[:0]
			}
			at := slices.IndexFunc(now.detections, func(o int) bool { return !apart(all[o].found[0].Finding, f) })
			if at < 0 {
				at = len(now.detections)
				now.detections = append(now.detections, len(all))
				all = append(all, detection{epoch: m, spacing: float64(f.Spacing), doubt: 1})
			}
			o := &all[now.detections[at]]
			o.doubt = min(o.doubt, max(leastDoubt, 1-f.Confidence))
			o.found = append(o.found, findingAt{i, f})
		}
	}
	slices.SortStableFunc(all, func(a, b detection) int { return a.at.Compare(b.at) })
	return all
}

// noiseDoubt is the least doubt that is claimed of a source: what its detections have
// in common, such as a service that looks like interference, no number of them removes.
const noiseDoubt = 1e-6

// doubtOf gives the probability that chance alone puts evidence so strong into some of
// all moments: of the surest detections of k rounds, in any choice of k epochs, each of which
// agrees with the one before it with the probability given, aliases with aliasAgree. The detections of
// one round share their stations and their receiver's state, and count once. The k that says
// most counts; that others were tried costs k(k+1), since 1/2 + 1/6 + 1/12 … = 1.
func (l *noiseLog) doubtOf(obs []detection, agree float64) float64 {
	surest := map[int]float64{}
	for i := range obs {
		n, agrees := l.roundOf(&obs[i]), agree
		if obs[i].harmonicAlias {
			agrees = aliasAgree
		}
		surest[n] = min(surest[n], math.Log10(obs[i].doubt*agrees))
	}
	doubts := slices.Sorted(maps.Values(surest))
	n := float64(max(l.epochs, len(obs)))
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
	return min(1, max(noiseDoubt, math.Pow(10, least)))
}

// A noiseSource is one source while it is put together.
type noiseSource struct {
	kind     string
	obs      []detection       // in order of time
	measured []*survey.Finding // by reading: detected or measured by force; nil: neither
	doubt    float64
	presence
	// Of a comb:
	mains   *mainsPart // the mains modulation that belongs to it; nil: none
	spacing float64    // Hz, once warm
	drift   float64    // Hz an hour
	drifts  bool       // the drift is known
	brief   bool       // it is that of stretches too short for the spacing to settle, but straight
}

// newNoiseSource makes a source of its detections; measured is left to the caller.
func (l *noiseLog) newNoiseSource(kind string, obs []detection, agree float64) *noiseSource {
	return &noiseSource{kind: kind, obs: obs, doubt: l.doubtOf(obs, agree)}
}

// measureDetected puts what was detected into measured.
func (l *noiseLog) measureDetected(s *noiseSource) {
	s.measured = make([]*survey.Finding, len(l.Readings))
	for g := range s.findings() {
		s.measured[g.reading] = g.Finding
	}
}

// shows tells whether the evidence makes it a source: at two epochs, or at one of
// recordings that were imported.
func (l *noiseLog) shows(s *noiseSource) bool {
	if 1-s.doubt < survey.Confident {
		return false
	}
	return len(s.obs) > 1 || len(s.obs) == 1 && !l.Recorded[s.obs[0].survey]
}

// findings gives the detected findings, in order of time.
func (s *noiseSource) findings() iter.Seq[findingAt] {
	return s.findingsOf(func(o *detection) bool { return !o.harmonicAlias })
}

// findingsOf gives the detected findings of some detections, in order of time.
func (s *noiseSource) findingsOf(some func(o *detection) bool) iter.Seq[findingAt] {
	return func(yield func(findingAt) bool) {
		for i := range s.obs {
			if !some(&s.obs[i]) {
				continue
			}
			for _, g := range s.obs[i].found {
				if !yield(g) {
					return
				}
			}
		}
	}
}

// middleOf gives the median of a figure over some findings, NaN where it is nowhere known.
func middleOf(findings iter.Seq[findingAt], figure func(f *survey.Finding) float64) float64 {
	var all []float64
	for g := range findings {
		if x := figure(g.Finding); x != 0 && stats.Finite(x) {
			all = append(all, x)
		}
	}
	slices.Sort(all)
	return stats.Quantile(all, 0.5)
}

// commonest gives the most frequent of words that were counted, of equally many the first by
// the alphabet; "" of none.
func commonest(count map[string]int) (best string) {
	for w, n := range count {
		if best == "" || cmp.Or(cmp.Compare(n, count[best]), cmp.Compare(best, w)) > 0 {
			best = w
		}
	}
	return best
}
