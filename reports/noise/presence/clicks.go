package presence

import (
	"cmp"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/floats"

	"nightfloor/dsp/stat"
	"nightfloor/reports/input"
	"nightfloor/reports/noise/track"
	"nightfloor/reports/readlog"
	"nightfloor/survey"
)

// clicksDue is how many clicks must have been due in a silence for it to mean that their source
// was off: they come by chance, and of a Poisson process none comes where 12 are due once in
// 160,000 times (STATISTICS.md 8.3); TestSilenceAmongClicks.
const clicksDue = 12.0

// isClicks tells whether a track is of impulses that come one by one.
func isClicks(t track.Track) bool {
	return t.Kind() == survey.FindingImpulses && track.ImpulsesOf(t.Finding()) == track.Clicks
}

// A listening is one epoch at which an antenna listened, and the impulses counted in it.
type listening struct {
	input.Span
	survey         int64
	round, reading int
	impulses       float64
}

func (x *listening) seconds() float64 { return x.Last.Sub(x.First).Seconds() }

// listenings gives them in order of time, those with no impulse too: half a second with one click
// in it says nothing of the rate, nor do the setup segments that happened to have the most.
// Readings that share a tuning share their impulses.
func listenings(l *readlog.Log, t track.Track, measured []*survey.Finding) (all []listening) {
	deaf, last := deafTo(l, t, measured), map[int64]int{} // by survey
	for i := range l.Readings {
		r := &l.Readings[i]
		if deaf[r.SetupSegment] {
			continue
		}
		at, known := last[r.Sweep.Survey]
		if !known || !all[at].First.Equal(r.Start) {
			at = len(all)
			last[r.Sweep.Survey] = at
			all = append(all, listening{Span: input.SpanOf(r.Reading), survey: r.Sweep.Survey, round: r.Round, reading: i})
		}
		if f := measured[i]; f != nil {
			all[at].impulses = max(all[at].impulses, math.Round(float64(f.Rate)*r.Duration.Seconds()))
		}
	}
	return all
}

// deafTo tells of the setup segments which cannot show impulses: those of controls, unless
// impulses came through nothing else, and those that had none where so many were due that it is
// no chance. Rows of pulses are always due.
func deafTo(l *readlog.Log, t track.Track, measured []*survey.Finding) (deaf []bool) {
	controls := l.In.Controls()
	antenna := false
	for f := range t.Findings() {
		antenna = antenna || !controls[l.Readings[f.Reading].Sweep.Setup]
	}
	deaf = make([]bool, len(l.SetupSegments))
	impulses, seconds := make([]float64, len(l.SetupSegments)), make([]float64, len(l.SetupSegments))
	for i := range l.Readings {
		r := &l.Readings[i]
		if deaf[r.SetupSegment] = antenna && controls[r.Sweep.Setup]; deaf[r.SetupSegment] {
			continue
		}
		n, long := 0.0, r.Duration.Seconds()
		if f := measured[i]; f != nil {
			n = float64(f.Rate) * long
		}
		impulses[r.SetupSegment], seconds[r.SetupSegment] = impulses[r.SetupSegment]+n, seconds[r.SetupSegment]+long
	}
	rate := floats.Sum(impulses) / floats.Sum(seconds)
	for k := range deaf {
		deaf[k] = deaf[k] || impulses[k] == 0 && (!isClicks(t) || rate*seconds[k] > clicksDue)
	}
	return deaf
}

// spanClicks makes spans of clicks. They end only where so many were due that their silence is
// no chance; rounds at the beginning and the end of a survey in which fewer were due cannot
// tell.
func (p *Presence) spanClicks(l *readlog.Log, all []listening) {
	bySurvey := map[int64][]listening{}
	for _, x := range all {
		bySurvey[x.survey] = append(bySurvey[x.survey], x)
	}
	for id, own := range bySurvey {
		parts := clickParts(own, l.Longest)
		if parts == nil {
			continue
		}
		p.Switched = p.Switched || len(parts) > 1
		rate := clickRate(own, parts)
		for _, at := range parts {
			first, last := own[at[0]], own[at[1]]
			p.Spans = append(p.Spans, Span{Span: input.Span{First: first.First, Last: last.Last}, Survey: id, FirstRound: first.round, LastRound: last.round,
				OffBefore: clicksMissing(own, at[0], -1, rate).First, OffAfter: clicksMissing(own, at[1], 1, rate).Last})
		}
		first, last := parts[0][0], parts[len(parts)-1][1]
		p.cannotTell(own[:first], own[first].round, rate)
		p.cannotTell(own[last+1:], own[last].round, rate)
	}
	slices.SortFunc(p.Spans, func(a, b Span) int { return cmp.Or(a.First.Compare(b.First), cmp.Compare(a.Survey, b.Survey)) })
}

