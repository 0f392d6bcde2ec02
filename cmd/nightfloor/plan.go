package main

import (
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"nightfloor/capture"
	"nightfloor/survey"
)

//go:embed plan-new.toml
var newPlan []byte

func newPlanCommand(c *console) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "plan",
		Short: "Writes and checks survey plans",
		Long:  "Writes and checks survey plans." + "\n" + exitHelp,
		Args:  noArguments,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(&cobra.Command{
		Use:   "new FILE",
		Short: "Writes a commented plan for a whip and a loop",
		Long:  "Writes a commented plan for a whip and a loop. A file that is there is left as it is." + "\n" + exitHelp,
		Args:  oneFile,
		RunE:  func(_ *cobra.Command, files []string) error { return runPlanNew(files[0], c) },
	}, &cobra.Command{
		Use:   "check FILE",
		Short: "Checks a plan and tells what it will hold",
		Long: `Checks a plan: every mistake with its line; and tells what it will hold: sweeps,
rounds, time and room on the disk, and whether that is enough. Nothing is tuned or moved.` + "\n" + exitHelp,
		Args: oneFile,
		RunE: func(_ *cobra.Command, files []string) error { return runPlanCheck(files[0], time.Now(), c) },
	})
	return cmd
}

// oneFile wants exactly one file.
func oneFile(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return usagef("%s: name one file; see %s --help", cmd.Name(), cmd.CommandPath())
	}
	return nil
}

func runPlanNew(path string, c *console) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("write plan %s: it is there already, and is left as it is; name another file", path)
	}
	if err != nil {
		return fmt.Errorf("write plan: %w; name a file in a folder that may be written", err)
	}
	_, err = f.Write(newPlan)
	if err := errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("write plan %s: %w", path, err)
	}
	c.note("wrote %s; change what is yours in it, then: nightfloor plan check %s", path, path)
	return nil
}

// readPlan reads a plan; the error names every mistake, a line each.
func readPlan(path string) (survey.Plan, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return survey.Plan{}, fmt.Errorf("read plan: %w; name a plan that can be read", err)
	}
	plan, err := survey.ParsePlan(text)
	if err != nil {
		return survey.Plan{}, prefixLines("plan "+path, err)
	}
	return plan, nil
}

// checkedRate is the sample rate that a plan which names none is checked with.
const checkedRate = 2.4e6

func runPlanCheck(path string, now time.Time, c *console) error {
	plan, err := readPlan(path)
	if err != nil {
		return err
	}
	rate := plan.SampleRate
	if rate == 0 {
		rate = checkedRate
	}
	tunings, err := capture.Tunings(plan.Segments, rate)
	if err != nil {
		return prefixLines("plan "+path, err)
	}
	length := time.Duration(0)
	if plan.Until != "" {
		end, err := recordOptions{until: plan.Until}.end(now)
		if err != nil {
			return err
		}
		length = end.Sub(now)
	}
	_, err = fmt.Fprint(c.out, describePlan(plan, plan.Outlook(len(tunings), length), len(tunings), length))
	return err
}

// describePlan says what a plan will hold, and what speaks against it.
func describePlan(p survey.Plan, o survey.Outlook, tunings int, length time.Duration) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d setups, %d segments in %d tunings, readings of %v\n", len(p.Setups), len(p.Segments), tunings, p.Dwell)
	fmt.Fprintf(&b, "a sweep takes %s, a visit %s, a round %s\n", minutes(o.Sweep), minutes(o.Visit), minutes(o.Round))
	switch {
	case o.Rounds == 0 && length > 0:
		fmt.Fprintf(&b, "until %s there is no time for a single round\n", p.Until)
	case o.Rounds == 0:
		b.WriteString("it goes on until it is stopped\n")
	default:
		fmt.Fprintf(&b, "%d rounds in %s: %d sweeps, %d readings, %s of listening for each setup and segment, %.0f MB\n",
			o.Rounds, minutes(o.Total), o.Sweeps, o.Readings, minutes(o.PerSetup), float64(o.Bytes)/1e6)
	}
	if len(p.Setups) > 1 {
		fmt.Fprintf(&b, "two antennas that fade apart differ by %.1f dB from round to round on one carrier: ±1 dB takes %d rounds,\n"+
			"on eight carriers that fade apart some %d (Doppler spread of 0.5 Hz; fading that lasts takes more)\n", o.Scatter, o.Needed, max(6, (o.Needed-2)/8+2))
	}
	for _, doubt := range planDoubts(p, o) {
		fmt.Fprintf(&b, "! %s\n", doubt)
	}
	return b.String()
}

// planDoubts are what speaks against a plan that has no mistake.
func planDoubts(p survey.Plan, o survey.Outlook) []string {
	var doubts []string
	add := func(format string, args ...any) { doubts = append(doubts, fmt.Sprintf(format, args...)) }
	if len(p.Setups) > 1 && o.Rounds > 0 && o.Rounds < 12 {
		add("%d rounds: under 6 there is no interval at all, under 12 a poor one; shorten the visits or record longer", o.Rounds)
	}
	if listened := time.Duration(p.Sweeps) * o.Sweep; listened < 30*time.Second && len(p.Setups) > 1 && p.Every == 0 {
		add("a visit listens for %s only: half a minute or more averages fading; raise sweeps to %d", minutes(listened), int(30*time.Second/o.Sweep)+1)
	}
	for _, s := range p.Segments {
		if p.FrontEnd.Ambiguous(s) {
			side := survey.FilterLowPass
			if s.Low > 14.4e6 {
				side = survey.FilterHighPass
			}
			add("segment %s: direct sampling hears its mirror about 14.4 MHz on top of it; a %s of 14.4 MHz settles it (then say filter = %q); readings are flagged %s", s.Name, side, side, survey.FlagNyquistImage)
		}
	}
	if p.Site.Locator == "" {
		add("no locator: day, dusk, night and dawn are not told apart")
	}
	if strings.HasPrefix(p.Receiver, "rtlsdr:") && len(p.Setups) > 1 && p.Change.By == "" {
		add("it does not say how antennas are changed; add [change], or record refuses it")
	}
	for _, a := range p.Antennas {
		for _, s := range p.Segments {
			if !a.Measures(s) {
				add("segment %s is left out for %s, which is tuned to %v to %v: there it is compared with nothing", s.Name, a.Name, a.TunedLow, a.TunedHigh)
			}
		}
	}
	if r := p.Change.Rotator; r != nil {
		for _, name := range r.Antennas {
			if p.Antenna(name).Kind == "" {
				add("the rotator turns %s, of which no kind is said: kind = \"loop\" in [[antenna]] lets half a turn do", name)
			}
		}
	}
	if p.FrontEnd.Bias {
		add("the bias tee is on: an antenna that shorts direct current, as most loops and baluns do, may destroy the dongle")
	}
	return doubts
}

// minutes writes a duration as a person does.
func minutes(d time.Duration) string {
	switch {
	case d < time.Minute:
		return fmt.Sprintf("%.1f s", d.Seconds())
	case d < time.Hour:
		return fmt.Sprintf("%.1f min", d.Minutes())
	}
	return fmt.Sprintf("%.1f h", d.Hours())
}
