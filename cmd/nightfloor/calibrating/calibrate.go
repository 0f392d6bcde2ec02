// Package calibrating is the command calibrate: what it asks to be connected, how its flags are
// read, and what becomes of a run: shown, stored, listed, removed. capture/calibrate measures.
package calibrating

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"nightfloor/capture"
	"nightfloor/capture/calibrate"
	"nightfloor/capture/instrument"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/open"
	"nightfloor/reports/calibration"
	"nightfloor/reports/result"
	"nightfloor/store"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

type options struct {
	kind        string // one of survey's kinds of calibration
	plan        string
	receiver    string
	database    string
	antenna     string
	yes         bool
	json        bool
	interactive bool // somebody sits at a terminal

	frequency   survey.Hz     // level, clock; 0: none
	level       survey.DBm    // level; 0: none
	secondLevel survey.DBm    // level; 0: none
	figure      survey.DB     // level
	enr         survey.DB     // level: the noise source's
	by          string        // level: what was given, one of survey's bases
	uncertainty survey.DB     // level: of that
	changed     bool          // noise, level
	attenuation survey.DB     // linearity
	program     []string      // linearity, level by a noise source: and its arguments
	at          string        // lines
	listen      time.Duration // clock
}

// Where a terminator stands for the lines.
const (
	atAntenna  = "antenna"
	atReceiver = "receiver"
)

// NewCommand gives the command calibrate with all below it.
func NewCommand(c *console.Console) *cobra.Command {
	cmd := console.Group("calibrate", "Measures the receiver itself: own noise, levels, linearity, own lines, clock",
		`Measures the receiver itself and stores what it finds with its date. It holds for the
surveys of the same receiver: dongle, front end and sample rate. A reading is served by the
newest run before it, or by the newest of all where there is none before. A run that went
wrong is measured again, or removed by its number.

Each says what to connect and waits for Enter. --yes says that it is connected already;
without a terminal nothing is measured unless --yes is given.

clock and linearity listen through the plan's first setup, and run the plan's command to put
it in place, where it has one; --antenna names another. noise, level and lines want what you
connect, and run the plan's command with --antenna only.

Let the dongle run for half an hour first: gain and clock drift while it warms up.

`+cautions, newListCommand(c), newRemoveCommand(c))
	for _, k := range kinds {
		cmd.AddCommand(newKindCommand(c, k))
	}
	return cmd
}

// newKindCommand gives the command of one kind of calibration.
func newKindCommand(c *console.Console, k kind) *cobra.Command {
	o := options{kind: k.name}
	cmd := &cobra.Command{
		Use: k.name + " --plan FILE", Short: k.short,
		Long: k.long + "\n\n" + cautions + "\n" + console.ExitHelp,
		Args: func(cmd *cobra.Command, args []string) error {
			if cmd.ArgsLenAtDash() == 0 && (k.name == survey.CalibrateLinearity || cmd.Flags().Changed("enr") || cmd.Flags().Changed("second-level")) {
				return nil
			}
			return console.NoArguments(cmd, args)
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			o.program, o.interactive = args, console.IsTerminal(c.In)
			o.basis(cmd.Flags().Changed)
			return run(cmd.Context(), o, c)
		},
	}
	antenna := "switch to this antenna of the plan first, by the plan's command, which is not run otherwise"
	if o.listens() {
		antenna = "antenna of the plan to listen through, put in place by the plan's command (default: the first setup's)"
	}
	f := cmd.Flags()
	f.StringVar(&o.plan, "plan", "", "the survey plan: its receiver, segments, dwell")
	f.StringVar(&o.receiver, "receiver", "", "receiver, over what the plan says")
	f.StringVar(&o.antenna, "antenna", "", antenna)
	f.BoolVar(&o.yes, "yes", false, "what is to be connected is connected")
	f.BoolVar(&o.json, "json", false, "print one JSON document")
	console.DatabaseVar(f, &o.database)
	if k.flags != nil {
		k.flags(c, cmd, &o)
	}
	return cmd
}

