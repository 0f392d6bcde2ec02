package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"nightfloor/capture"
	"nightfloor/store"
	"nightfloor/survey"
)

type calibrateOptions struct {
	kind     string // one of survey's kinds of calibration
	plan     string
	receiver string
	database string
	antenna  string
	yes      bool
	json     bool
	asks     bool // somebody sits at a terminal

	frequency   string        // level, clock
	level       string        // level
	figure      string        // level
	attenuation string        // linearity
	attenuator  []string      // linearity: a program and its arguments
	at          string        // lines
	listen      time.Duration // clock
	parsed      struct {
		frequency   survey.Hz
		level       survey.DBm
		figure      survey.DB
		attenuation survey.DB
	}
}

// Where a terminator stands for the lines.
const (
	atAntenna  = "antenna"
	atReceiver = "receiver"
)

func newCalibrateCommand(c *console) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "calibrate",
		Short: "Measures the receiver itself: own noise, levels, linearity, own lines, clock",
		Long: `Measures the receiver itself and stores what it finds with its date. It holds for the
surveys of the same receiver: dongle, front end and sample rate.

Each says what to connect and waits for Enter. --yes says that it is connected already;
without a terminal nothing is measured unless --yes is given.

Let the dongle run for half an hour first: gain and clock drift while it warms up.

` + cautions + "\n" + exitHelp,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	for _, kind := range []struct {
		name, short, long string
		flags             func(*cobra.Command, *calibrateOptions)
	}{
		{survey.CalibrateNoise, "Own noise of every segment at every gain, into a terminator",
			`Measures the floor of every segment of the plan at every gain step, with a terminator
(50 Ω) at the receiver's input. A floor heard later through an antenna is then told from
the receiver's own. Steps marked * move too few of the converter's codes to be measured to
better than some 2.5 dB.`, nil},
		{survey.CalibrateLevel, "What full scale is in dBm at every gain, by a generator or a noise figure",
			`Measures a generator's carrier of a known level at every gain step at which it neither
clips nor drowns: levels are then known in dBm at the receiver's input, and so are the
steps between gains, which are mere labels before.

    nightfloor calibrate level --plan night.toml --frequency 9.65MHz --level "-60 dBm"

Without a generator --noise-figure takes the receiver's noise figure, and a terminator at
the input: its own noise is then k·T·F. That is as good as the figure is.`,
			func(cmd *cobra.Command, o *calibrateOptions) {
				cmd.Flags().StringVar(&o.frequency, "frequency", "", "the generator's frequency, as 9.65MHz")
				cmd.Flags().StringVar(&o.level, "level", "", `the generator's level at the receiver's input, as "-60 dBm"`)
				cmd.Flags().StringVar(&o.figure, "noise-figure", "", `the receiver's noise figure instead of a generator, as "8 dB"`)
			}},
		{survey.CalibrateLinearity, "What an attenuator changes: outside noise, own noise, or intermodulation",
			`Measures every segment through the antenna, asks for an attenuator between antenna and
receiver, and measures again at the same gains. What comes from outside falls by as much
as the attenuator takes off, the receiver's own noise not at all, products of
intermodulation two or three times as much.

A program after -- puts the attenuator in and out instead of a person. It is started
without a shell, with "out" or "in" as its last argument; exit status 0 says that it is
done. It is told "out" again at the end:

    nightfloor calibrate linearity --plan night.toml --attenuation "10 dB" --yes -- /usr/local/bin/attenuator`,
			func(cmd *cobra.Command, o *calibrateOptions) {
				cmd.Use += " [-- PROGRAM ARGUMENT…]"
				cmd.Flags().StringVar(&o.attenuation, "attenuation", "10 dB", "what the attenuator takes off, 6 to 30 dB")
			}},
		{survey.CalibrateLines, "Lines that are there without an antenna",
			`Listens with a terminator in place of the antenna and keeps the lines that are there in
half of eight sweeps or more: the receiver's own, and what the feed line picks up. Do it
with the terminator at the antenna's end of the feed line, and once more at the receiver.`,
			func(cmd *cobra.Command, o *calibrateOptions) {
				cmd.Flags().StringVar(&o.at, "at", atAntenna, "where the terminator is: antenna (its end of the feed line) or receiver")
			}},
		{survey.CalibrateClock, "The clock's error, by broadcast stations",
			`Compares the carriers of broadcast stations with the raster of 5 kHz that they stand on,
or the strongest one with --frequency, where you know a station (a time signal, say), and
prints the line for the plan. The error is that of the frequency the dongle tunes to;
an up-converter's oscillator has one of its own that cannot be told from it: together
they are right for this converter.`,
			func(cmd *cobra.Command, o *calibrateOptions) {
				cmd.Flags().StringVar(&o.frequency, "frequency", "", "of a station that is known, as 10MHz")
				cmd.Flags().DurationVar(&o.listen, "for", 3*time.Minute, "how long to listen")
			}},
	} {
		o := calibrateOptions{kind: kind.name}
		sub := &cobra.Command{
			Use: kind.name + " --plan FILE", Short: kind.short,
			Long: kind.long + "\n\n" + cautions + "\n" + exitHelp,
			Args: func(cmd *cobra.Command, args []string) error {
				if cmd.ArgsLenAtDash() == 0 && kind.name == survey.CalibrateLinearity {
					return nil
				}
				return noArguments(cmd, args)
			},
			RunE: func(cmd *cobra.Command, args []string) error {
				o.attenuator, o.asks = args, asksAt(c)
				return runCalibrate(cmd.Context(), o, c)
			},
		}
		sub.Flags().StringVar(&o.plan, "plan", "", "the survey plan: its receiver, segments, dwell")
		sub.Flags().StringVar(&o.receiver, "receiver", "", "receiver, over what the plan says")
		sub.Flags().StringVar(&o.antenna, "antenna", "", "switch to this antenna of the plan first, by the plan's command")
		sub.Flags().BoolVar(&o.yes, "yes", false, "what is to be connected is connected")
		sub.Flags().BoolVar(&o.json, "json", false, "print one JSON document")
		sub.Flags().StringVar(&o.database, "db", "", "database file (default: NIGHTFLOOR_DB, else the user's data folder)")
		if kind.flags != nil {
			kind.flags(sub, &o)
		}
		cmd.AddCommand(sub)
	}
	return cmd
}

