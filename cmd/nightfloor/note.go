package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"nightfloor/capture/pluglog"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/open"
	"nightfloor/reports/wording"
	"nightfloor/store"
	"nightfloor/survey"
	"nightfloor/survey/logbook"
	"nightfloor/survey/plan"
)

const (
	// mostNoteLength is how long a note may be, in characters.
	mostNoteLength = 500
	// onWatts is the power over which a device counts as switched on: over what
	// supplies draw in standby.
	onWatts = 5.0
	// longSilence is for how long a survey that has not ended may have stored nothing
	// before whoever notes something in it is told.
	longSilence = 15 * time.Minute
)

type noteOptions struct {
	text      string
	at        string
	database  string
	survey    int64
	repeaked  string
	switching string
	device    string
	threshold float64
}

func newNoteCommand(c *console.Console) *cobra.Command {
	var o noteOptions
	cmd := &cobra.Command{
		Use:   "note TEXT",
		Short: "Writes an event into the survey that is running",
		Long: `Writes an event, such as "dishwasher on", into the survey that is running; record
goes on meanwhile. The survey is the one that has not ended and was written last, a
real one before a simulated one; --survey names another. With --at it is the one that
covers the time: RFC 3339, or by local clocks "2026-11-03 21:04", or 21:04 alone for
the last time that clocks showed that. A simulated survey has a clock of its own:
without --at an event is noted there at the end of its last reading, and 21:04 alone is
still by the clocks of the house you are in.

--repeaked ANTENNA notes that a tuned antenna was peaked anew: from then on reports
take it for another antenna. Note it when you are done, between its visits: a reading
in hand at that moment is left out. A TEXT may say more.

--switching FILE takes the times at which devices were switched from a metering plug's
log: values separated by commas, semicolons or tabs; a time (as above, 03.11.2026 21:04,
or Unix seconds or milliseconds), a state (on and off, 1 and 0, true and false) or a
power in watts, and the device, unless --device names it. A first line may name the
columns: time or date; state, status or switch; power, watt or W; device or name. By
powers a device is on over --threshold and off under it. Every switching becomes an event
in the survey that covers its time, once, however often the log is read. A survey that
has not ended covers what it has measured so far.` + "\n" + console.ExitHelp,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, words []string) error {
			o.text = strings.Join(words, " ")
			if o.switching == "" {
				for _, flag := range []string{"device", "threshold"} {
					if cmd.Flags().Changed(flag) {
						return console.Usagef("note --%s: it goes with --switching FILE; add that or leave it out", flag)
					}
				}
			}
			return runNote(cmd.Context(), o, time.Now(), c)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.at, "at", "", "when it was, "+console.TimeForms+" (default: now)")
	console.DatabaseVar(f, &o.database)
	f.Int64Var(&o.survey, "survey", 0, "into this survey (see report quality)")
	f.StringVar(&o.repeaked, "repeaked", "", "antenna that was peaked anew")
	f.StringVar(&o.switching, "switching", "", "log of a metering plug, whose switching times are noted")
	f.StringVar(&o.device, "device", "", "device of a log that does not name it")
	f.Float64Var(&o.threshold, "threshold", onWatts, "power in watts over which a device counts as on")
	return cmd
}

// runNote notes one event, or a log's. now is local time.
func runNote(ctx context.Context, o noteOptions, now time.Time, c *console.Console) error {
	at, err := o.check(now)
	if err != nil {
		return err
	}
	var log []pluglog.Switching
	if o.switching != "" {
		if log, err = o.readLog(now.Location(), c); err != nil {
			return err
		}
	}
	db, _, err := open.Database(ctx, o.database, open.There)
	if errors.Is(err, store.ErrOlder) {
		err = fmt.Errorf("%w, once no record of the older nightfloor writes it; until then note with that one", err)
	}
	if err != nil {
		return err
	}
	defer db.Close()
	n := noteTaker{Book: logbook.Book{Now: now}, db: db, console: c}
	if n.Entries, err = notable(ctx, db, o.survey); err != nil {
		return err
	}
	if o.switching != "" {
		return n.noteLog(ctx, o.switching, log)
	}
	return n.noteOne(ctx, survey.Event{At: at, Text: o.text, Repeaked: o.repeaked})
}