// listens tells whether the kind wants an antenna.
func (o *options) listens() bool {
	return o.kind == survey.CalibrateLinearity || o.kind == survey.CalibrateClock
}

const (
	// shortwave is where shortwave ends; only a tuner without a converter hears more.
	shortwave survey.Hz = 30e6
)

// check tells what is wrong with the options of the kind.
func (o *options) check() error {
	switch {
	case o.plan == "":
		return console.Usagef("calibrate %s: no plan; name one with --plan FILE", o.kind)
	case o.by != survey.BasisGenerator && o.kind == survey.CalibrateLevel && (o.frequency != 0 || o.level != 0), o.enr != 0 && o.by == survey.BasisFigure:
		return console.Usagef("calibrate level: --noise-figure wants a terminator, --enr a noise source, --frequency and --level a generator; choose one")
	case o.kind == survey.CalibrateLevel && o.by == survey.BasisGenerator && (o.frequency == 0 || o.level == 0):
		return console.Usagef(`calibrate level: give --frequency and --level of a generator, as --frequency 9.652MHz --level "-60 dBm", or --enr of a noise source, or --noise-figure of the receiver`)
	case o.secondLevel != 0 && o.by != survey.BasisGenerator:
		return console.Usagef("calibrate level: --second-level is of a generator; give --frequency and --level too")
	case o.secondLevel != 0 && !(math.Abs(float64(o.secondLevel-o.level)) >= leastApart && math.Abs(float64(o.secondLevel-o.level)) <= mostApart):
		return console.Usagef("calibrate level: --level and --second-level are %g dB apart; take two that are %g to %g dB apart, best 10", math.Abs(float64(o.secondLevel-o.level)), leastApart, mostApart)
	case o.kind == survey.CalibrateLines && o.at != atAntenna && o.at != atReceiver:
		return console.Usagef("--at %q: choose %s (its end of the feed line) or %s", o.at, atAntenna, atReceiver)
	case o.kind == survey.CalibrateClock && o.listen <= 0:
		return console.Usagef("--for %v: must be longer than nothing", o.listen)
	}
	return nil
}

func checkAttenuation(attenuation survey.DB) error {
	if attenuation < calibrate.LeastAttenuation || attenuation > calibrate.MostAttenuation {
		return fmt.Errorf("under %g dB the verdicts are not told apart, over %g dB nothing is left; take 10 dB", float64(calibrate.LeastAttenuation), float64(calibrate.MostAttenuation))
	}
	return nil
}

func run(ctx context.Context, o options, c *console.Console) error {
	if err := o.check(); err != nil {
		return err
	}
	p, setup, err := o.readPlan()
	if err != nil {
		return err
	}
	if err := o.suits(p); err != nil {
		return err
	}
	// The dongle is opened before anything is connected: that turns its bias tee off.
	in, db, path, release, err := open.Both(ctx, c, p, o.database, func(instrument.Instrument) error { return nil })
	if err != nil {
		return err
	}
	defer release()
	defer in.Receiver.Close()
	if setup != (survey.Setup{}) {
		if _, err := in.Changer.Change(ctx, setup); err != nil {
			return fmt.Errorf("calibrate %s: switch to %v: %w", o.kind, setup, err)
		}
	}
	m, err := o.measured(ctx, c, p, in, db)
	if err != nil {
		return err
	}
	// It is shown whatever becomes of the database.
	err = db.AddCalibration(ctx, &m.Calibration)
	if err := errors.Join(err, o.printCalibration(c, p, m)); err != nil {
		return err
	}
	c.Note("stored as calibration %d in %s; it holds for surveys with %s", m.ID, path, survey.ReceiverText(m.Receiver))
	return nil
}