// clickParts parts the listenings of a survey by silences and pauses, each part from the first
// of its clicks to the last; nil where there is no click. Without a silence the rate in what is
// left is higher, so that more silences may part.
func clickParts(own []listening, longest time.Duration) (parts [][2]int) {
	var clicks []int
	for i, x := range own {
		if x.impulses > 0 {
			clicks = append(clicks, i)
		}
	}
	if len(clicks) == 0 {
		return nil
	}
	parts = [][2]int{{clicks[0], clicks[len(clicks)-1]}}
	for {
		rate, next := clickRate(own, parts), [][2]int{{clicks[0], clicks[0]}}
		for k := 1; k < len(clicks); k++ {
			from, to := clicks[k-1], clicks[k]
			if rate*secondsOf(own[from+1:to]) > clicksDue || hasPause(own[from:to+1], longest) {
				next = append(next, [2]int{to, to})
			}
			next[len(next)-1][1] = to
		}
		if len(next) == len(parts) {
			return parts
		}
		parts = next
	}
}

// hasPause tells whether nothing listened between two of some listenings for longer than a source
// may go unheard and still count as on.
func hasPause(some []listening, longest time.Duration) bool {
	for i := 1; i < len(some); i++ {
		if some[i].First.Sub(some[i-1].Last) > longest {
			return true
		}
	}
	return false
}

// cannotTell strikes the rounds of some listenings, but for one, from those that listened, where too
// few clicks were due in them to show a silence.
func (p *Presence) cannotTell(some []listening, but int, rate float64) {
	if rate*secondsOf(some) > clicksDue {
		return
	}
	for _, x := range some {
		if x.round != but {
			p.Listened[x.round] = false
		}
	}
}

func secondsOf(some []listening) (sum float64) {
	for i := range some {
		sum += some[i].seconds()
	}
	return sum
}

// clickRate gives how many clicks a second were counted in some parts.
func clickRate(own []listening, parts [][2]int) float64 {
	clicks, seconds := 0.0, 0.0
	for _, p := range parts {
		for _, x := range own[p[0] : p[1]+1] {
			clicks, seconds = clicks+x.impulses, seconds+x.seconds()
		}
	}
	return clicks / seconds
}

// clicksMissing goes from a listening with a click on, by steps of 1 or −1, to that by which so many
// clicks were due that their silence is no chance: the source was off by then. The zero Span: the
// silence is too short for that.
func clicksMissing(own []listening, at, step int, rate float64) input.Span {
	due := 0.0
	for at += step; at >= 0 && at < len(own) && own[at].impulses == 0; at += step {
		if due += rate * own[at].seconds(); due > clicksDue {
			return own[at].Span
		}
	}
	return input.Span{}
}

// An ImpulseCount is how many impulses were counted while a source of them was on, over all
// that antennas listened then.
type ImpulseCount struct {
	Impulses int
	Time     time.Duration
	Scatter  float64 // Σ (count − expected)²/expected over the epochs
	Epochs   int
}

// Rate is how many came a second.
func (c ImpulseCount) Rate() float64 { return float64(c.Impulses) / c.Time.Seconds() }

// RateInterval gives the 95 % interval of the rate, of impulses that come at random.
func (c ImpulseCount) RateInterval() (low, high float64) {
	return stat.PoissonRate(c.Impulses, c.Time.Seconds())
}

// Few tells whether there are too few to speak of a rate: of 5 it is known to a half.
func (c ImpulseCount) Few() bool { return c.Impulses < 5 }

// CountImpulses counts the impulses of a source.
func CountImpulses(l *readlog.Log, t track.Track, measured []*survey.Finding, p Presence) (c ImpulseCount) {
	all := slices.DeleteFunc(listenings(l, t, measured), func(x listening) bool { return !p.During[x.reading] })
	c.Epochs = len(all)
	for _, x := range all {
		c.Impulses += int(x.impulses)
		c.Time += x.Last.Sub(x.First)
	}
	for i := range all {
		expected := c.Rate() * all[i].seconds()
		c.Scatter += (all[i].impulses - expected) * (all[i].impulses - expected) / expected
	}
	return c
}
