package noise

import (
	"math"
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
	"nightfloor/reports/stats"
)

const (
	// keenShare is in what share of the readings of rounds with the source a setup segment must have
	// detected it for its silence to mean that the source is off.
	keenShare = 0.25
	// bridged is over how many standard errors what was measured by force in a round must
	// stand for the source to have been on between detections.
	bridged = 4
)

// A presence is when a source was there.
type presence struct {
	on       []bool                // by round
	listened []bool                // by round: something measured that can hear it
	partly   []float64             // by round: share of it in which a source that is on was on
	spans    []spanRound           // in which it was on, in order of time; those of two surveys may overlap
	own      map[int64][]spanRound // the same by survey, in which none overlap
	offs     map[int64][]offEpoch  // by survey, in order of time: at which it was heard to be off
	switched bool                  // between two stretches it was off, and not just unheard
	keen     map[int]bool
	sparse   bool // it is heard by chance: rounds do not tell when it was off, the spans do
}

// A spanRound is from one detection to another, and in which rounds they fell.
type spanRound struct {
	input.Span
	survey   int64
	from, to int // rounds, both included
	// Of a source that is heard by chance: up to when before it, and from when after it, the
	// source was off for sure; zero: not known.
	before, after time.Time
}

// place finds the rounds and hours of a source. Masked says of rounds that they cannot
// tell; nil: none.
func (l *noiseLog) place(s *noiseSource, masked func(round int) bool) {
	detected := make([]bool, len(l.Rounds))
	for i := range s.obs {
		detected[l.roundOf(&s.obs[i])] = true
	}
	s.keen = l.keenSegments(s, detected)
	s.on, s.listened, s.partly = make([]bool, len(l.Rounds)), make([]bool, len(l.Rounds)), make([]float64, len(l.Rounds))
	for i := range l.Readings {
		if h := &l.Readings[i]; s.keen[h.SetupSegment] && (masked == nil || !masked(h.Round)) {
			s.listened[h.Round] = true
		}
	}
	s.offs = l.heardOff(s)
	shown := l.seenByForce(s)
	silent := make([]bool, len(l.Rounds))
	for n := range l.Rounds {
		silent[n] = s.listened[n] && !detected[n] && !shown[n]
		s.listened[n] = s.listened[n] || detected[n]
	}
	if s.single() {
		l.placeClicks(s)
	} else {
		l.string(s, silent)
	}
	s.own = map[int64][]spanRound{}
	for _, p := range s.spans {
		s.own[p.survey] = append(s.own[p.survey], p)
	}
	l.spread(s)
}

// string makes stretches of time of the detections: one ends where the source was heard to
// be off, or begins anew, and after two silent rounds.
func (l *noiseLog) string(s *noiseSource, silent []bool) {
	s.spans, s.switched = nil, false
	restarts, open := s.restarts(), map[int64]int{}
	for i := range s.obs {
		o := &s.obs[i]
		n, whole := l.roundOf(o), l.spanOf(o)
		at, known := open[o.survey]
		if known {
			p := &s.spans[at]
			off := restarts[i] || s.offBetween(o.survey, p.Last, whole.First) || l.silence(silent, p.to, n) > 1
			if s.switched = s.switched || off; !off && l.joins(*p, whole.First) {
				p.Span, p.to = p.With(whole), n
				continue
			}
		}
		open[o.survey] = len(s.spans)
		s.spans = append(s.spans, spanRound{Span: whole, survey: o.survey, from: n, to: n})
	}
}

// spanOf gives from when to when a detection was heard.
func (l *noiseLog) spanOf(o *detection) input.Span {
	whole := input.SpanOf(l.Readings[o.found[0].reading].Reading)
	for _, g := range o.found {
		whole = whole.With(input.SpanOf(l.Readings[g.reading].Reading))
	}
	return whole
}

// silence counts the silent rounds of one survey between two of its own.
func (l *noiseLog) silence(silent []bool, from, to int) (count int) {
	for n := from + 1; n < to; n++ {
		if silent[n] && l.Rounds[n].Key.Survey == l.Rounds[from].Key.Survey {
			count++
		}
	}
	return count
}

// joins tells whether a detection may be of the stretch of time before it: they are not
// longer apart than a source may go unheard.
func (l *noiseLog) joins(p spanRound, at time.Time) bool { return at.Sub(p.Last) <= l.Longest }