// suits tells why the kind cannot be measured with the receiver, or with nobody there to ask.
func (o *options) suits(p plan.Plan) error {
	simulated := strings.HasPrefix(p.Receiver, "scene:")
	most := shortwave
	if way := p.FrontEnd.Way; !simulated && (way == "" || way == survey.WayTuner) {
		most = survey.TunerHighest
	}
	switch {
	case strings.HasPrefix(p.Receiver, "file:"):
		return console.Usagef("calibrate %s: a recording is no receiver that can be calibrated; name a dongle with --receiver rtlsdr:", o.kind)
	case simulated && (o.kind == survey.CalibrateLinearity || o.kind == survey.CalibrateLevel && o.by != survey.BasisFigure):
		return console.Usagef("calibrate %s: the simulated house has neither generator nor noise source nor attenuator; name a dongle with --receiver rtlsdr:", o.kind)
	case o.frequency > most:
		return console.Usagef("--frequency %v: the receiver hears up to %v the way the plan says; name one below", o.frequency, most)
	case !simulated && !o.interactive && !o.yes:
		return console.Usagef("calibrate %s: nobody is there to ask; connect this, then start again with --yes: %s", o.kind, o.connect())
	case o.kind == survey.CalibrateLinearity && !o.interactive && len(o.program) == 0:
		return console.Usagef("calibrate linearity: nobody is there to put the attenuator in between two measurements; name a program that does after --, see nightfloor calibrate linearity --help")
	case o.secondLevel != 0 && !o.interactive && len(o.program) == 0:
		return console.Usagef("calibrate level: nobody is there to set the generator to its second level; name a program that does after --, see nightfloor calibrate level --help")
	case o.by == survey.BasisSource && !o.interactive && len(o.program) == 0:
		return console.Usagef("calibrate level: nobody is there to turn the noise source on between two measurements; name a program that does after --, see nightfloor calibrate level --help")
	}
	return nil
}

// measured asks for what is to be connected, and measures.
func (o *options) measured(ctx context.Context, c *console.Console, p plan.Plan, in instrument.Instrument, db *store.Store) (*calibrate.Run, error) {
	k, err := calibrate.New(in.Receiver, in.Clock, p, p.Setups[0])
	if err != nil {
		return nil, err
	}
	hand := operator{c: c, yes: o.yes || strings.HasPrefix(p.Receiver, "scene:"), in: bufio.NewReader(c.In)}
	if err := hand.connect(ctx, o.connect()+o.addition(p)); err != nil {
		return nil, o.failed(ctx, err)
	}
	run := survey.Calibration{Kind: o.kind, Receiver: capture.Describe(k.Receiver(), p.FrontEnd), At: in.Clock.Now().UTC()}
	earlier, err := earlierOf(ctx, db, run.Receiver)
	if err != nil {
		return nil, err
	}
	m := calibrate.NewRun(k, p, run, o.settings(hand, p, earlier))
	if err := measureWithBar(ctx, c, k, m); err != nil {
		return nil, o.failed(ctx, err)
	}
	return m, nil
}

// failed gives the error of a run of which nothing was stored.
func (o *options) failed(ctx context.Context, err error) error {
	switch {
	case ctx.Err() != nil:
		return fmt.Errorf("calibrate %s: stopped by the operator: nothing was stored; start it again when it suits", o.kind)
	case errors.Is(err, capture.ErrUnplugged):
		return fmt.Errorf("calibrate %s: %w: nothing was stored; plug it in and start again", o.kind, err)
	}
	return fmt.Errorf("calibrate %s: %w; nothing was stored", o.kind, err)
}

// settings gives the options as a run takes them.
func (o *options) settings(h operator, p plan.Plan, earlier []survey.Calibration) calibrate.Settings {
	var a calibrate.Attenuator = &handAttenuator{operator: h}
	var source calibrate.NoiseSource = &handSource{operator: h}
	var generator calibrate.Generator = handGenerator{h, o.level}
	if len(o.program) > 0 {
		wait := cmp.Or(p.Change.TimeOut, 10*time.Second)
		a = calibrate.ProgramAttenuator{Argv: o.program, TimeOut: wait}
		source = calibrate.ProgramSource{Argv: o.program, TimeOut: wait}
		generator = calibrate.ProgramGenerator{Argv: o.program, TimeOut: wait}
	}
	return calibrate.Settings{
		Frequency: o.frequency, Level: o.level, SecondLevel: o.secondLevel, Generator: generator, By: o.by, Figure: o.figure, ENR: o.enr, Source: source, Uncertainty: o.uncertainty, Changed: o.changed,
		Attenuation: o.attenuation, Attenuator: a,
		AtReceiver: o.at == atReceiver, Listen: o.listen, Earlier: earlier,
		Tell: func(text string) { h.c.Note("%s", text) },
	}
}

