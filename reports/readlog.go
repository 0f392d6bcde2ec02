package reports

import (
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// An edge is a source's coming on or going off: it happened between the detection seen
// and the time unseen at which something listened and did not hear it.
type edge struct {
	survey       int64
	seen, unseen time.Time
}

func (e edge) middle() time.Time { return e.seen.Add(e.unseen.Sub(e.seen) / 2) }

// roundsSince gives the rounds of a survey from the first on that ends at an instant or after it.
func (l *readLog) roundsSince(id int64, t time.Time) []int {
	own := l.bySurvey[id]
	at, _ := slices.BinarySearchFunc(own, t, func(n int, t time.Time) int { return l.rounds[n].first.Compare(t) })
	for at > 0 && !l.rounds[own[at-1]].last.Before(t) {
		at--
	}
	return own[at:]
}

// A readLog holds the readings of a selection in order of time: what each listened
// through, and the rounds they belong to.
type readLog struct {
	in            input.Input
	rounds        []loggedRound // in order of time
	setupSegments []setupSegment
	readings      []loggedReading
	byRound       [][]int              // readings
	bySurvey      map[int64][]int      // rounds
	whole         map[int64]input.Span // by survey: from when to when it listened
	record        map[int64]bool       // by survey: it was recorded, not imported
	usual         time.Duration        // of a round
	dark          func(round int) bool // once asked for, see darkness
	sure          func(round int) bool
	longest       time.Duration // over which a source counts as on unless it was heard to be off
}

type loggedRound struct {
	key         input.RoundKey
	first, last time.Time
}

// An setupSegment is a setup in a segment. The edges are the widest that bore the name.
type setupSegment struct {
	setup   survey.Setup
	segment survey.Segment
}

// A loggedReading is one reading.
type loggedReading struct {
	sweep *survey.Sweep
	*survey.Reading
	setupSegment, round int
}

func (h *loggedReading) end() time.Time { return h.Start.Add(h.Duration) }

// newReadLog gathers the readings of an input that was selected. Overloaded ones make
// lines and beats of their own, and are left out.
func newReadLog(in input.Input) *readLog {
	l := &readLog{in: in, record: map[int64]bool{}}
	readings := 0
	for _, s := range in.Sweeps {
		readings += len(s.Readings)
	}
	l.readings = make([]loggedReading, 0, readings)
	for _, s := range in.Surveys {
		l.record[s.ID] = s.Kind == survey.KindRecord
	}
	setupSegments, rounds := map[setupSegment]int{}, map[input.RoundKey]int{}
	for _, s := range in.Sweeps {
		for i := range s.Readings {
			r := &s.Readings[i]
			if r.Quality.Has(survey.FlagOverload) {
				continue
			}
			h := loggedReading{s, r, l.addSetupSegment(setupSegments, s.Setup, r.Segment), l.round(rounds, s, r)}
			l.readings = append(l.readings, h)
		}
	}
	l.order()
	l.usual = l.usualRound()
	l.longest = l.steady()
	l.byRound = make([][]int, len(l.rounds))
	for i := range l.readings {
		n := l.readings[i].round
		l.byRound[n] = append(l.byRound[n], i)
	}
	l.bySurvey, l.whole = map[int64][]int{}, map[int64]input.Span{}
	for n, r := range l.rounds {
		id, whole := r.key.Survey, input.Span{First: r.first, Last: r.last}
		if len(l.bySurvey[id]) > 0 {
			whole = l.whole[id].With(whole)
		}
		l.bySurvey[id], l.whole[id] = append(l.bySurvey[id], n), whole
	}
	return l
}

func (l *readLog) addSetupSegment(known map[setupSegment]int, setup survey.Setup, segment survey.Segment) int {
	key := setupSegment{setup, survey.Segment{Name: segment.Name}}
	i, ok := known[key]
	if !ok {
		i = len(l.setupSegments)
		known[key] = i
		l.setupSegments = append(l.setupSegments, setupSegment{setup, segment})
	}
	own := &l.setupSegments[i].segment
	own.Low, own.High = min(own.Low, segment.Low), max(own.High, segment.High)
	return i
}

func (l *readLog) round(known map[input.RoundKey]int, s *survey.Sweep, r *survey.Reading) int {
	key := input.RoundKey{Survey: s.Survey, Round: s.Round}
	n, ok := known[key]
	if !ok {
		n = len(l.rounds)
		known[key] = n
		l.rounds = append(l.rounds, loggedRound{key, r.Start, r.Start.Add(r.Duration)})
	}
	round := &l.rounds[n]
	whole := input.Span{First: round.first, Last: round.last}.With(input.SpanOf(r))
	round.first, round.last = whole.First, whole.Last
	return n
}

// order puts readings and rounds into order of time.
func (l *readLog) order() {
	at := make([]int, len(l.rounds))
	for i := range at {
		at[i] = i
	}
	slices.SortStableFunc(at, func(a, b int) int { return l.rounds[a].first.Compare(l.rounds[b].first) })
	rounds, place := make([]loggedRound, len(at)), make([]int, len(at))
	for i, from := range at {
		rounds[i], place[from] = l.rounds[from], i
	}
	l.rounds = rounds
	for i := range l.readings {
		l.readings[i].round = place[l.readings[i].round]
	}
	slices.SortStableFunc(l.readings, func(a, b loggedReading) int { return a.Start.Compare(b.Start) })
}

// steady is an hour, or three rounds where they are longer than a third of that.
func (l *readLog) steady() time.Duration { return max(time.Hour, 3*l.usual) }

// usualRound is how long a round takes, as a rule; rounds of two surveys may lie between each
// other.
func (l *readLog) usualRound() time.Duration {
	var steps []float64
	last := map[int64]time.Time{}
	for _, r := range l.rounds {
		if before, ok := last[r.key.Survey]; ok {
			steps = append(steps, r.first.Sub(before).Seconds())
		}
		last[r.key.Survey] = r.first
	}
	if len(steps) == 0 {
		return 0
	}
	return time.Duration(stats.Median(steps) * float64(time.Second))
}

// darkness tells of each round whether it is not by day; of a site that is not known, that
// it may be dark, sure false.
func (l *readLog) darkness() (dark, sure func(round int) bool) {
	if l.dark != nil {
		return l.dark, l.sure
	}
	suns := l.in.Suns()
	known, night := make([]bool, len(l.rounds)), make([]bool, len(l.rounds))
	for n, r := range l.rounds {
		if sun, ok := suns[r.key.Survey]; ok {
			known[n] = true
			night[n] = input.PeriodAt(r.first.Add(r.last.Sub(r.first)/2), sun.Lat, sun.Lon) != result.PeriodDay
		}
	}
	l.dark, l.sure = func(n int) bool { return !known[n] || night[n] }, func(n int) bool { return known[n] && night[n] }
	return l.dark, l.sure
}
