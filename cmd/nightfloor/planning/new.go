package planning

import (
	"bytes"
	"cmp"
	"context"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"text/template"
	"time"

	"github.com/spf13/cobra"

	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/output"
	"nightfloor/store/files"
	"nightfloor/survey"
	"nightfloor/survey/plan"
	"nightfloor/survey/sun"
)

// What changes the antennas of a new plan.
const (
	byPerson  = "person"
	byRelay   = "relay"
	byRotator = "rotator"
)

// How a dongle of a new plan hears shortwave, in words for whoever buys one.
const (
	builtIn     = "built-in"     // its up-converter is built in
	upConverter = "up-converter" // one before it
	plain       = "plain"        // neither: direct sampling
)

var (
	changers = []string{byPerson, byRelay, byRotator}
	dongles  = []string{builtIn, upConverter, plain}
)

// choices are what somebody says of the plan that they want.
type choices struct {
	by, dongle string
	offset     survey.Hz // of the up-converter's oscillator
	rooms      []string
	command    string // that switches the relay
	locator    string
}

// usual are the choices of who makes none. Its dongle is one whose plan gives rise to no doubt: others want
// filters that only their owner knows of.
func usual() choices {
	return choices{by: byPerson, dongle: builtIn, offset: 125e6, rooms: []string{"study"}, command: "/usr/local/bin/antenna-relay", locator: "JO32kh"}
}

const newHelp = `Writes a commented plan for a whip and a loop, as its flags say; at a terminal, without
flags, it asks. A file that is there is left as it is, unless --force is given.

A dongle's tuner begins at 24 MHz. Some boards have an up-converter built in; others have one
put before them; a plain one is left, direct sampling, and hears nothing so unless its board has a
tap for it, or antenna and transformer are soldered to the Q pins of its chip. Those with one
built in say so on box or board and have an R828D as their tuner; an R820T has none: nightfloor
receivers prints the tuner.
`

// dongleQuestion says how to tell dongles apart.
const dongleQuestion = "How does the dongle hear shortwave: built-in (box or board say that it has an up-converter, and its tuner is an R828D), " +
	"up-converter (a box of its own before it), or plain (neither, as most cheap ones: an R820T has none)? nightfloor receivers prints the tuner."

// newCommand gives the command plan new.
func newCommand(c *console.Console) *cobra.Command {
	o, force := usual(), false
	cmd := &cobra.Command{
		Use:   "new FILE",
		Short: "Writes a commented plan for a whip and a loop",
		Long:  newHelp + console.ExitHelp,
		Args:  console.OneFile,
	}
	f := cmd.Flags()
	f.StringVar(&o.by, "by", o.by, "what changes the antennas: "+strings.Join(changers, ", "))
	f.StringVar(&o.dongle, "dongle", o.dongle, "how the dongle hears shortwave: "+strings.Join(dongles, ", "))
	c.FrequencyVar(f, &o.offset, "offset", 0, "`frequency` of the up-converter's oscillator (default 125MHz)")
	f.StringArrayVar(&o.rooms, "room", o.rooms, "where the antennas stand, a `name` or several with commas between; several rooms get the same antennas each")
	f.StringVar(&o.command, "command", o.command, "your program that switches the relay")
	f.StringVar(&o.locator, "locator", o.locator, "Maidenhead locator of your place")
	console.ForceVar(f, &force)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		file := output.File{What: "plan", Path: args[0], Force: force}
		if database, err := files.DefaultPath(); err == nil {
			file.Database = files.Names(database)
		}
		if err := file.Check(); err != nil {
			return err
		}
		asked := slices.ContainsFunc([]string{"by", "dongle", "offset", "room", "command", "locator"}, f.Changed)
		if !asked && console.IsTerminal(c.In) {
			if err := o.ask(cmd.Context(), c); err != nil {
				return err
			}
		}
		if err := o.check(); err != nil {
			return console.Usagef("plan new: %w", err)
		}
		switch {
		case f.Changed("offset") && o.dongle != upConverter:
			return console.Usagef("plan new: --offset is that of an up-converter; add --dongle %s, or leave it out", upConverter)
		case f.Changed("command") && o.by == byPerson:
			return console.Usagef("plan new: --command switches a relay; add --by %s, or leave it out", byRelay)
		}
		return writeNew(file, o, c)
	}
	return cmd
}

// check tells why there can be no such plan.
func (o *choices) check() error {
	return cmp.Or(o.setBy(o.by), o.setDongle(o.dongle), o.setOffset(o.offset), o.setRooms(strings.Join(o.rooms, ",")), o.setCommand(o.command), o.setLocator(o.locator))
}

func (o *choices) setBy(by string) error {
	o.by = by
	return known(by, changers)
}