// spread notes in which rounds the source was on: of one in which it was heard to be off,
// in what share of the readings that can hear it.
func (l *noiseLog) spread(s *noiseSource) {
	for _, p := range s.spans {
		for n := p.from; n <= p.to; n++ {
			if l.Rounds[n].Key.Survey == p.survey {
				s.on[n], s.partly[n] = true, 1
			}
		}
	}
	mixed := map[int]bool{}
	for _, offs := range s.offs {
		for _, o := range offs {
			mixed[o.round] = true
		}
	}
	for n := range mixed {
		if !s.on[n] {
			continue
		}
		on, all := 0.0, 0.0
		for _, i := range l.Rounds[n].Readings {
			if h := &l.Readings[i]; s.keen[h.SetupSegment] {
				all++
				if s.at(h.Sweep.Survey, h.Start) {
					on++
				}
			}
		}
		s.partly[n] = on / all
	}
}

// keenSegments are those through which the source is detected often enough while it is on.
func (l *noiseLog) keenSegments(s *noiseSource, detected []bool) map[int]bool {
	heard, all := make([]int, len(l.SetupSegments)), make([]int, len(l.SetupSegments))
	for i := range l.Readings {
		if h := &l.Readings[i]; detected[h.Round] {
			all[h.SetupSegment]++
		}
	}
	for _, o := range s.obs {
		for _, g := range o.found {
			heard[l.Readings[g.reading].SetupSegment]++
		}
	}
	best, keen := 0.0, map[int]bool{}
	share := func(e int) float64 { return float64(heard[e]) / float64(max(1, all[e])) }
	for e := range l.SetupSegments {
		best = max(best, share(e))
	}
	for e := range l.SetupSegments {
		if heard[e] > 0 && share(e) >= min(keenShare, best) {
			keen[e] = true
		}
	}
	return keen
}

// seenByForce tells of each round whether what was measured by force in it shows the source:
// over so many standard errors, all readings taken together.
func (l *noiseLog) seenByForce(s *noiseSource) []bool {
	sum, count := make([]float64, len(l.Rounds)), make([]float64, len(l.Rounds))
	for i, f := range s.measured {
		if f != nil && f.Sigma > 0 && stats.Finite(f.Power) && stats.Finite(f.Sigma) {
			n := l.Readings[i].Round
			sum[n] += f.Power / f.Sigma
			count[n]++
		}
	}
	shown := make([]bool, len(l.Rounds))
	for n := range shown {
		shown[n] = count[n] > 0 && sum[n] > bridged*math.Sqrt(count[n])
	}
	return shown
}

// at tells whether the source was on at an instant of a survey, to what its hours tell.
func (p *presence) at(id int64, t time.Time) bool {
	own := p.own[id]
	n, _ := slices.BinarySearchFunc(own, t, func(s spanRound, t time.Time) int { return s.Last.Compare(t) })
	return n < len(own) && !t.Before(own[n].First)
}

// share gives the share of the rounds that listened in which the source was on.
func (p *presence) share() float64 {
	on, all := 0.0, 0
	for n, listened := range p.listened {
		if listened {
			all++
			on += p.partly[n]
		}
	}
	return on / float64(max(1, all))
}

// neverOff tells whether the source was on whenever something listened that can hear it.
func (p *presence) neverOff() bool { return !p.switched && p.share() == 1 }

// edges gives when the source came on and went off, where something listened shortly
// before or after it.
func (l *noiseLog) edges(s *noiseSource) (on, off []readlog.Edge) {
	for i, p := range s.spans {
		if t, ok := l.unseen(s, i, -1); ok && p.First.Sub(t) <= l.Longest {
			on = append(on, readlog.Edge{Survey: p.survey, Seen: p.First, Unseen: t})
		}
		if t, ok := l.unseen(s, i, 1); ok && t.Sub(p.Last) <= l.Longest {
			off = append(off, readlog.Edge{Survey: p.survey, Seen: p.Last, Unseen: t})
		}
	}
	return on, off
}

