package readlog

import (
	"math"
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/stats"
	"nightfloor/survey"
	"nightfloor/survey/sun"
)

// A Log holds the readings of a selection in order of time: what each was taken through, and
// the rounds they belong to. Nothing in it changes once it is made.
type Log struct {
	In            input.Input
	Readings      []Reading // in order of time
	Rounds        []Round   // in order of time
	SetupSegments []SetupSegment
	Recorded      map[int64]bool // by survey: it was recorded, not imported
	Tunings       int            // pieces of evidence that do not depend on each other: readings of one tuning share theirs
	Usual         time.Duration  // from the beginning of one round to that of the next
	// Longest is for how long nothing may have been measured while a source still counts as
	// on: an hour, or three usual rounds where that is longer.
	Longest  time.Duration
	bySurvey map[int64][]int // rounds
}

// A Reading is one reading. Those of overloaded receivers hold lines and modulation of the
// receiver's own making, and are left out of a log.
type Reading struct {
	Sweep *survey.Sweep
	*survey.Reading
	SetupSegment, Round int
}

// End is when the reading ended.
func (r *Reading) End() time.Time { return r.Start.Add(r.Duration) }

// A Round is one visit to every setup.
type Round struct {
	input.Span
	Key      input.RoundKey
	Readings []int   // in order of time
	Sun      float64 // its elevation in the middle of the round, degrees; NaN: the site is not known
}

// A SetupSegment is a setup in a segment, whose edges are the widest that bore the name.
type SetupSegment struct {
	Setup   survey.Setup
	Segment survey.Segment
}

// An Edge is a source's coming on or going off: it happened between the detection Seen and
// the time Unseen at which the source was measured and not found.
type Edge struct {
	Survey       int64
	Seen, Unseen time.Time
}

// Middle is halfway between Seen and Unseen.
func (e Edge) Middle() time.Time { return e.Between().Middle() }

// Between gives Seen and Unseen in order of time.
func (e Edge) Between() input.Span {
	if e.Unseen.Before(e.Seen) {
		return input.Span{First: e.Unseen, Last: e.Seen}
	}
	return input.Span{First: e.Seen, Last: e.Unseen}
}

// New makes the log of an input that was selected.
func New(in input.Input) *Log {
	l := &Log{In: in, Recorded: map[int64]bool{}, bySurvey: map[int64][]int{}}
	for _, s := range in.Surveys {
		l.Recorded[s.ID] = s.Kind == survey.KindRecord
	}
	l.addReadings()
	l.addRounds()
	l.Usual = l.usualRound()
	l.Longest = max(time.Hour, 3*l.Usual)
	return l
}

func (l *Log) addReadings() {
	known := map[SetupSegment]int{}
	for _, s := range l.In.Sweeps {
		for i := range s.Readings {
			r := &s.Readings[i]
			if r.Quality.Has(survey.FlagOverload) {
				continue
			}
			key := SetupSegment{s.Setup, survey.Segment{Name: r.Segment.Name}}
			at, ok := known[key]
			if !ok {
				at = len(l.SetupSegments)
				known[key] = at
				l.SetupSegments = append(l.SetupSegments, SetupSegment{s.Setup, r.Segment})
			}
			own := &l.SetupSegments[at].Segment
			own.Low, own.High = min(own.Low, r.Segment.Low), max(own.High, r.Segment.High)
			l.Readings = append(l.Readings, Reading{Sweep: s, Reading: r, SetupSegment: at})
		}
	}
	slices.SortStableFunc(l.Readings, func(a, b Reading) int { return a.Start.Compare(b.Start) })
}

// addRounds makes the rounds of the readings, and counts tunings. Rounds come in order of time,
// since the readings do.
func (l *Log) addRounds() {
	known, suns, last := map[input.RoundKey]int{}, l.In.Suns(), map[int64]time.Time{}
	for i := range l.Readings {
		r := &l.Readings[i]
		if at, ok := last[r.Sweep.Survey]; !ok || !at.Equal(r.Start) {
			last[r.Sweep.Survey] = r.Start
			l.Tunings++
		}
		key := input.RoundKey{Survey: r.Sweep.Survey, Round: r.Sweep.Round}
		n, ok := known[key]
		if !ok {
			n = len(l.Rounds)
			known[key] = n
			l.Rounds = append(l.Rounds, Round{Key: key, Sun: math.NaN()})
			l.bySurvey[key.Survey] = append(l.bySurvey[key.Survey], n)
		}
		r.Round = n
		round := &l.Rounds[n]
		round.Span, round.Readings = round.With(input.SpanOf(r.Reading)), append(round.Readings, i)
	}
	for n := range l.Rounds {
		r := &l.Rounds[n]
		if at, ok := suns[r.Key.Survey]; ok {
			r.Sun = sun.Elevation(r.Middle(), at.Lat, at.Lon)
		}
	}
}

// usualRound is the median time from one round of a survey to its next; rounds of two surveys
// may lie between each other.
func (l *Log) usualRound() time.Duration {
	var steps []float64
	for n, r := range l.Rounds {
		if before := l.Beside(n, -1); before >= 0 {
			steps = append(steps, r.First.Sub(l.Rounds[before].First).Seconds())
		}
	}
	if len(steps) == 0 {
		return 0
	}
	return time.Duration(stats.Median(steps) * float64(time.Second))
}

// RoundsSince gives the rounds of a survey from the first on that ends at an instant or after it.
func (l *Log) RoundsSince(id int64, t time.Time) []int {
	own := l.bySurvey[id]
	at, _ := slices.BinarySearchFunc(own, t, func(n int, t time.Time) int { return l.Rounds[n].First.Compare(t) })
	for at > 0 && !l.Rounds[own[at-1]].Last.Before(t) {
		at--
	}
	return own[at:]
}

// Beside gives the round of the same survey that is some steps after a round, or before it
// where the steps are negative; −1: there is none.
func (l *Log) Beside(round, steps int) int {
	own := l.bySurvey[l.Rounds[round].Key.Survey]
	at, _ := slices.BinarySearch(own, round)
	if at += steps; at < 0 || at >= len(own) {
		return -1
	}
	return own[at]
}

// Whole gives from when to when a survey lasted, the zero Span where it has no readings.
func (l *Log) Whole(id int64) (whole input.Span) {
	for _, n := range l.bySurvey[id] {
		whole = whole.With(l.Rounds[n].Span)
	}
	return whole
}