func (o *choices) setDongle(dongle string) error {
	o.dongle = dongle
	return known(dongle, dongles)
}

// known refuses a word that is none of those to choose from.
func known(word string, of []string) error {
	if !slices.Contains(of, word) {
		return fmt.Errorf("%q is not known; choose %s or %s", word, strings.Join(of[:len(of)-1], ", "), of[len(of)-1])
	}
	return nil
}

// setOffset takes an oscillator's frequency, from which a tuner hears all of shortwave.
func (o *choices) setOffset(offset survey.Hz) error {
	if o.offset = offset; offset < survey.TunerLowest || offset > survey.TunerHighest-30e6 {
		return fmt.Errorf("%v is no up-converter's: the tuner hears shortwave above %v to %v; give its oscillator's frequency, as 125 MHz", offset, survey.TunerLowest, survey.TunerHighest-30e6)
	}
	return nil
}

// setRooms takes names of placements, with commas between. A rotator turns an antenna where it stands.
func (o *choices) setRooms(rooms string) error {
	o.rooms = nil
	for room := range strings.SplitSeq(rooms, ",") {
		room = strings.TrimSpace(room)
		switch err := survey.CheckPrintable(room); {
		case err != nil:
			return fmt.Errorf("room %w", err)
		case room == "" || strings.ContainsAny(room, "@:"):
			return fmt.Errorf("room %q: a name has letters, and neither @ nor a colon", room)
		case slices.Contains(o.rooms, room):
			return fmt.Errorf("room %s is named twice; name it once", room)
		}
		o.rooms = append(o.rooms, room)
	}
	switch {
	case len(o.rooms) > mostRooms && o.by == byPerson:
		return fmt.Errorf("%d rooms are %d changes by hand; name %d, or choose %s", len(o.rooms), 2*len(o.rooms)*leastRounds, mostRooms, byRelay)
	case len(o.rooms) > mostByRelay && o.by == byRelay:
		return fmt.Errorf("%s take longer than a night of %s for %s; name %d at most", survey.Count(len(o.rooms), "room"), plan.DurationText(nightLasts*time.Second), survey.Count(leastRounds, "round"), mostByRelay)
	case len(o.rooms) > 1 && o.by == byRotator:
		return fmt.Errorf("a rotator turns an antenna where it stands; name one room, or choose %s", byRelay)
	}
	return nil
}

func (o *choices) setCommand(command string) error {
	if o.command = strings.TrimSpace(command); o.command == "" {
		return errors.New("command: no program is named; name one")
	}
	if err := survey.CheckPrintable(o.command); err != nil {
		return fmt.Errorf("command %w", err)
	}
	return nil
}

func (o *choices) setLocator(locator string) error {
	o.locator = locator
	_, _, err := sun.ParseLocator(locator)
	return err
}

// ask asks somebody at a terminal what they want.
func (o *choices) ask(ctx context.Context, c *console.Console) error {
	always := func() bool { return true }
	c.Fold(c, "A few questions; Enter takes what stands in brackets.\n")
	for _, q := range []struct {
		when        func() bool
		text, usual string
		set         func(answer string) error
	}{
		{always, "What changes the antennas: a person, a relay, or a rotator that turns the loop?", o.by, o.setBy},
		{always, dongleQuestion, o.dongle, o.setDongle},
		{func() bool { return o.dongle == upConverter }, "At which frequency is its oscillator?", o.offset.String(), func(answer string) error {
			offset, err := survey.ParseFrequencyAs(answer, 0, "125 MHz")
			return cmp.Or(err, o.setOffset(offset))
		}},
		{func() bool { return o.by != byPerson }, "Which program of yours switches the relay?", o.command, o.setCommand},
		{always, "In which room do the antennas stand? Several, with commas between, get the same antennas each.", strings.Join(o.rooms, ", "),
			o.setRooms},
		{always, "What is the Maidenhead locator of your place?", o.locator, o.setLocator},
	} {
		if !q.when() {
			continue
		}
		if err := c.Ask(ctx, q.text, q.usual, q.set); err != nil {
			return fmt.Errorf("plan new: %w", err)
		}
	}
	return nil
}

//go:embed plan-new.toml
var newPlan string

// A sheet is what the template of a plan is filled in with. Person, Relay, Rotator and Up stand before
// lines that are for some plans only: "# " in all others.
type sheet struct {
	Person, Relay, Rotator, Up       string
	About, Title, Way, Offset        string
	Bearings, Command, Locator, Room string
	Rooms                            []string
	Plain, Example                   bool // Example: the locator is nobody's own
	Sweeps, Rounds                   int
}

