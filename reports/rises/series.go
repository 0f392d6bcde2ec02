package rises

import (
	"math"
	"slices"

	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

const (
	// riseLeast is from how many dB a rise of the floor is one (PHYSICS.md 8.5).
	riseLeast = 3.0
	// crowdedShare is from what share of taken-out bins a floor says too little of most of
	// its segment. TestRisesThatAreNone and TestDeviceAmongStations fail when it moves.
	crowdedShare = 0.9
	// gapMost is how many times the usual distance two neighbours are apart at the most: over
	// a longer gap a change is no step (STATISTICS.md 9.1). TestStepsBesideAGap fails when it moves.
	gapMost = 2.5
	// scatterLeast is the least scatter that a series is taken to have, dB.
	// TestIntervalOnAStillFloor fails when it moves.
	scatterLeast = 0.05
)

// A floorSeries is the floor through one setup segment in one survey, at gains that compare: it is
// compared only with itself.
type floorSeries struct {
	survey       int64
	setupSegment int
	points       []floorPoint // in order of time
	base         float64      // lower decile of its readings, dB
	scatter      float64      // standard deviation of a point, from what changes between neighbours, dB
	spread       float64      // standard error of a jump, dB; known once its steps are sought
	apart        float64      // hours over which two points are no neighbours
	quiet        quietState
}

// A floorPoint is what the readings of one round tell.
type floorPoint struct {
	input.Span
	round    int
	hours    float64 // of its middle, after the survey's first reading
	level    float64 // median of its readings, dB against full scale at the series' gain
	readings []int
	signs    [signs]bool    // of interference, in the sweeps of its readings
	power    [signs]float64 // median of what was measured of them, at the series' gain; 0: nothing
	hump     float64        // by how much a hump over a part of the segment alone can have raised it, dB
	told     bool           // a rise that holds it was told already
}

type seriesKey struct {
	survey       int64
	setupSegment int
	gain         survey.Gain   // not exact: levels of another do not compare
	wiring       survey.Wiring // what another does to the floor is no device
}

// floorLevel gives a reading's floor in dB at the series' gain: at 0 dB where gains are exact.
func floorLevel(h *readlog.Reading) float64 { return float64(h.Floor.Density) - loweredBy(h) }

func loweredBy(h *readlog.Reading) float64 {
	if h.Gain.Known && h.Gain.Exact {
		return float64(h.Gain.DB)
	}
	return 0
}

// usable tells whether a reading's floor is the noise outside, through the antenna it is
// said to be, over enough of the segment.
func usable(h *readlog.Reading) bool {
	return input.Levelled(h.Reading) && h.Occupancy <= crowdedShare &&
		!h.Quality.Has(survey.FlagReceiverLimited) && !h.Quality.Has(survey.FlagSetupDoubt)
}

// floors gathers the readings into series, those long enough to tell anything.
func floors(l *readlog.Log) (all []*floorSeries) {
	found, signs, wirings := map[seriesKey]*floorSeries{}, sweepSigns(l), wirings(l)
	for i := range l.Readings {
		h := &l.Readings[i]
		if !usable(h) {
			continue
		}
		key := seriesKey{h.Sweep.Survey, h.SetupSegment, h.Gain, wirings[visitKey{h.Sweep.Survey, h.Sweep.Visit}]}
		if h.Gain.Known && h.Gain.Exact {
			key.gain = survey.Gain{Known: true, Exact: true}
		}
		s := found[key]
		if s == nil {
			s = &floorSeries{survey: key.survey, setupSegment: h.SetupSegment}
			found[key] = s
			all = append(all, s)
		}
		if n := len(s.points); n == 0 || s.points[n-1].round != h.Round {
			s.points = append(s.points, floorPoint{Span: input.SpanOf(h.Reading), round: h.Round})
		}
		p := &s.points[len(s.points)-1]
		p.Span = p.Span.With(input.SpanOf(h.Reading))
		p.readings = append(p.readings, i)
		for k, shown := range signs[h.Sweep] {
			p.signs[k] = p.signs[k] || shown
		}
	}
	all = slices.DeleteFunc(all, func(s *floorSeries) bool { return len(s.points) < stats.MinRounds })
	for _, s := range all {
		finishSeries(l, s)
	}
	return all
}

// A visitKey names a visit: visits count within their survey.
type visitKey struct {
	survey int64
	visit  int
}

// wirings gives what was in place in each visit.
func wirings(l *readlog.Log) map[visitKey]survey.Wiring {
	of := map[visitKey]survey.Wiring{}
	for _, v := range l.In.Visits {
		of[visitKey{v.Survey, v.Number}] = v.Wiring
	}
	return of
}

// finishSeries makes levels of the readings that were gathered.
func finishSeries(l *readlog.Log, s *floorSeries) {
	start := l.Whole(s.survey).First
	var levels, sigmas, steps, changes []float64
	for n := range s.points {
		p := &s.points[n]
		p.hours = p.Middle().Sub(start).Hours()
		var own []float64
		for _, i := range p.readings {
			own = append(own, floorLevel(&l.Readings[i]))
			sigmas = append(sigmas, float64(l.Readings[i].Floor.Sigma))
		}
		levels = append(levels, own...)
		p.level = stats.Median(own)
		measureSigns(l, p)
		if n > 0 {
			steps = append(steps, p.hours-s.points[n-1].hours)
		}
	}
	slices.Sort(levels)
	s.base = stats.Quantile(levels, 0.1)
	s.apart = gapMost * stats.Median(steps)
	for n := 1; n < len(s.points); n++ {
		if s.joined(n) {
			changes = append(changes, s.points[n].level-s.points[n-1].level)
		}
	}
	// A change scatters by √2 of what a point does. No floor is steadier than it is known.
	trend := stats.Median(changes)
	for i := range changes {
		changes[i] -= trend
	}
	s.scatter = max(stats.Spread(changes)/math.Sqrt2, stats.Median(sigmas), scatterLeast)
	s.quiet = s.low()
}

// joined tells whether a point is the neighbour of the one before it.
func (s *floorSeries) joined(n int) bool { return s.points[n].hours-s.points[n-1].hours <= s.apart }

// over gives how far a point stands over the series' lower decile, without what a hump
// alone can have done to it.
func (s *floorSeries) over(n int) float64 { return s.points[n].level - s.points[n].hump - s.base }
