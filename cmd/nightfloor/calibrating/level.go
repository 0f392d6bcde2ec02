package calibrating

import (
	"cmp"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"nightfloor/cmd/nightfloor/console"
	"nightfloor/survey"
	"nightfloor/survey/level"
)

const (
	// mostInput is the most that may go into a receiver's input.
	mostInput survey.DBm = -10
	// leastInput is what no receiver hears in a bin of a sweep: room noise is −174
	// dBm/Hz, −152 dBm in 150 Hz.
	leastInput survey.DBm = -140
	// mostFigure is more than any receiver's noise figure.
	mostFigure = 50.0 // dB
	// mostENR is more than any noise source has that a receiver stands.
	mostENR = 60.0 // dB
	// mostUncertainty is more than anything is worth measuring by.
	mostUncertainty = 10.0 // dB
	// voltage is by how much a level in dBµV is higher than one in dBm, at 50 Ω (PHYSICS.md 1.2).
	voltage = 106.99 // dB
)

// Two levels of a generator are so many dB apart: compression of the lower one is a quarter of the
// higher one's at 6 dB; over 20 dB hardly a gain measures both.
const leastApart, mostApart = 6.0, 20.0

// levelFlags adds the flags of calibrate level.
func levelFlags(c *console.Console, cmd *cobra.Command, o *options) {
	cmd.Use += " [-- PROGRAM ARGUMENT…]"
	f := cmd.Flags()
	c.FrequencyVar(f, &o.frequency, "frequency", 0, "the generator's `frequency`, as 9.652MHz")
	f.Func("level", "the generator's `level` at the receiver's input, as \"-60 dBm\"; −140 to −10 dBm", func(text string) (err error) {
		o.level, err = parseLevel(text)
		return cmp.Or(err, checkLevel(o.level))
	})
	f.Func("second-level", "another `level` of the generator, 6 to 20 dB from the first: where both disagree the receiver is compressed", func(text string) (err error) {
		o.secondLevel, err = parseLevel(text)
		return cmp.Or(err, checkLevel(o.secondLevel))
	})
	console.UnitVar(f, &o.enr, "enr", "dB", "15", "the noise source's excess noise `ratio` instead of a generator, as \"15 dB\"; over 0 to 60 dB", checkENR)
	console.UnitVar(f, &o.figure, "noise-figure", "dB", "8", "the receiver's noise `figure` instead of a generator, as \"8 dB\"; 0 to 50 dB", checkFigure)
	console.UnitVar(f, &o.uncertainty, "uncertainty", "dB", "0.5", "how well that is known: its standard `uncertainty`, 0 to 10 dB (default \"1 dB\", of a noise figure \"2 dB\")", checkUncertainty)
	changedFlag(c, cmd, o)
}

// changedFlag adds the flag that keeps runs that differ.
func changedFlag(_ *console.Console, cmd *cobra.Command, o *options) {
	cmd.Flags().BoolVar(&o.changed, "changed", false, "the receiver is not what it was in earlier runs: keep both, however they differ")
}

// basis finds what levels rest on, by the flags that were given.
func (o *options) basis(given func(flag string) bool) {
	if o.kind != survey.CalibrateLevel {
		return
	}
	o.by = survey.BasisGenerator
	if given("enr") {
		o.by = survey.BasisSource
	}
	if given("noise-figure") {
		o.by = survey.BasisFigure
	}
	if !given("uncertainty") {
		o.uncertainty = level.Unless(o.by)
	}
}

// parseLevel reads a level in dBm. One in dBµV is said in dBm, but not taken: it may be of the open circuit.
func parseLevel(text string) (survey.DBm, error) {
	for _, unit := range []string{"dBµV", "dBμV", "dBuV"} { // two letters mu
		if x, err := survey.ParseNumber(text, unit, "47", false); err == nil {
			dBm := strings.Replace(fmt.Sprintf("%.1f", x-voltage), "-", "−", 1)
			return 0, fmt.Errorf("no level in dBm; %g dBµV = %s dBm at 50 Ω, if it is the voltage across the receiver's input and not that of the open circuit; give it in dBm", x, dBm)
		}
	}
	x, err := survey.ParseNumber(text, "dBm", "-60", false)
	return survey.DBm(x), err
}

func checkLevel(level survey.DBm) error {
	switch {
	case level > mostInput:
		return fmt.Errorf("more than %v dBm may destroy the receiver; turn the generator down, or put an attenuator behind it and give what is left", float64(mostInput))
	case level < leastInput:
		return fmt.Errorf("under %v dBm no receiver tells a carrier from its own noise; turn the generator up", float64(leastInput))
	}
	return nil
}

func checkFigure(figure survey.DB) error {
	if figure < 0 || figure > mostFigure {
		return fmt.Errorf("no receiver has it; give it within 0 to %g dB", mostFigure)
	}
	return nil
}

func checkENR(enr survey.DB) error {
	if enr <= 0 || enr > mostENR {
		return fmt.Errorf("no noise source has it; give it over 0, up to %g dB, less what an attenuator behind it takes off", mostENR)
	}
	return nil
}

func checkUncertainty(u survey.DB) error {
	if u < 0 || u > mostUncertainty {
		return fmt.Errorf("give it within 0 to %g dB, as the data sheet or its calibration has it", mostUncertainty)
	}
	return nil
}