// The lengths that new plans have, in four tunings (TestNewPlans): by hand visits of half a minute and an evening of
// some fifty changes; by a machine a night of eight hours without idle time, of visits of a minute by a relay, of a
// minute and a half by a rotator, which spares both.
const (
	sweepsByHand    = 14 // 30.8 s of listening
	sweepsByRelay   = 27
	sweepsByRotator = 35
	visitByRelay    = 60.4 // s: 27 · 2.2 and one for the relay
	visitByRotator  = 90.0 // s: 35 · 2.2, one for the relay and twelve for turns
	changesHand     = 48
	nightLasts      = 8 * 3600 // s
	mostByRelay     = 19       // rooms, twelve rounds of which take a night: nightLasts / (2 · 12 · visitByRelay) (TestNewPlanByFlags)
	mostRooms       = 3        // by hand: 72 changes, of which most are to another room, take 2.7 hours (chosen; TestNewPlans, TestNewPlanByFlags)
	columnOfRemarks = 30
)

// aligned puts remarks that a tab parts from their lines below each other. No value has a tab.
func aligned(text string) string {
	var out strings.Builder
	for line := range strings.Lines(text) {
		if value, remark, ok := strings.Cut(line, "\t"); ok {
			line = fmt.Sprintf("%-*s %s", columnOfRemarks-1, value, remark)
		}
		out.WriteString(line)
	}
	return out.String()
}

// text writes the plan.
func (o choices) text() (string, error) {
	remark := func(active bool) string {
		if active {
			return ""
		}
		return "# "
	}
	setups, rooms := 2*len(o.rooms), strings.Join(o.rooms, ", ")
	s := sheet{
		Person: remark(o.by == byPerson), Relay: remark(o.by != byPerson), Rotator: remark(o.by == byRotator),
		Up: remark(o.dongle == upConverter), Example: o.locator == usual().locator,
		Title: "whip against loop", About: "a whip against a loop, changed by hand in an evening",
		Way: survey.WayBuiltIn, Offset: o.offset.String(), Plain: o.dongle == plain,
		Bearings: "[20]", Command: o.command, Locator: o.locator, Rooms: o.rooms, Room: o.rooms[0], Sweeps: sweepsByHand,
		Rounds: max(leastRounds, changesHand/setups),
	}
	switch o.dongle {
	case upConverter:
		s.Way = survey.WayUp
	case plain:
		s.Way = survey.WayDirectQ
	}
	switch o.by {
	case byRelay:
		s.About, s.Sweeps = "a whip against a loop, switched by a relay all night", sweepsByRelay
		s.Rounds = max(leastRounds, int(nightLasts/(visitByRelay*float64(setups))))
	case byRotator: // five setups
		s.About, s.Sweeps = "a whip against a loop that a rotator turns, all night", sweepsByRotator
		s.Rounds = int(nightLasts / (visitByRotator * 5))
		s.Bearings = "[20, 65, 110, 155]"
	}
	if len(o.rooms) > 1 {
		s.Title, s.About = "whip and loop in "+rooms, s.About+", in "+rooms
		if survey.CheckPrintable(s.Title) != nil { // it is too long
			s.Title = fmt.Sprintf("whip and loop in %d rooms", len(o.rooms))
		}
	}
	var out bytes.Buffer
	err := template.Must(template.New("plan").Parse(newPlan)).Execute(&out, s)
	return aligned(out.String()), err
}

// leastRounds is how many rounds a plan has that gives a good interval.
const leastRounds = 12

// tapNeeded is said of a plan for a plain dongle.
const tapNeeded = "a plain dongle hears nothing in direct sampling without a tap: solder antenna and transformer to the Q pins of its chip, or buy one whose board has it; and put a low-pass of 14.4 MHz before it"

func writeNew(file output.File, o choices, c *console.Console) error {
	text, err := o.text()
	if err != nil {
		return err
	}
	p, err := plan.Parse([]byte(text))
	if err != nil {
		return fmt.Errorf("plan new: %w", err)
	}
	if err := file.Write(func(w io.Writer) error {
		_, err := io.WriteString(w, text)
		return err
	}); err != nil {
		return err
	}
	switch o.dongle {
	case plain:
		c.Note("%s", tapNeeded)
	case builtIn:
		c.Note("front_end = %q is right only for a dongle with an R828D tuner whose box or board says so, and not for one with an R820T; nightfloor receivers prints the tuner", survey.WayBuiltIn)
	}
	if o.locator == usual().locator {
		c.Note("locator %s is an example: day, dusk, night and dawn are those there until you write your own", o.locator)
	}
	outlook := p.Outlook(len(p.Segments), 0) // of which no two share a tuning
	c.Note("wrote %s: %s of %s in %s; change what is yours in it, then: nightfloor plan check %s", file.Path,
		survey.Count(outlook.Rounds, "round"), survey.Count(len(p.Setups), "setup"), plan.DurationText(outlook.Total), console.Quoted(file.Path))
	return nil
}