// check judges the command line, trims the text and gives the time of --at, zero
// where it is not given.
func (o *noteOptions) check(now time.Time) (at time.Time, err error) {
	o.text = strings.TrimSpace(o.text)
	if o.switching != "" {
		switch {
		case o.text != "" || o.at != "" || o.repeaked != "":
			return at, console.Usagef("note --switching: the log says what and when; leave TEXT, --at and --repeaked out")
		case !(o.threshold >= 0) || math.IsInf(o.threshold, 0):
			return at, console.Usagef("--threshold %v: not a power in watts; give 0 or more", o.threshold)
		}
		return at, nil
	}
	if o.text == "" && o.repeaked != "" {
		o.text = o.repeaked + " repeaked"
	}
	switch {
	case o.text == "":
		return at, console.Usagef("note: no text; write what happened, as nightfloor note \"dishwasher on\"")
	case utf8.RuneCountInString(o.text) > mostNoteLength:
		return at, console.Usagef("note: %d characters; %d are the most: shorten it", utf8.RuneCountInString(o.text), mostNoteLength)
	case !utf8.ValidString(o.text) || strings.ContainsFunc(o.text, unicode.IsControl):
		return at, console.Usagef("note %q: holds control characters, such as a line's end, or is no UTF-8; write plain text", o.text)
	case o.at == "":
		return at, nil
	}
	if at, err = logbook.ParseTime(o.at, now); err != nil {
		return at, console.Usagef("--at %w", err)
	}
	return at, nil
}

// notable gives the surveys into which events can be noted: the one of that number, all
// of them for 0. Imports have no time before there is a recording.
func notable(ctx context.Context, db *store.Store, id int64) ([]*logbook.Entry, error) {
	stored, err := db.Surveys(ctx)
	if err != nil {
		return nil, err
	}
	var all []*logbook.Entry
	for _, s := range stored {
		if s.Start.IsZero() || id != 0 && s.ID != id {
			continue
		}
		latest, err := db.Latest(ctx, s.ID)
		if err != nil {
			return nil, err
		}
		all = append(all, &logbook.Entry{Survey: s, Latest: latest})
	}
	switch {
	case len(all) > 0:
		return all, nil
	case id != 0 && len(stored) > 0:
		return nil, fmt.Errorf("note into survey %d: there is no such survey in %s, or it has no sweeps; report quality shows those there are", id, db.Path())
	}
	return nil, fmt.Errorf("note into %s: it holds no survey yet; begin one with nightfloor record, or name another database with --db", db.Path())
}

// A noteTaker writes notes into the surveys of a database.
type noteTaker struct {
	logbook.Book
	db      *store.Store
	console *console.Console
}

// noteOne notes an event, at its time or, where that is zero, now.
func (n noteTaker) noteOne(ctx context.Context, event survey.Event) error {
	s, err := n.surveyOf(event.At)
	if err != nil {
		return err
	}
	if event.At.IsZero() {
		if event.At = n.Now; s.Simulated {
			event.At = s.Latest
		}
	}
	event.Survey, event.At = s.ID, event.At.UTC().Truncate(time.Millisecond)
	if event.At.After(n.Now) && !s.Simulated {
		return console.Usagef("--at %s lies ahead; note what has happened", n.Clock(event.At))
	}
	if event.Repeaked != "" {
		if err := n.checkAntenna(ctx, s, event.Repeaked); err != nil {
			return err
		}
		if p, _ := plan.Parse([]byte(s.Plan)); p.Antenna(event.Repeaked).TunedHigh == 0 {
			n.console.Note("the plan does not say that %s is tuned; from now on it counts as another antenna all the same", event.Repeaked)
		}
	}
	if err := n.db.AddEvent(ctx, event); err != nil {
		return err
	}
	n.console.Note("noted in survey %d at %s: %s", s.ID, n.Clock(event.At), wording.Printable(event.Text))
	if s.End.IsZero() && event.At.Sub(s.Latest) > longSilence {
		n.console.Note("survey %d has measured nothing since %s; if record is not running, nothing will show beside this note", s.ID, n.Clock(s.Latest))
	}
	return nil
}