// measureWithBar measures and shows how far it is.
func measureWithBar(ctx context.Context, c *console.Console, k *calibrate.Calibrator, r *calibrate.Run) error {
	var bar *console.Progress
	k.Progress = func(done, total int) {
		if bar == nil {
			bar = console.NewProgress(c, "calibrating", total)
		}
		bar.At(done)
		if done >= total { // a person may be asked next
			bar.End()
			bar = nil
		}
	}
	err := r.Measure(ctx)
	if bar != nil {
		bar.End()
	}
	return err
}

// printCalibration shows a calibration, as one JSON document or for a person to read.
func (o *options) printCalibration(c *console.Console, p plan.Plan, r *calibrate.Run) error {
	shown := calibration.Run{Calibration: r.Calibration, Simulated: r.Simulated, LeftWords: calibrate.ByReason(r.Skipped), Found: r.Found, FoundWords: r.FoundWords(),
		SelfNoise: r.SelfNoise, Left: r.Skipped, Figures: r.Figures, Attenuation: o.attenuation, PlanPPM: p.FrontEnd.PPM, Doubts: r.Doubts}
	if r.Clock != nil {
		shown.NewPPM = r.NewClockError()
	}
	if o.json {
		return result.WriteJSON(c.Out, shown.Document())
	}
	return shown.WriteText(c.Out, c.Width())
}

// earlierOf gives the stored calibrations of a receiver, the newest first.
func earlierOf(ctx context.Context, db *store.Store, receiver string) ([]survey.Calibration, error) {
	all, err := db.Calibrations(ctx)
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(c survey.Calibration) bool { return c.Receiver != receiver })
	slices.Reverse(all)
	return all, nil
}

// readPlan reads the plan as the kind needs it: its segments, one setup, no bias
// where a terminator or a generator would short it. setup is the one to be put in
// place; zero: none.
func (o *options) readPlan() (p plan.Plan, setup survey.Setup, err error) {
	if p, err = open.Plan(o.plan); err != nil {
		return p, setup, err
	}
	p.Receiver = cmp.Or(o.receiver, p.Receiver)
	listens := o.listens()
	simulated := strings.HasPrefix(p.Receiver, "scene:")
	at := slices.IndexFunc(p.Setups, func(s survey.Setup) bool { return s.Antenna == o.antenna })
	switch {
	case o.antenna != "" && at < 0:
		return p, setup, console.Usagef("--antenna %q: the plan has no setup with it", o.antenna)
	case o.antenna != "" && p.Change.By != plan.ByCommand && !simulated:
		return p, setup, console.Usagef("--antenna %s: the plan does not say how antennas are changed; connect it by hand and leave --antenna out", o.antenna)
	case o.antenna != "":
		setup = p.Setups[at]
	case simulated && !listens:
		setup = survey.Setup{Antenna: "terminator", Placement: p.Setups[0].Placement}
	case listens && (p.Change.By == plan.ByCommand || simulated):
		setup = p.Setups[0]
	}
	if setup == (survey.Setup{}) || p.Change.By != plan.ByCommand {
		p.Change = plan.Change{By: plan.ByNone}
	}
	if setup == (survey.Setup{}) {
		p.Setups = p.Setups[:1]
	} else {
		p.Setups = []survey.Setup{setup}
	}
	if !listens {
		p.FrontEnd.Bias = false
	}
	switch f := o.frequency; {
	case f > 0 && o.kind == survey.CalibrateLevel:
		p.Segments = []survey.Segment{calibrate.GeneratorSegment(f)}
	case f > 0 && o.kind == survey.CalibrateClock:
		p.Segments = []survey.Segment{calibrate.ClockSegment(f, p.FrontEnd.Offset)}
	}
	return p, setup, nil
}