// asksAt tells whether somebody can be asked: standard input is a terminal.
func asksAt(c *console) bool {
	f, ok := c.in.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// mostInput is the most that may go into a receiver's input.
const mostInput survey.DBm = -10

// check reads the options of the kind; all errors are wrong usage.
func (o *calibrateOptions) check() (err error) {
	if o.plan == "" {
		return usagef("calibrate %s: no plan; name one with --plan FILE", o.kind)
	}
	p := &o.parsed
	if o.frequency != "" {
		if p.frequency, err = survey.ParseFrequency(o.frequency, 0); err != nil {
			return usagef("--frequency: %w", err)
		}
		if p.frequency <= 0 {
			return usagef("--frequency %q: must be above 0", o.frequency)
		}
	}
	switch o.kind {
	case survey.CalibrateLevel:
		return o.checkLevel()
	case survey.CalibrateLinearity:
		x, err := withUnit("--attenuation", o.attenuation, "dB")
		if err != nil {
			return err
		}
		if p.attenuation = survey.DB(x); x < 6 || x > 30 {
			return usagef("--attenuation %q: under 6 dB the verdicts are not told apart, over 30 dB nothing is left; take 10 dB", o.attenuation)
		}
	case survey.CalibrateLines:
		if o.at != atAntenna && o.at != atReceiver {
			return usagef("--at %q: choose %s (its end of the feed line) or %s", o.at, atAntenna, atReceiver)
		}
	case survey.CalibrateClock:
		if o.listen <= 0 {
			return usagef("--for %v: must be longer than nothing", o.listen)
		}
	}
	return nil
}

func (o *calibrateOptions) checkLevel() error {
	p := &o.parsed
	if o.figure != "" {
		if o.frequency != "" || o.level != "" {
			return usagef("calibrate level: --noise-figure wants a terminator, --frequency and --level a generator; choose one")
		}
		x, err := withUnit("--noise-figure", o.figure, "dB")
		if err == nil && (x < 0 || x > 80) {
			err = usagef("--noise-figure %q: no receiver has it; give it within 0 to 80 dB", o.figure)
		}
		p.figure = survey.DB(x)
		return err
	}
	if o.frequency == "" || o.level == "" {
		return usagef(`calibrate level: give --frequency and --level of a generator, as --frequency 9.65MHz --level "-60 dBm", or --noise-figure of the receiver`)
	}
	x, err := withUnit("--level", o.level, "dBm")
	if err != nil {
		return err
	}
	if p.level = survey.DBm(x); p.level > mostInput {
		return usagef("--level %q: more than %v dBm may destroy the receiver; turn the generator down, or put an attenuator behind it and give what is left", o.level, float64(mostInput))
	}
	return nil
}

// withUnit reads a number with its one unit.
func withUnit(flag, text, unit string) (float64, error) {
	number, ok := strings.CutSuffix(strings.TrimSpace(text), unit)
	x, err := strconv.ParseFloat(strings.TrimSpace(strings.Replace(number, "−", "-", 1)), 64)
	if !ok || err != nil || x-x != 0 {
		return 0, usagef("%s %q: not a number with the unit %s; write it as \"10 %s\"", flag, text, unit, unit)
	}
	return x, nil
}

func runCalibrate(ctx context.Context, o calibrateOptions, c *console) error {
	if err := o.check(); err != nil {
		return err
	}
	plan, setup, err := o.readPlan()
	if err != nil {
		return err
	}
	simulated := strings.HasPrefix(plan.Receiver, "scene:")
	switch {
	case strings.HasPrefix(plan.Receiver, "file:"):
		return usagef("calibrate %s: a recording is no receiver that can be calibrated; name a dongle with --receiver rtlsdr:", o.kind)
	case simulated && (o.kind == survey.CalibrateLinearity || o.kind == survey.CalibrateLevel && o.figure == ""):
		return usagef("calibrate %s: the simulated house has neither generator nor attenuator; name a dongle with --receiver rtlsdr:", o.kind)
	case !simulated && !o.asks && !o.yes:
		return usagef("calibrate %s: nobody is there to ask; connect this, then start again with --yes: %s", o.kind, o.connect())
	case o.kind == survey.CalibrateLinearity && !o.asks && len(o.attenuator) == 0:
		return usagef("calibrate linearity: nobody is there to put the attenuator in between two measurements; name a program that does after --, see nightfloor calibrate linearity --help")
	}
	path, err := databasePath(o.database)
	if err != nil {
		return err
	}
	db, err := store.Open(ctx, path)
	if err != nil {
		return err
	}
	defer db.Close()
	lock, err := db.LockWriter(ctx, time.Now())
	if err != nil {
		return err
	}
	defer lock.Release()
	// The dongle is opened before anything is connected: that turns its bias tee off.
	in, err := openInstrument(ctx, c, plan)
	if err != nil {
		return err
	}
	defer in.receiver.Close()
	if setup != (survey.Setup{}) {
		if _, err := in.changer.Change(ctx, setup); err != nil {
			return fmt.Errorf("calibrate %s: switch to %v: %w", o.kind, setup, err)
		}
	}
	k, err := capture.NewCalibrator(in.receiver, in.clock, plan, plan.Setups[0])
	if err != nil {
		return err
	}
	hand := hand{c: c, asks: o.asks, yes: o.yes || simulated, in: bufio.NewReader(c.in)}
	if err := hand.connect(ctx, o.connect()+o.besides(plan)); err != nil {
		return err
	}
	m := &measured{options: o, plan: plan, calibrator: k, hand: hand, simulated: k.Receiver().Simulated}
	m.Calibration = survey.Calibration{Kind: o.kind, Receiver: capture.Describe(k.Receiver(), plan.FrontEnd), At: in.clock.Now().UTC()}
	if err := m.measure(ctx, c); err != nil {
		if ctx.Err() != nil {
			return fmt.Errorf("calibrate %s: stopped by the operator: nothing was stored; start it again when it suits", o.kind)
		}
		return fmt.Errorf("calibrate %s: %w", o.kind, err)
	}
	// It is shown whatever becomes of the database.
	err = db.AddCalibration(ctx, &m.Calibration)
	if err := errors.Join(err, m.print(c)); err != nil {
		return err
	}
	c.note("stored in %s; it holds for surveys with %s", path, m.Receiver)
	return nil
}

// readPlan reads the plan as the kind needs it: its segments, one setup, no bias
// where a terminator or a generator would short it. The setup is one to be put
// in place, zero for none.
func (o *calibrateOptions) readPlan() (p survey.Plan, setup survey.Setup, err error) {
	if p, err = readPlan(o.plan); err != nil {
		return p, setup, err
	}
	if o.receiver != "" {
		p.Receiver = o.receiver
	}
	listens := o.kind == survey.CalibrateLinearity || o.kind == survey.CalibrateClock
	simulated := strings.HasPrefix(p.Receiver, "scene:")
	at := slices.IndexFunc(p.Setups, func(s survey.Setup) bool { return s.Antenna == o.antenna })
	switch {
	case o.antenna != "" && at < 0:
		return p, setup, usagef("--antenna %q: the plan has no setup with it", o.antenna)
	case o.antenna != "" && p.Change.By != survey.ByCommand && !simulated:
		return p, setup, usagef("--antenna %s: the plan does not say how antennas are changed; connect it by hand and leave --antenna out", o.antenna)
	case o.antenna != "":
		setup = p.Setups[at]
	case simulated && !listens:
		setup = survey.Setup{Antenna: "terminator", Placement: p.Setups[0].Placement}
	case listens && (p.Change.By == survey.ByCommand || simulated):
		setup = p.Setups[0]
	}
	if setup == (survey.Setup{}) || p.Change.By != survey.ByCommand {
		p.Change = survey.Change{By: survey.ByNone}
	}
	if setup == (survey.Setup{}) {
		p.Setups = p.Setups[:1]
	} else {
		p.Setups = []survey.Setup{setup}
	}
	if !listens {
		p.FrontEnd.Bias = false
	}
	switch f := o.parsed.frequency; {
	case f > 0 && o.kind == survey.CalibrateLevel:
		p.Segments = []survey.Segment{capture.GeneratorSegment(f)}
	case f > 0 && o.kind == survey.CalibrateClock:
		p.Segments = []survey.Segment{capture.ClockSegment(f, p.FrontEnd.Offset)}
	}
	return p, setup, nil
}
