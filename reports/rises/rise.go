package rises

import (
	"cmp"
	"math"
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/strength"
	"nightfloor/survey"
)

// besideRise is within what time of a rise's beginning or end an event counts as noted of it.
// TestEventsBesideARise fails when it moves.
const besideRise = 2 * time.Minute

// reach95 is how many times its spread the 95 % interval of a step reaches: 1.96, and a
// little for the spread itself, which is known to a tenth. TestIntervalOfAStep fails when it
// moves.
const reach95 = 2.1

// Of finds when the floor was raised, and by what: a device that was switched, noise
// that bears a sign of interference, or the ionosphere. Each stretch is told once, as the
// first of these that fits.
func Of(l *readlog.Log, sources []result.NoiseSource) []result.Rise {
	series, all := floors(l), ensembles(l)
	devices := devices(l, switchings(l, series))
	broad := broadband(l, series)
	out := []result.Rise{}
	for _, d := range devices {
		var mine []stretch
		mine, broad = d.part(broad, l.Usual)
		rise := stepRise(l, d, all[d.survey], sources)
		rise.Evidence = append(rise.Evidence, signWords(mine)...)
		out = append(out, rise)
	}
	for _, d := range devices {
		for _, f := range d.steps {
			d.mark(f.series)
		}
	}
	for _, x := range broad {
		for _, n := range x.points {
			x.series.points[n].told = true
		}
	}
	for _, group := range gathered(broad) {
		if r := stretchRise(l, result.RiseBroadband, group, all[group[0].series.survey], sources); !alreadyTold(l, &r, out) {
			tellHidden(&r, out, l.Usual)
			out = append(out, r)
		}
	}
	for _, group := range gathered(nights(l, series)) {
		out = append(out, stretchRise(l, result.RiseNight, group, all[group[0].series.survey], nil))
	}
	slices.SortStableFunc(out, func(a, b result.Rise) int { // by when they began, or ended where that was not seen
		return cmp.Or(a.From, a.To).Compare(*cmp.Or(b.From, b.To))
	})
	return out
}

// alreadyTold tells whether a broadband rise is one of the steps, seen through other setup
// segments: it lies within its hours, to a round, and goes with one of its sources.
func alreadyTold(l *readlog.Log, r *result.Rise, steps []result.Rise) bool {
	slack := l.Usual
	return slices.ContainsFunc(steps, func(s result.Rise) bool {
		within := (s.From == nil || !r.From.Before(s.From.Add(-slack))) && (s.To == nil || !r.To.After(s.To.Add(slack)))
		return s.Kind == result.RiseStep && within && slices.ContainsFunc(r.Sources, func(id int) bool { return slices.Contains(s.Sources, id) })
	})
}

// tellHidden says so where the rise begins when a step ends: what was there before does not show.
func tellHidden(r *result.Rise, steps []result.Rise, slack time.Duration) {
	if slices.ContainsFunc(steps, func(s result.Rise) bool {
		return s.Kind == result.RiseStep && s.To != nil && r.From.Sub(*s.To).Abs() <= slack && slices.Contains(s.Segments, r.Segments[0])
	}) {
		contradicts(r, "it may have begun earlier: until then the floor was raised by a step")
	}
}

// mark marks as told the points of a series at which the device was on.
func (d *device) mark(s *floorSeries) {
	from, _ := slices.BinarySearchFunc(s.points, d.First, func(p floorPoint, t time.Time) int { return p.Last.Compare(t) })
	for n := from; n < len(s.points) && !s.points[n].First.After(d.Last); n++ {
		s.points[n].told = s.points[n].told || d.Holds(s.points[n].Middle())
	}
}

// meets tells whether a stretch has time in common with the device.
func (d *device) meets(x *stretch, slack time.Duration) bool {
	return x.series.survey == d.survey && x.last().Last.Sub(d.First) >= -slack && x.first().First.Sub(d.Last) <= slack
}

// part parts raised stretches into what the device explains and what is left: points in
// setup segments in which it steps while it is on, and stretches that begin and end with it, within
// some slack, in others. What is left takes the place of all.
func (d *device) part(all []stretch, slack time.Duration) (mine, rest []stretch) {
	steps := map[*floorSeries]bool{}
	for _, f := range d.steps {
		steps[f.series] = true
	}
	rest = all[:0]
	for _, x := range all {
		if !d.meets(&x, slack) {
			rest = append(rest, x)
			continue
		}
		own, left := x, x
		own.points, left.points = nil, nil
		for _, n := range x.points {
			if steps[x.series] && d.Holds(x.series.points[n].Middle()) {
				own.points = append(own.points, n)
			} else {
				left.points = append(left.points, n)
			}
		}
		if d.sameHours(&x, slack) {
			own, left.points = x, nil
		}
		if len(own.points) > 0 {
			mine = append(mine, own)
		}
		if len(own.points) == 0 {
			rest = append(rest, x)
		} else if len(left.points) > 1 && left.stands() && x.series.explains(x.sign, left.points) {
			rest = append(rest, left)
		}
	}
	return mine, rest
}

