// Package live says what a survey is doing while it goes on: in one line at the foot of a terminal,
// drawn anew as things change, and in one line an hour where there is a journal instead.
//
// A Line is told by the recorder what happens. It goes by the recorder's clock.
package live

import (
	"log/slog"
	"slices"
	"sync"
	"time"

	"nightfloor/capture"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

const (
	// journalInterval is how often a journal gets the line.
	journalInterval = time.Hour
	// drawInterval is how often the line is drawn anew where nothing happens, so that it tells
	// for how long.
	drawInterval = time.Minute
	// longSilence is how long nothing may have been stored before the line says so: the pauses
	// between visits that plans have are shorter, mostly.
	longSilence = 15 * time.Minute
)

// A Line says what one survey is doing. Its methods may be called from several goroutines.
type Line struct {
	console   *console.Console
	log       *slog.Logger
	clock     capture.Clock
	plan      plan.Plan
	until     time.Time // zero: when the rounds are done
	simulated bool

	mu        sync.Mutex
	logged    time.Time // when the journal got the line last
	drawn     time.Time
	stored    time.Time // the last sweep, or the beginning
	first     roundStart
	round     roundStart // in hand; number 0: none yet
	setup     survey.Setup
	condition condition
	heard     map[survey.Setup][]heardSegment // by the last sweep through each setup
}

// A roundStart is when a round was begun.
type roundStart struct {
	number int
	at     time.Time
}

// A condition is how far the change to a setup is.
type condition int

const (
	changing condition = iota
	inPlace
	notInPlace
)

// A heardSegment is what a sweep found in one segment.
type heardSegment struct {
	name  string
	floor *survey.DBFSPerHz // nil: none
	flags []string
}

// New gives the line of a survey that the recorder is about to carry out.
func New(c *console.Console, r *capture.Recorder) *Line {
	now := r.Clock.Now()
	return &Line{console: c, log: r.Log, clock: r.Clock, plan: r.Plan, until: r.Until, simulated: r.Receiver.Info().Simulated,
		logged: now, drawn: now, stored: now, heard: map[survey.Setup][]heardSegment{}}
}

// Visiting takes what capture.Recorder tells of a visit.
func (l *Line) Visiting(v survey.Visit, known bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if v.Round != l.round.number {
		l.round = roundStart{v.Round, v.Start}
		if l.first.number == 0 {
			l.first = l.round
		}
	}
	l.setup, l.condition = v.Asked, changing
	switch {
	case known && v.Reached == survey.Setup{}:
		l.condition = notInPlace
	case known:
		l.setup, l.condition = v.Reached, inPlace
	}
	l.draw()
}

// Stored takes a sweep that was stored.
func (l *Line) Stored(s *survey.Sweep) {
	l.mu.Lock()
	defer l.mu.Unlock()
	var heard []heardSegment
	for _, r := range s.Readings {
		// What the front end flags all night is no news; plan check and record --try say it.
		flags := slices.DeleteFunc(slices.Clone(r.Quality.Flags), func(flag string) bool { return flag == survey.FlagNyquistImage })
		segment := heardSegment{name: r.Segment.Name, flags: flags}
		if r.Floor != nil {
			segment.floor = &r.Floor.Density
		}
		heard = append(heard, segment)
	}
	l.heard[s.Setup], l.stored = heard, l.clock.Now()
	l.draw()
}

// Alive is to be called every now and then, whatever the survey waits for.
func (l *Line) Alive() {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.clock.Now()
	if now.Sub(l.drawn).Abs() >= drawInterval { // or the clock was set back
		l.draw()
	}
	if now.Sub(l.logged).Abs() >= journalInterval {
		l.logged = now
		l.log.Info(l.text(now, 0))
	}
}

// Text gives the whole line.
func (l *Line) Text() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text(l.clock.Now(), 0)
}

// End takes the line away.
func (l *Line) End() { l.console.ShowLine("") }

// draw draws the line. While a person is asked for a change, none stands below the question.
func (l *Line) draw() {
	l.drawn = l.clock.Now()
	width := l.console.LineWidth()
	if width == 0 || l.condition == changing && l.plan.Change.By == plan.ByPerson {
		l.console.ShowLine("")
		return
	}
	l.console.ShowLine(l.text(l.drawn, width))
}