// unseen gives when next to one of its stretches of time a source was not heard: before it,
// step being −1, or after it, 1. It is known of the round beside it, or, nearer, of an epoch
// at which it was heard to be off; the stretch beside it bounds it where it began anew.
func (l *noiseLog) unseen(s *noiseSource, i, step int) (t time.Time, ok bool) {
	p := s.spans[i]
	own, end := p.First, p.from
	if step > 0 {
		own, end = p.Last, p.to
	}
	nearer := func(at time.Time) {
		if away := at.Sub(own) * time.Duration(step); away >= 0 && (!ok || away < t.Sub(own)*time.Duration(step)) {
			t, ok = at, true
		}
	}
	if s.sparse {
		t = p.before
		if step > 0 {
			t = p.after
		}
		return t, !t.IsZero()
	}
	if n := l.listenedBeside(s, end, step); n >= 0 && !s.on[n] {
		first, last := l.listening(s, n)
		if step > 0 {
			last = first
		}
		nearer(last)
	}
	offs, spans := s.offs[p.survey], s.own[p.survey]
	n, _ := slices.BinarySearchFunc(offs, own, func(o offEpoch, t time.Time) int { return o.at.Compare(t) })
	for _, o := range offs[max(0, n-1):min(len(offs), n+1)] {
		nearer(o.at)
	}
	n, _ = slices.BinarySearchFunc(spans, p.First, func(q spanRound, t time.Time) int { return q.First.Compare(t) })
	switch n += step; {
	case n < 0 || n == len(spans):
	case step < 0:
		nearer(spans[n].Last)
	default:
		nearer(spans[n].First)
	}
	return t, ok
}

// listenedBeside gives the next round of the same survey that listened, −1 for none.
func (l *noiseLog) listenedBeside(s *noiseSource, n, step int) int {
	own := l.RoundsOf(l.Rounds[n].Key.Survey)
	at, _ := slices.BinarySearch(own, n)
	for at += step; at >= 0 && at < len(own); at += step {
		if s.listened[own[at]] {
			return own[at]
		}
	}
	return -1
}

// listening gives from when to when a setup segment that hears the source listened in a round.
func (l *noiseLog) listening(s *noiseSource, n int) (first, last time.Time) {
	for _, i := range l.Rounds[n].Readings {
		h := &l.Readings[i]
		if !s.keen[h.SetupSegment] {
			continue
		}
		if first.IsZero() {
			first = h.Start
		}
		last = h.End()
	}
	return first, last
}

// drift gives the slope of the spacing over time once the supply has settled, Hz an hour:
// the median of the slopes between any two epochs of one stretch of time [Sen]. Ok is false
// where no stretch is long enough, or the slope's 95 % interval is wider than what warming
// does. Spacing is the median once settled; brief tells that it ran straight from the beginning
// of its stretches on.
//
//	[Sen] P. K. Sen, "Estimates of the regression coefficient based on Kendall's tau",
//	Journal of the American Statistical Association 63 (1968), section 4.
func (l *noiseLog) drift(s *noiseSource) (slope, spacing float64, ok, brief bool) {
	parts, spacings, brief := l.settledParts(s)
	var slopes []float64
	var variance float64 // of Kendall's sum, that of each stretch added up
	for _, part := range parts {
		own, n := part.slopes()
		slopes = append(slopes, own...)
		variance += n * (n - 1) * (2*n + 5) / 18
	}
	slices.Sort(spacings)
	slices.Sort(slopes)
	spacing = stats.Quantile(spacings, 0.5)
	if len(slopes) == 0 {
		return 0, spacing, false, false
	}
	half := stats.Normal95 * math.Sqrt(variance) / 2 / float64(len(slopes))
	low, high := stats.Quantile(slopes, max(0, 0.5-half)), stats.Quantile(slopes, min(1, 0.5+half))
	return stats.Quantile(slopes, 0.5), spacing, half < 0.5 && (high-low)/2 <= driftKnown*spacing, brief
}

// slopes gives the slopes between any two moments, Hz an hour, and of how many epochs: those
// of more than a hundred are hardly surer.
func (t combTrack) slopes() (slopes []float64, n float64) {
	step := (len(t) + 99) / 100
	for i := 0; i < len(t); i += step {
		n++
		for k := 0; k < i; k += step {
			if hours := t[i].at.Sub(t[k].at).Hours(); hours > 0 {
				slopes = append(slopes, (t[i].spacing-t[k].spacing)/hours)
			}
		}
	}
	return slopes, n
}

const (
	// settledLeast is how long a spacing must have been followed once settled for a drift,
	// settledFew at how many epochs.
	settledLeast, settledFew = time.Hour, 6
	// briefLeast is the same of a source that was never on for so long and ran straight from
	// its beginning on, which none does that warms.
	briefLeast = 20 * time.Minute
	// settledBend is by how much the spacing may change more in one half than in the other,
	// as a share of it, and count as settled.
	settledBend = 5e-6
)