// surveyOf gives the survey for an event at a time; zero: now.
func (n noteTaker) surveyOf(at time.Time) (*logbook.Entry, error) {
	if at.IsZero() {
		s := n.Running()
		if s == nil {
			return nil, fmt.Errorf("note: no survey is running in %s; there is %s; begin one with nightfloor record, or say with --at when it was", n.db.Path(), n.List())
		}
		return s, nil
	}
	s := n.At(at, true)
	if s == nil {
		return nil, fmt.Errorf("note at %s: no survey in %s covers that time; there is %s; name a time in one of them with --at", n.Clock(at), n.db.Path(), n.List())
	}
	return s, nil
}

// checkAntenna refuses an antenna that is neither in the survey's plan nor in its sweeps.
func (n noteTaker) checkAntenna(ctx context.Context, s *logbook.Entry, antenna string) error {
	setups, err := n.db.SetupsOf(ctx, s.ID)
	if err != nil {
		return err
	}
	p, _ := plan.Parse([]byte(s.Plan)) // what can be read of it, where another version wrote it
	setups = append(setups, p.Setups...)
	var names []string
	for _, setup := range setups {
		if setup.Antenna == antenna {
			return nil
		}
		if name := wording.Printable(setup.Antenna); !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	there := "it has no sweeps yet"
	if len(names) > 0 {
		there = "it has " + strings.Join(names, ", ")
	}
	return fmt.Errorf("note --repeaked %q: survey %d has no such antenna; %s; name one of its antennas", antenna, s.ID, there)
}

// readLog reads the log of --switching.
func (o noteOptions) readLog(zone *time.Location, c *console.Console) ([]pluglog.Switching, error) {
	what := "note --switching " + o.switching
	file, err := os.Open(o.switching)
	if err != nil {
		return nil, fmt.Errorf("%s: %w; name a log that can be read", what, survey.FileTrouble(err))
	}
	defer file.Close() // it was only read
	if info, err := file.Stat(); err == nil && info.IsDir() {
		return nil, fmt.Errorf("%s: it is a folder; name a log that can be read", what)
	}
	log, twice, err := pluglog.Log{Device: o.device, Threshold: o.threshold, Zone: zone}.Read(file)
	if err != nil {
		return nil, console.PrefixLines(o.switching, err)
	}
	if twice > 0 {
		c.Note("%s: %s in an hour that clocks showed twice, taken for its first; if that matters, save the log with UTC times", o.switching, survey.Count(twice, "time"))
	}
	return log, nil
}

// noteLog notes the switchings of a log, each in the survey that covers it, and says
// how many there were.
func (n noteTaker) noteLog(ctx context.Context, file string, log []pluglog.Switching) error {
	if len(log) == 0 {
		n.console.Note("%s: nothing was switched in it", file)
		return nil
	}
	var events []survey.Event
	for _, s := range log {
		if under := n.At(s.At, false); under != nil {
			events = append(events, survey.Event{Survey: under.ID, At: s.At, Text: s.String()})
		}
	}
	added, err := n.db.AddEvents(ctx, events)
	if err != nil {
		return fmt.Errorf("%s: %w; run it again: what was noted is not noted twice", file, err)
	}
	n.console.Note("%s: switchings: %d noted, %d noted before, %d outside every survey", file, added, len(events)-added, len(log)-len(events))
	if len(events) < len(log) {
		n.console.Note("the log goes from %s to %s; there is %s", n.Clock(log[0].At), n.Clock(log[len(log)-1].At), n.List())
	}
	return nil
}
