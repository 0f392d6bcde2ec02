// Command nightfloor records and judges what shortwave antennas hear.
package main

import (
	"os"

	_ "time/tzdata" // small boards lack the zones

	"nightfloor/cmd/nightfloor/console"
)

func main() {
	c := console.New(os.Stdin, os.Stdout, os.Stderr)
	os.Exit(run(c.CatchSignals(), c, os.Args[1:]))
}
