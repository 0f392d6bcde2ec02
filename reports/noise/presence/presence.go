package presence

import (
	"math"
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/noise/track"
	"nightfloor/reports/readlog"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

const (
	// The silence of a setup segment means that the source is off where it detected the source in
	// sensitiveShare of its readings, in rounds with the source (STATISTICS.md 8.1); TestSensitiveSetups.
	sensitiveShare = 0.25
	// A source was on between detections where what was measured by force in a round shows it by
	// seenSigmas standard errors (STATISTICS.md 8.1); TestMeasuredBetweenDetections.
	seenSigmas = 4
)

// A Presence is when a source was on.
type Presence struct {
	Spans     []Span    // in which it was on, in order of time; those of two surveys may overlap
	On        []bool    // by round: in some of it
	Share     []float64 // by round: of its readings that can show the source, in which it was on
	Listened  []bool    // by round: something measured that can show it
	During    []bool    // by reading: it began within a span
	Sensitive []bool    // by setup segment: its silence means that the source is off
	Switched  bool      // it was off between two spans, and not just unheard
}

// A Span is from one detection to another, and in which rounds they fell.
type Span struct {
	input.Span
	Survey                int64
	FirstRound, LastRound int
	OffBefore, OffAfter   time.Time // when next to it the source was known to be off; zero: not known
}

// Of gives the presence of what was detected. Measured is what was measured of it by reading,
// detected or by force, nil for neither. Masked says of rounds that they cannot tell; nil: none.
func Of(l *readlog.Log, t track.Track, measured []*survey.Finding, masked func(round int) bool) Presence {
	detected := make([]bool, len(l.Rounds))
	for i := range t {
		detected[t[i].Round] = true
	}
	p := Presence{Sensitive: sensitive(l, t, detected), On: make([]bool, len(l.Rounds)), Share: make([]float64, len(l.Rounds)),
		Listened: make([]bool, len(l.Rounds)), During: make([]bool, len(l.Readings))}
	for i := range l.Readings {
		if r := &l.Readings[i]; p.Sensitive[r.SetupSegment] && (masked == nil || !masked(r.Round)) {
			p.Listened[r.Round] = true
		}
	}
	seen, silent := seenByForce(l, measured), make([]bool, len(l.Rounds))
	for n := range l.Rounds {
		silent[n] = p.Listened[n] && !detected[n] && !seen[n]
		p.Listened[n] = p.Listened[n] || detected[n]
	}
	off, partly := measuredOff(l, t, measured, p.Sensitive)
	if isClicks(t) {
		p.spanClicks(l, listenings(l, t, measured))
		p.spread(l, nil)
		return p
	}
	p.span(l, t, silent, off)
	p.spread(l, partly)
	p.bound(l, off)
	return p
}

// span makes spans of the detections: one ends where the source was measured to be off, or
// begins anew, and after two silent rounds.
func (p *Presence) span(l *readlog.Log, t track.Track, silent []bool, off map[int64][]time.Time) {
	restarts, open := restarts(t), map[int64]int{}
	for i := range t {
		d := &t[i]
		if at, known := open[d.Survey]; known {
			s := &p.Spans[at]
			next := beside(off[d.Survey], s.Last.Add(1), 1)
			between := !next.IsZero() && next.Before(d.First)
			switched := between || restarts[d.Epoch] || silentRounds(l, silent, s.LastRound, d.Round) > 1
			if p.Switched = p.Switched || switched; !switched && d.First.Sub(s.Last) <= l.Longest {
				s.Span, s.LastRound = s.With(d.Span), d.Round
				continue
			}
		}
		open[d.Survey] = len(p.Spans)
		p.Spans = append(p.Spans, Span{Span: d.Span, Survey: d.Survey, FirstRound: d.Round, LastRound: d.Round})
	}
}

// silentRounds counts the silent rounds of one survey between two of its own.
func silentRounds(l *readlog.Log, silent []bool, from, to int) (count int) {
	for n := l.Beside(from, 1); n >= 0 && n < to; n = l.Beside(n, 1) {
		if silent[n] {
			count++
		}
	}
	return count
}

// spread notes in which rounds and readings the source was on; in some rounds partly.
func (p *Presence) spread(l *readlog.Log, partly []int) {
	for _, s := range p.Spans {
		for n := s.FirstRound; n >= 0 && n <= s.LastRound; n = l.Beside(n, 1) {
			p.On[n], p.Share[n] = true, 1
			for _, i := range l.Rounds[n].Readings {
				p.During[i] = p.During[i] || s.Holds(l.Readings[i].Start)
			}
		}
	}
	for _, n := range partly {
		on, all := 0.0, 0.0
		for _, i := range l.Rounds[n].Readings {
			if p.Sensitive[l.Readings[i].SetupSegment] {
				all++
				if p.During[i] {
					on++
				}
			}
		}
		if p.On[n] {
			p.Share[n] = on / all
		}
	}
}

// sensitive tells of the setup segments whether the source is detected often enough through
// them while it is on.
func sensitive(l *readlog.Log, t track.Track, detected []bool) []bool {
	found, all := make([]float64, len(l.SetupSegments)), make([]float64, len(l.SetupSegments))
	for i := range l.Readings {
		if r := &l.Readings[i]; detected[r.Round] {
			all[r.SetupSegment]++
		}
	}
	for i := range t {
		for _, f := range t[i].Findings {
			found[l.Readings[f.Reading].SetupSegment]++
		}
	}
	for k := range found {
		found[k] /= max(1, all[k])
	}
	best, enough := slices.Max(found), make([]bool, len(found))
	for k, share := range found {
		enough[k] = share > 0 && share >= min(sensitiveShare, best)
	}
	return enough
}

// seenByForce tells of each round whether what was measured by force in it shows the source,
// all readings taken together.
func seenByForce(l *readlog.Log, measured []*survey.Finding) []bool {
	sum, count := make([]float64, len(l.Rounds)), make([]float64, len(l.Rounds))
	for i, f := range measured {
		if f != nil && f.Sigma > 0 && stats.Finite(f.Power) && stats.Finite(f.Sigma) {
			n := l.Readings[i].Round
			sum[n] += f.Power / f.Sigma
			count[n]++
		}
	}
	seen := make([]bool, len(l.Rounds))
	for n := range seen {
		seen[n] = count[n] > 0 && sum[n] > seenSigmas*math.Sqrt(count[n])
	}
	return seen
}

// bound notes for each span the last time before it and the first time after it at which the
// source was known to be off. Three things tell: the source was measured to be off; a round that
// could have shown it did not; or there is another span, for between two spans it was off.
func (p *Presence) bound(l *readlog.Log, off map[int64][]time.Time) {
	before := map[int64]*Span{} // the last of each survey
	for i := range p.Spans {
		s := &p.Spans[i]
		s.OffBefore = nearest(s.First, -1, beside(off[s.Survey], s.First, -1), p.silence(l, s.FirstRound, -1).Last)
		s.OffAfter = nearest(s.Last, 1, beside(off[s.Survey], s.Last, 1), p.silence(l, s.LastRound, 1).First)
		if b := before[s.Survey]; b != nil {
			s.OffBefore, b.OffAfter = nearest(s.First, -1, s.OffBefore, b.Last), nearest(b.Last, 1, b.OffAfter, s.First)
		}
		before[s.Survey] = s
	}
}

// silence gives the time of the readings that can show the source in the nearest round that
// listened: after the given round for a step of 1, before it for a step of −1. The span is zero
// where there is no such round, and where the source was on in it.
func (p *Presence) silence(l *readlog.Log, round, step int) (whole input.Span) {
	n := l.Beside(round, step)
	for n >= 0 && !p.Listened[n] {
		n = l.Beside(n, step)
	}
	if n < 0 || p.On[n] {
		return whole
	}
	for _, i := range l.Rounds[n].Readings {
		if r := &l.Readings[i]; p.Sensitive[r.SetupSegment] {
			whole = whole.With(input.SpanOf(r.Reading))
		}
	}
	return whole
}

// beside is nearest for times in order, of which there may be many.
func beside(times []time.Time, to time.Time, step int) (at time.Time) {
	n, found := slices.BinarySearchFunc(times, to, time.Time.Compare)
	if step < 0 && !found {
		n--
	}
	if n >= 0 && n < len(times) {
		at = times[n]
	}
	return at
}

// nearest gives the time that is nearest to an instant: of those at or after it for a step of 1,
// of those at or before it for a step of −1. Zero times do not count; it is zero where none is left.
func nearest(to time.Time, step time.Duration, times ...time.Time) (best time.Time) {
	for _, t := range times {
		if apart := step * t.Sub(to); !t.IsZero() && apart >= 0 && (best.IsZero() || apart < step*best.Sub(to)) {
			best = t
		}
	}
	return best
}

// ShareOfRounds gives the share of the rounds that listened in which the source was on.
func (p Presence) ShareOfRounds() float64 {
	on, all := 0.0, 0
	for n, listened := range p.Listened {
		if listened {
			all++
			on += p.Share[n]
		}
	}
	return on / float64(max(1, all))
}

// NeverOff tells whether the source was on whenever something listened that can show it.
func (p Presence) NeverOff() bool { return !p.Switched && p.ShareOfRounds() == 1 }

// Longest gives the longest span.
func (p Presence) Longest() (long time.Duration) {
	for _, s := range p.Spans {
		long = max(long, s.Last.Sub(s.First))
	}
	return long
}

// Edges gives when the source came on and went off, where it is known to have been off within some time
// before or after it.
func (p Presence) Edges(within time.Duration) (on, off []readlog.Edge) {
	for _, s := range p.Spans {
		if !s.OffBefore.IsZero() && s.First.Sub(s.OffBefore) <= within {
			on = append(on, readlog.Edge{Survey: s.Survey, Seen: s.First, Unseen: s.OffBefore})
		}
		if !s.OffAfter.IsZero() && s.OffAfter.Sub(s.Last) <= within {
			off = append(off, readlog.Edge{Survey: s.Survey, Seen: s.Last, Unseen: s.OffAfter})
		}
	}
	return on, off
}

// Once gives edges in order of time, those that surveys beside each other saw within a round of
// each other as one: the one that is known best.
func Once(edges []readlog.Edge, round time.Duration) (out []readlog.Edge) {
	for _, e := range slices.SortedStableFunc(slices.Values(edges), func(a, b readlog.Edge) int { return a.Seen.Compare(b.Seen) }) {
		own := e.Between()
		same := slices.IndexFunc(out, func(o readlog.Edge) bool {
			other := o.Between()
			return o.Survey != e.Survey && !own.First.After(other.Last.Add(round)) && !own.Last.Before(other.First.Add(-round))
		})
		switch {
		case same < 0:
			out = append(out, e)
		case e.Seen.Sub(e.Unseen).Abs() < out[same].Seen.Sub(out[same].Unseen).Abs():
			out[same] = e
		}
	}
	return out
}