// settledParts gives the parts of stretches of time in which the spacing had settled, an hour
// after the source came on or later, and all spacings found then. Where there is none, brief
// tells of stretches that ran straight from their beginning on. Where spacings are too few, they
// are those of the latter halves of all stretches.
func (l *noiseLog) settledParts(s *noiseSource) (parts []combTrack, spacings []float64, brief bool) {
	var late, whole []float64
	var briefs []combTrack
	byRound := make([][]int, len(l.Rounds)) // detections
	for i := range s.obs {
		n := l.roundOf(&s.obs[i])
		byRound[n] = append(byRound[n], i)
	}
	for _, p := range s.spans {
		var part, all combTrack
		var within []int
		for n := p.from; n <= p.to; n++ {
			within = append(within, byRound[n]...)
		}
		slices.Sort(within)
		for _, i := range within {
			o := s.obs[i]
			if o.harmonicAlias || o.survey != p.survey {
				continue
			}
			if at := l.spanOf(&o).First; at.Before(p.First) || at.After(p.Last) { // a sweep begins before its readings
				continue
			}
			all, whole = append(all, o), append(whole, o.spacing)
			if !o.at.Before(p.First.Add(p.Last.Sub(p.First) / 2)) {
				late = append(late, o.spacing)
			}
			if !o.at.Before(p.First.Add(time.Hour)) {
				part = append(part, o)
			}
		}
		if part = part.settled(); part != nil {
			parts = append(parts, part)
		} else if len(all) >= settledFew && all.long() >= briefLeast && all.straight() {
			briefs = append(briefs, all)
		}
	}
	if brief = len(parts) == 0 && len(briefs) > 0; brief {
		parts = briefs
	}
	for _, part := range parts {
		for _, o := range part {
			spacings = append(spacings, o.spacing)
		}
	}
	const few = 4
	if len(spacings) < few {
		spacings = late
	}
	if len(spacings) < few {
		spacings = whole
	}
	return parts, spacings, brief
}

// settled gives the part of a track from which on it runs straight; nil where under an hour
// of it is left.
func (t combTrack) settled() combTrack {
	for len(t) >= settledFew && t.long() >= settledLeast {
		if t.straight() {
			return t
		}
		from := t.first().at.Add(t.long() / 4)
		t = t[slices.IndexFunc(t, func(o detection) bool { return o.at.After(from) }):]
	}
	return nil
}

// straight tells whether both halves of a track lead to the same slope, to twice what its
// scatter does to their difference: the slope of n points that scatter by σ over a time T is
// known to σ·√(12/n)/T.
func (t combTrack) straight() bool {
	at := t.first().at.Add(t.long() / 2)
	half := slices.IndexFunc(t, func(o detection) bool { return !o.at.Before(at) })
	if half < 2 || len(t)-half < 2 {
		return false
	}
	a, _ := t[:half].slopes()
	b, _ := t[half:].slopes()
	if len(a) == 0 || len(b) == 0 {
		return false
	}
	var changes []float64
	for i := 1; i < len(t); i++ {
		changes = append(changes, math.Abs(t[i].spacing-t[i-1].spacing))
	}
	scatter := stats.Median(changes) / 0.6745 / math.Sqrt2
	bend := math.Abs(stats.Median(a)-stats.Median(b)) * t.long().Hours() / 2
	return bend <= max(settledBend*t.last().spacing, 2*scatter*math.Sqrt(24/float64(min(half, len(t)-half))))
}

// driftKnown is how well a drift must be known to be told, as a share of the spacing an
// hour: a tenth of what a supply does in its first.
const driftKnown = 1e-4

// warmUp gives by how much the spacing stood over what it is once warm when the source had
// just come on, as a share of it: the median over the times it was seen to within 20
// minutes.
func (l *noiseLog) warmUp(s *noiseSource) (share float64, times int) {
	on, _ := l.edges(s)
	var all []float64
	began := map[int64]int{} // detections by when they were first heard, ns
	for i, o := range s.obs {
		at := l.Readings[o.found[0].reading].Start.UnixNano()
		if _, known := began[at]; !known && !o.harmonicAlias {
			began[at] = i
		}
	}
	for _, e := range l.once(on) {
		if i, ok := began[e.Seen.UnixNano()]; ok && e.Seen.Sub(e.Unseen) <= 20*time.Minute {
			all = append(all, s.obs[i].spacing/s.spacing-1)
		}
	}
	slices.Sort(all)
	return stats.Quantile(all, 0.5), len(all)
}
