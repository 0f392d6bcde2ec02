package rises

import (
	"cmp"
	"math"
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A switching is one device going on or off: steps in the same direction, at one instant,
// in most segments of the setups that show it.
type switching struct {
	readlog.Edge
	up       bool
	steps    []floorStep
	segments int // in step
	measured int // that could have been
}

// switchings finds the instants at which a device was switched, in order of time.
func switchings(l *readlog.Log, series []*floorSeries) (found []*switching) {
	controls := l.In.Controls()
	var order []floorStep
	for _, s := range series {
		order = append(order, s.steps()...)
	}
	slices.SortStableFunc(order, func(a, b floorStep) int {
		return cmp.Or(cmp.Compare(a.series.survey, b.series.survey), a.lo.Compare(b.lo))
	})
	for len(order) > 0 {
		n, end := 1, order[0].hi
		for n < len(order) && order[n].series.survey == order[0].series.survey && order[n].lo.Before(end) {
			if order[n].hi.After(end) {
				end = order[n].hi
			}
			n++
		}
		found = append(found, untangle(l, order[:n], series, controls)...)
		order = order[n:]
	}
	slices.SortStableFunc(found, func(a, b *switching) int { return a.Seen.Compare(b.Seen) })
	return found
}

// untangle finds the switchings among steps that overlap each other in time: first the one
// in which the most steps agree.
func untangle(l *readlog.Log, steps []floorStep, series []*floorSeries, controls map[survey.Setup]bool) (found []*switching) {
	left := slices.Clone(steps)
	for len(left) > 1 {
		var most []floorStep
		var at time.Time
		for _, first := range left {
			if group := during(left, first.lo, first.up()); len(group) > len(most) {
				most, at = group, first.lo
			}
		}
		if len(most) < 2 {
			break
		}
		left = slices.DeleteFunc(left, func(f floorStep) bool { return slices.Contains(most, f) })
		if s := deviceOf(l, most, testable(l, series, most[0].series.survey, at), controls); s != nil {
			found = append(found, s)
		}
	}
	return found
}

// during gives the steps in one direction that may have happened at an instant, one each
// series.
func during(steps []floorStep, at time.Time, up bool) (group []floorStep) {
	for _, f := range steps {
		if f.up() == up && !f.lo.After(at) && f.hi.After(at) {
			group = append(group, f)
		}
	}
	return group
}

// testable gives the setup segments in which a step could have been seen at an instant.
func testable(l *readlog.Log, series []*floorSeries, id int64, at time.Time) map[int]bool {
	setupSegments := map[int]bool{}
	for _, s := range series {
		if s.survey != id {
			continue
		}
		n, _ := slices.BinarySearchFunc(s.points, at, func(p floorPoint, t time.Time) int { return p.Last.Compare(t) })
		for _, n := range []int{n, n + 1} {
			if n > 0 && n < len(s.points) {
				if _, ok := s.jumpAt(n); ok {
					setupSegments[s.setupSegment] = true
				}
			}
		}
	}
	return setupSegments
}

// deviceOf makes a switching of steps at one instant; nil where they are none: fewer than two
// segments through every setup, or no more than half of those measured, or a step that the
// receiver makes without an antenna too, or a smooth change from one level to the other.
func deviceOf(l *readlog.Log, steps []floorStep, testable map[int]bool, controls map[survey.Setup]bool) *switching {
	stepping := map[int]bool{}
	for _, f := range steps {
		stepping[f.series.setupSegment] = true
	}
	bySetup := func(some map[int]bool) map[survey.Setup]int {
		n := map[survey.Setup]int{}
		for e := range some {
			n[l.SetupSegments[e].Setup]++
		}
		return n
	}
	inStep, measured := bySetup(stepping), bySetup(testable)
	shows := func(setup survey.Setup) bool { return inStep[setup] > 1 && 2*inStep[setup] > measured[setup] }
	for setup := range inStep {
		if shows(setup) && controls[setup] {
			return nil
		}
	}
	segments := func(some map[int]bool) int {
		names := map[string]bool{}
		for e := range some {
			if at := l.SetupSegments[e]; shows(at.Setup) {
				names[at.Segment.Name] = true
			}
		}
		return len(names)
	}
	s := &switching{up: steps[0].up(), segments: segments(stepping)}
	s.measured = max(segments(testable), s.segments)
	s.steps = slices.DeleteFunc(slices.Clone(steps), func(f floorStep) bool { return !shows(l.SetupSegments[f.series.setupSegment].Setup) })
	if len(s.steps) == 0 || !timeSwitching(l, s) {
		return nil
	}
	return s
}

// A stepReading is one reading beside a step: 0 at the level before it, 1 at that after it.
type stepReading struct {
	from, to time.Time
	height   float64
}

// timeSwitching finds between which two readings the device was switched; ok is false where a
// steady climb through the whole time between the rounds fits better than a step.
func timeSwitching(l *readlog.Log, s *switching) (ok bool) {
	var readings []stepReading
	for _, f := range s.steps {
		readings = append(readings, stepReadings(l, f)...)
	}
	slices.SortStableFunc(readings, func(a, b stepReading) int { return a.from.Compare(b.from) })
	first, last := readings[0].from, readings[len(readings)-1].to
	climb, step := 0.0, 0.0
	for _, x := range readings {
		u := x.from.Add(x.to.Sub(x.from)/2).Sub(first).Seconds() / last.Sub(first).Seconds()
		climb += (x.height - u) * (x.height - u)
		step += (x.height - 1) * (x.height - 1) // as if all stood after it
	}
	best, at := math.Inf(1), 0
	for i, x := range readings {
		if i > 0 && step < best && !x.from.Equal(readings[i-1].from) {
			best, at = step, i
		}
		step += x.height*x.height - (x.height-1)*(x.height-1)
	}
	// Where there is no reading in between, both fit alike: heights are known to a tenth.
	if best > climb+0.01*float64(len(readings)) {
		return false
	}
	s.Edge = readlog.Edge{Survey: s.steps[0].series.survey, Seen: readings[at].from, Unseen: readings[at-1].to}
	if !s.up {
		s.Seen, s.Unseen = s.Unseen, s.Seen
	}
	return true
}

// stepReadings gives the readings of the two points beside a step. One that strays tells no
// more than one that stands half a step beyond.
func stepReadings(l *readlog.Log, f floorStep) (all []stepReading) {
	for _, p := range f.series.points[f.n-1 : f.n+1] {
		for _, i := range p.readings {
			h := &l.Readings[i]
			hours := h.Start.Sub(p.Middle()).Hours() + p.hours - f.at
			height := (floorLevel(h) - f.slope*hours - f.before) / f.size
			all = append(all, stepReading{h.Start, h.End(), max(-0.5, min(1.5, height))})
		}
	}
	return all
}

// difference tells by how many dB the device that goes on differs from the one that goes off:
// by the power it adds, or by how far it lifts the floor where that has moved in between; ok
// is false where less than half of the setup segments are the same.
func difference(on, off *switching) (d float64, ok bool) {
	var powers, sizes []float64
	for _, f := range on.steps {
		for _, g := range off.steps {
			if f.series == g.series {
				powers = append(powers, stats.Decibel(f.power()/g.power()))
				sizes = append(sizes, f.size+g.size)
			}
		}
	}
	if n := len(powers); n == 0 || 2*n < min(len(on.steps), len(off.steps)) {
		return 0, false
	}
	return min(math.Abs(stats.Median(powers)), math.Abs(stats.Median(sizes))), true
}

// power gives what comes or goes in a step, in linear power.
func (f *floorStep) power() float64 {
	return math.Abs(stats.FromDecibel(f.after) - stats.FromDecibel(f.before))
}

// sameDevice is by how many dB the power of one device may differ from its coming on to its
// going off; within alike nothing tells two devices apart. TestWhichDeviceGoes fails when either
// moves.
const sameDevice, alike = 3.0, 1.0

// A device is what went on and off: one of the two is nil where it was not seen.
type device struct {
	survey     int64
	input.Span // in which it was on, as far as that is known, else the survey's
	on, off    *switching
	over       *switching // of one that was not seen to go off: the going off of another after which the floor was down again
	steps      []floorStep
}

// devices joins each going off with the coming on before it that is most like it, of those
// that are alike with the last.
func devices(l *readlog.Log, found []*switching) (all []device) {
	for _, s := range found {
		if s.up {
			all = append(all, device{on: s})
			continue
		}
		best, least := -1, sameDevice
		for i, d := range all {
			if d.on == nil || d.off != nil || d.on.Survey != s.Survey {
				continue
			}
			if db, ok := difference(d.on, s); ok && db <= max(least, alike) && !interrupted(l, d.on.Seen, s.Seen, s.Survey) {
				best, least = i, min(least, db)
			}
		}
		if best >= 0 {
			all[best].off = s
			continue
		}
		all = append(all, device{off: s})
	}
	for i := range all {
		d := &all[i]
		for _, s := range found {
			if d.on != nil && d.off == nil && d.over == nil && !s.up && s.Survey == d.on.Survey && s.Seen.After(d.on.Seen) && down(d.on, s) {
				d.over = s
			}
		}
		d.finish(l)
	}
	return all
}

// finish fills in what follows from the switchings.
func (d *device) finish(l *readlog.Log) {
	d.survey = cmp.Or(d.on, d.off).Survey
	d.Span = l.Whole(d.survey)
	if d.on != nil {
		d.First, d.steps = d.on.Seen, append(d.steps, d.on.steps...)
	}
	if d.off != nil {
		d.steps = append(d.steps, d.off.steps...)
	}
	if end := cmp.Or(d.off, d.over); end != nil {
		d.Last = end.Seen
	}
}

// down tells whether after s less than half of what was switched on is left.
func down(on, s *switching) bool {
	var left []float64
	for _, f := range on.steps {
		for _, g := range s.steps {
			if before := stats.FromDecibel(f.before); g.series == f.series {
				left = append(left, (stats.FromDecibel(g.after)-before)/(stats.FromDecibel(f.after)-before))
			}
		}
	}
	return len(left) > 0 && stats.Median(left) < 0.5
}

// interrupted tells whether nothing listened for so long between two instants that a
// device may have gone off and on unseen.
func interrupted(l *readlog.Log, from, to time.Time, id int64) bool {
	last := from
	for _, n := range l.RoundsSince(id, from) {
		r := &l.Rounds[n]
		if r.First.After(to) {
			break
		}
		if r.First.Sub(last) > l.Longest {
			return true
		}
		last = r.Last
	}
	return to.Sub(last) > l.Longest
}
