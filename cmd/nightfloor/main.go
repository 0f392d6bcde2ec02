// Command nightfloor records and judges what shortwave antennas hear.
package main

import (
	"os"

	_ "time/tzdata" // small boards lack the zones
)

func main() {
	c := newConsole(os.Stdin, os.Stdout, os.Stderr)
	os.Exit(c.run(c.catchSignals(), os.Args[1:]))
}
