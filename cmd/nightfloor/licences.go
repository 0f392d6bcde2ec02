package main

import (
	_ "embed"
	"fmt"

	"github.com/spf13/cobra"

	"nightfloor/cmd/nightfloor/console"
)

// licences are the texts, by module.
//
//go:embed licences.txt
var licences string

// aboutLicences stands before them.
const aboutLicences = `nightfloor is under the MIT licence. The program holds the software below, each
under the licence that stands with it.

The library of the dongle, librtlsdr, is no part of the program. The system's
own is opened at run time where there is one; it is under the GNU General Public
License, version 2 or later.
`

func newLicencesCommand(c *console.Console) *cobra.Command {
	return &cobra.Command{
		Use:   "licences",
		Short: "Prints the licences of the software that the program holds",
		Long: `Prints the licences of all modules that are linked into the program, of Go's own
library and of the charts in the report's page.` + "\n" + console.ExitHelp,
		Args: console.NoArguments,
		RunE: func(*cobra.Command, []string) error {
			_, err := fmt.Fprint(c.Out, aboutLicences, licences)
			return err
		},
	}
}