// sameHours tells whether a stretch begins and ends with the device.
func (d *device) sameHours(x *stretch, slack time.Duration) bool {
	near := func(s *switching, t time.Time) bool { return s != nil && s.Seen.Sub(t).Abs() <= slack }
	return near(d.on, x.first().First) && near(d.off, x.last().Last)
}

func newRise(kind string) result.Rise {
	return result.Rise{Kind: kind, Events: []result.QualityEvent{}, Sources: []int{}, Evidence: []string{}, Against: []string{}}
}

// stepRise tells of a device that was switched.
func stepRise(l *readlog.Log, d device, all ensemble, sources []result.NoiseSource) result.Rise {
	r := newRise(result.RiseStep)
	segments := 0
	for _, s := range []*switching{d.on, d.off} {
		if s != nil {
			r.Measured, segments = max(r.Measured, s.measured), max(segments, s.segments)
		}
	}
	if d.on != nil {
		r.From = instant(d.on.Seen)
		r.Events = noted(l, r.Events, d.on.Edge)
	}
	if d.off != nil {
		r.Events = noted(l, r.Events, d.off.Edge)
	}
	if d.off != nil || d.over != nil {
		r.To = instant(d.Last)
	}
	fillStrengths(l, &r, stepStrengths(l, d))
	speaks(&r, "the floor steps by 3 dB or more in %d of %s at once, through %d of %s", segments, survey.Count(r.Measured, "segment"), setupsWith(&r), survey.Count(all.setups, "setup"))
	nameSources(l, &r, sources, d.on, d.off)
	narrowTimes(&r, sources, d)
	stepDoubts(&r, d, all)
	return r
}

// narrowTimes puts a step's times to when a source that was switched with it was detected first, and
// last, where that lies nearer to the reading at which the floor is not raised.
func narrowTimes(r *result.Rise, sources []result.NoiseSource, d device) {
	for _, id := range r.Sources {
		for _, h := range sources[id-1].Hours {
			if d.on != nil && h.From.Before(*r.From) && h.From.After(d.on.Unseen) {
				r.From = instant(h.From)
			}
			if d.off != nil && h.To.After(*r.To) && h.To.Before(d.off.Unseen) {
				r.To = instant(h.To)
			}
		}
	}
}

// instant gives an instant as results hold it.
func instant(t time.Time) *time.Time {
	t = t.UTC()
	return &t
}

// noted adds the events that were noted beside an edge.
func noted(l *readlog.Log, events []result.QualityEvent, e readlog.Edge) []result.QualityEvent {
	between := e.Between()
	for _, x := range input.EventsOf(l.In.Events, e.Survey) {
		if !x.At.Before(between.First.Add(-besideRise)) && !x.At.After(between.Last.Add(besideRise)) && !slices.Contains(events, x) {
			events = append(events, x)
		}
	}
	return events
}

// An ensemble counts the setups of a survey, and apart from them those that are controls.
type ensemble struct{ setups, controls int }

// ensembles gives them by survey.
func ensembles(l *readlog.Log) map[int64]ensemble {
	type member struct {
		survey int64
		setup  survey.Setup
	}
	seen, controls, all := map[member]bool{}, l.In.Controls(), map[int64]ensemble{}
	for i := range l.Readings {
		s := l.Readings[i].Sweep
		if m := (member{s.Survey, s.Setup}); !seen[m] {
			seen[m] = true
			now := all[s.Survey]
			if controls[s.Setup] {
				now.controls++
			} else {
				now.setups++
			}
			all[s.Survey] = now
		}
	}
	return all
}

// stepStrengths gives how far the floor steps through every setup segment that shows the device: the
// mean of its coming on and its going off.
func stepStrengths(l *readlog.Log, d device) (out []result.NoiseStrength) {
	mine := map[int][]floorStep{}
	for _, f := range d.steps {
		mine[f.series.setupSegment] = append(mine[f.series.setupSegment], f)
	}
	for e := range l.SetupSegments {
		if len(mine[e]) == 0 {
			continue
		}
		x := strength.At(l, e)
		n, level, square := float64(len(mine[e])), 0.0, 0.0
		rounds := map[int]bool{}
		for _, f := range mine[e] {
			for _, p := range f.series.points[f.from:f.to] {
				rounds[p.round] = true
			}
			level, square = level+math.Abs(f.size)/n, square+f.series.spread*f.series.spread/n/n
		}
		half := reach95 * math.Sqrt(square)
		for _, f := range mine[e] { // coming and going differ where something else has changed in between
			half = max(half, math.Abs(math.Abs(f.size)-level))
		}
		x.Level, x.Low, x.High, x.Rounds = result.DB(level), result.DB(level-half), result.DB(level+half), len(rounds)
		out = append(out, x)
	}
	return out
}

