package main

import (
	"context"
	"errors"

	"github.com/spf13/cobra"

	"nightfloor/capture/rtlsdr"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/open"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
)

func newReceiversCommand(c *console.Console) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "receivers",
		Short: "Lists the receivers that can be opened now",
		Long: `Lists the dongles that are plugged in, with serial number and tuner, and says what
to do when there are none.` + "\n" + console.ExitHelp,
		Args: console.NoArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return runReceivers(cmd.Context(), asJSON, c) },
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON document")
	return cmd
}

// receiversDocument is the list as JSON.
type receiversDocument struct {
	Schema    string         `json:"schema"`
	Receivers []receiverFact `json:"receivers"`
}

type receiverFact struct {
	URI        string  `json:"uri"`
	Name       string  `json:"name"`
	Serial     *string `json:"serial"`
	Tuner      *string `json:"tuner"`
	Library    string  `json:"library"`
	CannotOpen *string `json:"cannot_open"` // why it cannot be opened now, null where it can
}

func runReceivers(ctx context.Context, asJSON bool, c *console.Console) error {
	if err := open.CatchDriver(c); err != nil {
		return err
	}
	found, err := rtlsdr.List(ctx, open.DongleClock)
	if err != nil && !asJSON && !errors.Is(err, rtlsdr.ErrNoDongle) {
		return err
	}
	document := receiversDocument{"nightfloor/receivers/1", []receiverFact{}}
	for _, f := range found {
		fact := receiverFact{URI: f.URI(), Name: f.Name, Serial: textOrNull(f.Serial), Tuner: textOrNull(f.Tuner), Library: f.Library}
		if f.Refused != nil {
			fact.CannotOpen = textOrNull(f.Refused.Error())
		}
		document.Receivers = append(document.Receivers, fact)
	}
	if asJSON {
		return errors.Join(result.WriteJSON(c.Out, document), err)
	}
	for _, f := range document.Receivers {
		line := f.URI + "  " + wording.Printable(f.Name)
		if f.Tuner != nil {
			line += ", tuner " + *f.Tuner
		}
		if f.CannotOpen != nil {
			line += "; cannot be opened: " + *f.CannotOpen
		}
		err = errors.Join(err, c.Fold(c.Out, "%s\n", line))
	}
	warnSameSerial(c, found)
	return err
}

// warnSameSerial warns of dongles that only their order tells apart.
func warnSameSerial(c *console.Console, found []rtlsdr.Dongle) {
	said := map[string]bool{}
	for _, f := range found {
		if f.SameSerial < 2 || f.Serial == "" || said[f.Serial] {
			continue
		}
		said[f.Serial] = true
		c.Fold(c.Out, "%d dongles have the serial %s and go by their order, which may change whenever one is plugged in: write a serial of its own into each, with the tools that come with librtlsdr\n", f.SameSerial, wording.Printable(f.Serial))
	}
}

func textOrNull(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}
