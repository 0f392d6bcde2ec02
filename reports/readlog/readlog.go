package readlog

import (
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// An Edge is a source's coming on or going off: it happened between the detection seen
// and the time unseen at which something listened and did not hear it.
type Edge struct {
	Survey       int64
	Seen, Unseen time.Time
}

// Middle gives the instant halfway between seen and unseen.
func (e Edge) Middle() time.Time { return e.Seen.Add(e.Unseen.Sub(e.Seen) / 2) }

// RoundsSince gives the rounds of a survey from the first on that ends at an instant or after it.
func (l *Log) RoundsSince(id int64, t time.Time) []int {
	own := l.BySurvey[id]
	at, _ := slices.BinarySearchFunc(own, t, func(n int, t time.Time) int { return l.Rounds[n].First.Compare(t) })
	for at > 0 && !l.Rounds[own[at-1]].Last.Before(t) {
		at--
	}
	return own[at:]
}

// A Log holds the readings of a selection in order of time: what each listened
// through, and the rounds they belong to.
type Log struct {
	In            input.Input
	Rounds        []loggedRound // in order of time
	SetupSegments []setupSegment
	Readings      []Reading
	ByRound       [][]int              // readings
	BySurvey      map[int64][]int      // rounds
	Whole         map[int64]input.Span // by survey: from when to when it listened
	Record        map[int64]bool       // by survey: it was recorded, not imported
	Usual         time.Duration        // of a round
	dark          func(round int) bool // once asked for, see darkness
	sure          func(round int) bool
	Longest       time.Duration // over which a source counts as on unless it was heard to be off
}

type loggedRound struct {
	Key         input.RoundKey
	First, Last time.Time
}

// An setupSegment is a setup in a segment. The edges are the widest that bore the name.
type setupSegment struct {
	Setup   survey.Setup
	Segment survey.Segment
}

// A Reading is one reading.
type Reading struct {
	Sweep *survey.Sweep
	*survey.Reading
	SetupSegment, Round int
}

// End gives when the reading ended.
func (h *Reading) End() time.Time { return h.Start.Add(h.Duration) }

// New gathers the readings of an input that was selected. Overloaded ones make
// lines and beats of their own, and are left out.
func New(in input.Input) *Log {
	l := &Log{In: in, Record: map[int64]bool{}}
	readings := 0
	for _, s := range in.Sweeps {
		readings += len(s.Readings)
	}
	l.Readings = make([]Reading, 0, readings)
	for _, s := range in.Surveys {
		l.Record[s.ID] = s.Kind == survey.KindRecord
	}
	setupSegments, rounds := map[setupSegment]int{}, map[input.RoundKey]int{}
	for _, s := range in.Sweeps {
		for i := range s.Readings {
			r := &s.Readings[i]
			if r.Quality.Has(survey.FlagOverload) {
				continue
			}
			h := Reading{s, r, l.addSetupSegment(setupSegments, s.Setup, r.Segment), l.round(rounds, s, r)}
			l.Readings = append(l.Readings, h)
		}
	}
	l.order()
	l.Usual = l.usualRound()
	l.Longest = l.steady()
	l.ByRound = make([][]int, len(l.Rounds))
	for i := range l.Readings {
		n := l.Readings[i].Round
		l.ByRound[n] = append(l.ByRound[n], i)
	}
	l.BySurvey, l.Whole = map[int64][]int{}, map[int64]input.Span{}
	for n, r := range l.Rounds {
		id, whole := r.Key.Survey, input.Span{First: r.First, Last: r.Last}
		if len(l.BySurvey[id]) > 0 {
			whole = l.Whole[id].With(whole)
		}
		l.BySurvey[id], l.Whole[id] = append(l.BySurvey[id], n), whole
	}
	return l
}

func (l *Log) addSetupSegment(known map[setupSegment]int, setup survey.Setup, segment survey.Segment) int {
	key := setupSegment{setup, survey.Segment{Name: segment.Name}}
	i, ok := known[key]
	if !ok {
		i = len(l.SetupSegments)
		known[key] = i
		l.SetupSegments = append(l.SetupSegments, setupSegment{setup, segment})
	}
	own := &l.SetupSegments[i].Segment
	own.Low, own.High = min(own.Low, segment.Low), max(own.High, segment.High)
	return i
}

func (l *Log) round(known map[input.RoundKey]int, s *survey.Sweep, r *survey.Reading) int {
	key := input.RoundKey{Survey: s.Survey, Round: s.Round}
	n, ok := known[key]
	if !ok {
		n = len(l.Rounds)
		known[key] = n
		l.Rounds = append(l.Rounds, loggedRound{key, r.Start, r.Start.Add(r.Duration)})
	}
	round := &l.Rounds[n]
	whole := input.Span{First: round.First, Last: round.Last}.With(input.SpanOf(r))
	round.First, round.Last = whole.First, whole.Last
	return n
}

// order puts readings and rounds into order of time.
func (l *Log) order() {
	at := make([]int, len(l.Rounds))
	for i := range at {
		at[i] = i
	}
	slices.SortStableFunc(at, func(a, b int) int { return l.Rounds[a].First.Compare(l.Rounds[b].First) })
	rounds, place := make([]loggedRound, len(at)), make([]int, len(at))
	for i, from := range at {
		rounds[i], place[from] = l.Rounds[from], i
	}
	l.Rounds = rounds
	for i := range l.Readings {
		l.Readings[i].Round = place[l.Readings[i].Round]
	}
	slices.SortStableFunc(l.Readings, func(a, b Reading) int { return a.Start.Compare(b.Start) })
}

// steady is an hour, or three rounds where they are longer than a third of that.
func (l *Log) steady() time.Duration { return max(time.Hour, 3*l.Usual) }

// usualRound is how long a round takes, as a rule; rounds of two surveys may lie between each
// other.
func (l *Log) usualRound() time.Duration {
	var steps []float64
	last := map[int64]time.Time{}
	for _, r := range l.Rounds {
		if before, ok := last[r.Key.Survey]; ok {
			steps = append(steps, r.First.Sub(before).Seconds())
		}
		last[r.Key.Survey] = r.First
	}
	if len(steps) == 0 {
		return 0
	}
	return time.Duration(stats.Median(steps) * float64(time.Second))
}

// Darkness tells of each round whether it is not by day; of a site that is not known, that
// it may be dark, sure false.
func (l *Log) Darkness() (dark, sure func(round int) bool) {
	if l.dark != nil {
		return l.dark, l.sure
	}
	suns := l.In.Suns()
	known, night := make([]bool, len(l.Rounds)), make([]bool, len(l.Rounds))
	for n, r := range l.Rounds {
		if sun, ok := suns[r.Key.Survey]; ok {
			known[n] = true
			night[n] = input.PeriodAt(r.First.Add(r.Last.Sub(r.First)/2), sun.Lat, sun.Lon) != result.PeriodDay
		}
	}
	l.dark, l.sure = func(n int) bool { return !known[n] || night[n] }, func(n int) bool { return known[n] && night[n] }
	return l.dark, l.sure
}
