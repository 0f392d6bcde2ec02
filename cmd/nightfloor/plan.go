package main

import (
	"cmp"
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"nightfloor/capture"
	"nightfloor/capture/iqfile"
	"nightfloor/capture/rtlsdr"
	"nightfloor/capture/scene"
	"nightfloor/capture/turn"
	"nightfloor/survey"
	"nightfloor/survey/plan"
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
func readPlan(path string) (plan.Plan, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return plan.Plan{}, fmt.Errorf("read plan: %w; name a plan that can be read", err)
	}
	p, err := plan.Parse(text)
	if err != nil {
		return plan.Plan{}, prefixLines("plan "+path, err)
	}
	return p, nil
}

func runPlanCheck(path string, now time.Time, c *console) error {
	text, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("read plan: %w; name a plan that can be read", err)
	}
	p, wrong := plan.Parse(text)
	if r := p.Change.Rotator; r != nil && wrong == nil {
		if err := (&turn.Rotator{Rotator: *r, HalfTurn: p.HalfTurn}).CheckSetups(p.Setups); err != nil {
			wrong = p.AddMistake(wrong, "rotator.range", err)
		}
	}
	info, doubt, wrong := receiverInfo(p, wrong)
	if wrong = checkReceiver(p, info, wrong); wrong != nil {
		return prefixLines("plan "+path, wrong)
	}
	tunings, err := capture.Tunings(p.Segments, info.SampleRate)
	if err != nil {
		return prefixLines("plan "+path, err)
	}
	length := time.Duration(0)
	if p.Until != "" {
		end, err := recordOptions{until: p.Until}.end(now)
		if err != nil {
			return err
		}
		length = end.Sub(now)
	}
	o := p.Outlook(len(tunings), length)
	doubts := p.Doubts(o, length)
	if doubt != "" {
		doubts = append(doubts, doubt)
	}
	_, err = fmt.Fprint(c.out, p.Describe(o, len(tunings), length, doubts))
	return err
}

// checkedRate is the sample rate that a plan which names none is checked with.
const checkedRate = 2.4e6

// receiverInfo tells what can be known of a plan's receiver without touching it, and
// joins what record would refuse to what was found wrong before.
func receiverInfo(p plan.Plan, found error) (info capture.Info, doubt string, wrong error) {
	info.SampleRate = cmp.Or(p.SampleRate, checkedRate)
	kind, path, _ := strings.Cut(p.Receiver, ":")
	switch kind {
	case "": // one of the doubts
	case "rtlsdr":
		if _, err := rtlsdr.ParseURI(p.Receiver); err != nil {
			found = p.AddMistake(found, "receiver.uri", err)
		}
		if survey.DongleRate(info.SampleRate) != nil { // a mistake that was named
			info.SampleRate = checkedRate
		}
	case "file":
		played, err := iqfile.NewReceiver(path, iqfile.Options{})
		if err != nil {
			return info, err.Error(), found
		}
		info = played.Info()
		if err := played.Close(); err != nil {
			return info, err.Error(), found
		}
	case "scene":
		house, err := scene.Open(p.Receiver, scene.Options{})
		if err != nil {
			return info, "", p.AddMistake(found, "receiver.uri", err)
		}
		defer house.Close()
		if err := house.CheckSetups(p.Setups); err != nil {
			found = p.AddMistake(found, "setup", err)
		}
		atRate, err := scene.Open(p.Receiver, scene.Options{Rate: p.SampleRate})
		if err != nil {
			return info, "", p.AddMistake(found, "receiver.sample_rate", err)
		}
		defer atRate.Close()
		info = atRate.Info()
	default:
		found = p.AddMistake(found, "receiver.uri", fmt.Errorf("%q is no kind of receiver; write rtlsdr: for a dongle, file:PATH for a recording, scene:house for the simulated house", p.Receiver))
	}
	return info, "", found
}

// commonRates are sample rates that dongles run at.
var commonRates = []survey.Hz{250e3, 300e3, 1.024e6, 1.2e6, 1.6e6, 2.048e6, 2.4e6, 2.56e6, 3.2e6}

// checkReceiver joins what a plan asks of a receiver that it cannot do to what was
// found wrong before: segments that its sample rate does not take in, and gains
// that are none of its steps.
func checkReceiver(p plan.Plan, info capture.Info, wrong error) error {
	for _, s := range p.Segments {
		one := []survey.Segment{s}
		fits := func(rate survey.Hz) bool { _, err := capture.Tunings(one, rate); return err == nil }
		if fits(info.SampleRate) {
			continue
		}
		advice := "split it into narrower ones"
		if i := slices.IndexFunc(commonRates, fits); i >= 0 && !strings.HasPrefix(info.URI, "file:") {
			advice = fmt.Sprintf("set sample_rate = %q, or split it", commonRates[i].String())
		}
		wrong = p.AddMistake(wrong, p.SegmentKey(s.Name), fmt.Errorf("%s is %v wide, and a sample rate of %v takes in a third of its width, beside the DC spike; %s",
			s.Name, s.High-s.Low, info.SampleRate, advice))
	}
	const near = 0.05 + 1e-9 // dB: a step, as people write it
	for i, g := range p.Gains {
		isIt := func(step survey.DB) bool { return math.Abs(float64(step-g.Gain)) <= near }
		if len(info.Gains) == 0 || slices.ContainsFunc(info.Gains, isIt) {
			continue
		}
		var steps []string
		for _, step := range info.Gains {
			steps = append(steps, fmt.Sprintf("%.1f", float64(step)))
		}
		wrong = p.AddMistake(wrong, fmt.Sprintf("gain[%d].gain", i), fmt.Errorf("%g dB is no step of the receiver; its steps are %s dB", float64(g.Gain), strings.Join(steps, ", ")))
	}
	return wrong
}