// stretchRise tells of stretches that overlap.
func stretchRise(l *readlog.Log, kind string, group []stretch, all ensemble, sources []result.NoiseSource) result.Rise {
	r := newRise(kind)
	whole := input.Span{First: group[0].first().First, Last: group[0].last().Last}
	low, high := group[0].first().round, group[0].last().round
	for i := range group {
		x := &group[i]
		whole = whole.With(input.Span{First: x.first().First, Last: x.last().Last})
		low, high = min(low, x.first().round), max(high, x.last().round)
	}
	id := group[0].series.survey
	measured := map[string]bool{}
	for n := low; n <= high; n++ {
		for _, i := range l.Rounds[n].Readings {
			if l.Rounds[n].Key.Survey == id {
				measured[l.Readings[i].Segment.Name] = true
			}
		}
	}
	r.From, r.To, r.Measured = instant(whole.First), instant(whole.Last), len(measured)
	fillStrengths(l, &r, stretchStrengths(l, group, low, high))
	if kind == result.RiseNight {
		r.Evidence = nightWords(&r, all.setups)
		return r
	}
	on := &switching{Edge: readlog.Edge{Survey: id, Seen: whole.First, Unseen: whole.First}}
	off := &switching{Edge: readlog.Edge{Survey: id, Seen: whole.Last, Unseen: whole.Last}}
	r.Events = noted(l, noted(l, r.Events, on.Edge), off.Edge)
	broadbandWords(&r, l, group)
	nameSources(l, &r, sources, on, off)
	return r
}

// stretchStrengths gives how far the floor stands over its lower decile through every setup segment
// of some stretches, which lie in the rounds from low to high: the mean in linear power.
func stretchStrengths(l *readlog.Log, group []stretch, low, high int) (out []result.NoiseStrength) {
	sums := map[int]*strength.Sum{}
	for i := range group {
		x := &group[i]
		e := x.series.setupSegment
		if sums[e] == nil {
			sums[e] = &strength.Sum{Rounds: make([]strength.Part, high-low+1), Scale: 1}
		}
		for _, n := range x.points {
			p := &x.series.points[n]
			sums[e].Rounds[p.round-low] = strength.Part{Power: stats.FromDecibel(p.level - x.series.base), Over: 1, Readings: 1}
		}
	}
	for e := range l.SetupSegments {
		if sums[e] != nil {
			x := strength.At(l, e)
			sums[e].Tell(&x)
			out = append(out, x)
		}
	}
	return out
}

// fillStrengths puts in the strengths, and the figures of the setup through which the rise is greatest.
func fillStrengths(l *readlog.Log, r *result.Rise, all []result.NoiseStrength) {
	slices.SortStableFunc(all, func(a, b result.NoiseStrength) int { return cmp.Compare(a.SegmentLow, b.SegmentLow) })
	r.Strength = all
	best := math.Inf(-1)
	for _, x := range all {
		if !slices.Contains(r.Segments, x.Segment) {
			r.Segments = append(r.Segments, x.Segment)
		}
		if level := meanStrength(all, x.Setup, func(x *result.NoiseStrength) *survey.DB { return x.Level }); level != nil && float64(*level) > best {
			best = float64(*level)
			r.Setup, r.Level = x.Setup, level
			r.Low = meanStrength(all, x.Setup, func(x *result.NoiseStrength) *survey.DB { return x.Low })
			r.High = meanStrength(all, x.Setup, func(x *result.NoiseStrength) *survey.DB { return x.High })
		}
	}
}

// meanStrength is the mean of a figure over a setup's segments, nil where one is not known. The
// interval is the mean of theirs: what moves the floor of one moves that of others too.
func meanStrength(all []result.NoiseStrength, setup survey.Setup, figure func(x *result.NoiseStrength) *survey.DB) *survey.DB {
	sum, n := 0.0, 0.0
	for i := range all {
		if all[i].Setup == setup {
			x := figure(&all[i])
			if x == nil {
				return nil
			}
			sum, n = sum+float64(*x), n+1
		}
	}
	return result.DB(sum / n)
}
