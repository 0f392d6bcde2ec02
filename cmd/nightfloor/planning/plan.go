// Package planning is the command plan: it writes a plan for somebody to change, and checks one
// against all that is known beforehand.
package planning

import (
	"time"

	"github.com/spf13/cobra"

	"nightfloor/capture"
	"nightfloor/capture/instrument"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/open"
	"nightfloor/survey/plan"
)

// NewCommand gives the command plan with all below it.
func NewCommand(c *console.Console) *cobra.Command {
	return console.Group("plan", "Writes and checks survey plans", "Writes and checks survey plans.", newCommand(c), &cobra.Command{
		Use:   "check FILE",
		Short: "Checks a plan and tells what it will hold",
		Long: `Checks a plan: every mistake with its line; and tells what it will hold: sweeps,
rounds, time and room on the disk, and whether that is enough. Nothing is tuned or moved.` + "\n" + console.ExitHelp,
		Args: console.OneFile,
		RunE: func(_ *cobra.Command, files []string) error { return check(files[0], time.Now(), c) },
	})
}

func check(path string, now time.Time, c *console.Console) error {
	text, err := open.PlanText(path)
	if err != nil {
		return err
	}
	p, wrong := plan.Parse(text)
	info, doubt, wrong := instrument.Foresee(p, wrong)
	if wrong != nil {
		return console.PrefixLines("plan "+path, wrong)
	}
	tunings, err := capture.Tunings(p.Segments, info.SampleRate)
	if err != nil {
		return console.PrefixLines("plan "+path, err)
	}
	length := time.Duration(0)
	if p.Until != "" {
		end, err := console.Until(p.Until, now)
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
	return c.Fold(c.Out, "%s", p.Describe(o, len(tunings), length, doubts))
}
