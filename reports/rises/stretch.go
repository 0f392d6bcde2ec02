package rises

import (
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

const (
	// fewLow is at how many points at the least a series must not be raised for it to be
	// known what it looks like then. TestFewQuietPoints fails when it moves.
	fewLow = 3
	// contrast is by how many times its scatter a raised floor must differ from the rest of
	// its series, and by half of riseLeast at the least.
	contrast = 3.0
	// edgeLeast is by how many dB the floor must change at the beginning or the end of a
	// sign of interference in the dark, for the sign to explain a rise there.
	// TestFloorAtTheEdgeOfASign fails when it moves.
	edgeLeast = riseLeast / 2
	// nightLong is how long a rise must last for the ionosphere to have made it.
	// TestLengthOfANight fails when it moves.
	nightLong = time.Hour
)

// A stretch is a run of points of one series at which the floor is raised.
type stretch struct {
	series *floorSeries
	points []int
	sign   int // that explains it; of a night's rise none
}

func (s *stretch) first() *floorPoint { return &s.series.points[s.points[0]] }
func (s *stretch) last() *floorPoint  { return &s.series.points[s.points[len(s.points)-1]] }

// stretches gives the runs of points for which raised holds. They are joined as the hours
// of sources are: a second point at which it does not hold ends one, and so does a time
// without any. Points that were told already count neither way.
func stretches(l *readlog.Log, s *floorSeries, raised func(n int) bool) (all []stretch) {
	silent := 0
	var last time.Time // of a point that does not end one
	for n := range s.points {
		switch {
		case s.points[n].told:
			last = s.points[n].Last
		case !raised(n):
			silent++
		default:
			at := len(all) - 1
			if at < 0 || silent > 1 || s.points[n].First.Sub(last) > l.Longest {
				all = append(all, stretch{series: s, sign: signs})
				at++
			}
			all[at].points = append(all[at].points, n)
			silent, last = 0, s.points[n].Last
		}
	}
	return slices.DeleteFunc(all, func(x stretch) bool { return len(x.points) < 2 })
}

// A quietState is what a series looks like at the points at which it is not raised.
type quietState struct {
	points int
	level  float64        // their median over the lower decile, dB
	signs  [signs]int     // at how many of them each was found
	power  [signs]float64 // median
}

// low tells of the points at which a series is not raised.
func (s *floorSeries) low() (c quietState) {
	var low []int
	var levels []float64
	for n := range s.points {
		if over := s.over(n); over < riseLeast {
			low, levels = append(low, n), append(levels, over)
		}
	}
	c.points, c.level = len(low), stats.Median(levels)
	for sign := range signs {
		c.signs[sign], c.power[sign] = s.signAt(sign, low)
	}
	return c
}

// stands tells whether a stretch, all of it, lies higher than the rest of its series.
func (x *stretch) stands() bool {
	s := x.series
	var all []float64
	for n := x.points[0]; n <= x.points[len(x.points)-1]; n++ {
		all = append(all, s.over(n))
	}
	up := stats.Median(all)
	return s.quiet.points >= fewLow && up >= riseLeast && up-s.quiet.level >= max(riseLeast/2, contrast*s.scatter)
}

// broadband gives the stretches in which a floor is raised and a sign of interference
// explains it.
func broadband(l *readlog.Log, series []*floorSeries) (all []stretch) {
	for _, s := range series {
		for sign := range signs {
			raised := func(n int) bool { return s.over(n) >= riseLeast && s.points[n].signs[sign] }
			for _, x := range stretches(l, s, raised) {
				x.sign = sign
				if x.stands() && s.explains(sign, x.points) && !(x.dark(l, mayBeDark) && x.goesOn()) {
					all = append(all, x)
				}
			}
		}
	}
	return all
}

// mayBeDark tells whether the sun may be lower at a round than by day: it is, or the site is
// not known.
func mayBeDark(r *readlog.Round) bool { return !(r.Sun > input.Twilight) }

// surelyDark tells whether the sun is known to be lower at a round than by day.
func surelyDark(r *readlog.Round) bool { return r.Sun <= input.Twilight }

// dark tells whether most of a stretch is dark.
func (x *stretch) dark(l *readlog.Log, dark func(r *readlog.Round) bool) bool {
	n := 0
	for _, p := range x.points {
		if dark(&l.Rounds[x.series.points[p].round]) {
			n++
		}
	}
	return 2*n > len(x.points)
}

// goesOn tells whether the floor is as high before the sign and after it, where that is
// known of either: then something else has raised it.
func (x *stretch) goesOn() bool {
	known := false
	for i, n := range []int{x.points[0], x.points[len(x.points)-1] + 1} {
		if j, ok := x.series.jumpAt(n); ok {
			known = true
			if i == 0 && j.size >= edgeLeast || i == 1 && j.size <= -edgeLeast {
				return false
			}
		}
	}
	return known
}

// nights gives the stretches in the dark in which a floor is raised and nothing explains
// it but the ionosphere: most setups that listen in a segment show it.
func nights(l *readlog.Log, series []*floorSeries) (all []stretch) {
	type part struct {
		survey  int64
		segment string
	}
	listen := map[part]map[survey.Setup]bool{}
	controls := l.In.Controls()
	for _, s := range series {
		at := l.SetupSegments[s.setupSegment]
		if controls[at.Setup] {
			continue
		}
		own := part{s.survey, at.Segment.Name}
		if listen[own] == nil {
			listen[own] = map[survey.Setup]bool{}
		}
		listen[own][at.Setup] = true
		raised := func(n int) bool { return s.over(n) >= riseLeast }
		for _, x := range stretches(l, s, raised) {
			if x.last().Last.Sub(x.first().First) >= nightLong && x.dark(l, surelyDark) && x.stands() {
				all = append(all, x)
			}
		}
	}
	return slices.DeleteFunc(slices.Clone(all), func(x stretch) bool {
		segment, raised := l.SetupSegments[x.series.setupSegment].Segment.Name, map[survey.Setup]bool{}
		for _, y := range all {
			if at := l.SetupSegments[y.series.setupSegment]; at.Segment.Name == segment && y.overlaps(&x) {
				raised[at.Setup] = true
			}
		}
		return 2*len(raised) <= len(listen[part{x.series.survey, segment}])
	})
}

// overlaps tells whether two stretches of one survey have time in common.
func (x *stretch) overlaps(y *stretch) bool {
	return x.series.survey == y.series.survey && !x.first().First.After(y.last().Last) && !y.first().First.After(x.last().Last)
}

// gathered puts stretches together that overlap, directly or through others, in order of
// time.
func gathered(all []stretch) (groups [][]stretch) {
	slices.SortStableFunc(all, func(a, b stretch) int { return a.first().First.Compare(b.first().First) })
	end := map[int64]time.Time{} // of the last group, by survey
	at := map[int64]int{}
	for _, x := range all {
		id := x.series.survey
		if _, ok := at[id]; !ok || x.first().First.After(end[id]) {
			at[id], end[id] = len(groups), x.last().Last
			groups = append(groups, nil)
		}
		groups[at[id]] = append(groups[at[id]], x)
		if x.last().Last.After(end[id]) {
			end[id] = x.last().Last
		}
	}
	return groups
}
