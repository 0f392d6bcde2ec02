package console

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"nightfloor/survey"
	"nightfloor/survey/logbook"
)

// ForceVar adds the flag that lets a file be replaced.
func ForceVar(flags *pflag.FlagSet, into *bool) {
	flags.BoolVar(into, "force", false, "replace what is there, whatever it is; never a folder, a link or the database")
}

// DatabaseVar adds the flag that names the database.
func DatabaseVar(flags *pflag.FlagSet, into *string) {
	flags.StringVar(into, "db", "", "database file (default: NIGHTFLOOR_DB, else the user's data folder)")
}

// FrequencyVar adds a flag that takes a frequency. A bare number counts in the unit bare, and
// is said back; 0: it needs a unit.
func (c *Console) FrequencyVar(flags *pflag.FlagSet, into *survey.Hz, name string, bare survey.Hz, usage string) {
	flags.Func(name, usage, func(text string) (err error) {
		switch *into, err = survey.ParseFrequency(text, bare); {
		case err != nil:
		case bare == 1 && !HasUnit(text) && *into > 0 && *into < LeastTuned && 1e3**into >= LeastTuned:
			c.read("--%s %s is read as %v, which is not likely meant; write %[2]skHz", name, text, *into)
		default:
			err = c.likely(name, text, *into, LeastTuned, MostTuned, "9.65MHz or 9650kHz")
		}
		return err
	})
}

// RateVar adds a flag that takes a sample rate, a bare number in Hz.
func (c *Console) RateVar(flags *pflag.FlagSet, into *survey.Hz, name, usage string) {
	flags.Func(name, usage, func(text string) (err error) {
		if *into, err = survey.ParseRate(text, 1); err == nil {
			err = c.likely(name, text, *into, LeastRate, MostRate, "2.4MHz or 2400kHz")
		}
		return err
	})
}

// likely refuses frequencies that are none, and notes how one without a unit was read. Beyond
// least and most somebody may have meant another unit, which the example shows.
func (c *Console) likely(name, text string, f, least, most survey.Hz, example string) error {
	switch {
	case f <= 0:
		return errors.New("must be above 0")
	case f < least || f > most:
		c.read("--%s %s is taken as %v, which is not likely meant: a bare number is in Hz; write %s for others", name, text, f, example)
	case !HasUnit(text):
		c.read("--%s %s is read as %v", name, text, f)
	}
	return nil
}

// HasUnit tells whether a frequency or a rate has a unit, or edges have one between them.
func HasUnit(text string) bool {
	text = strings.ToLower(text)
	return strings.Contains(text, "hz") || strings.Contains(text, "s/s") || strings.Contains(text, "sps")
}

// LengthVar adds a flag that takes a length of time.
func LengthVar(flags *pflag.FlagSet, into *time.Duration, name, usage string) {
	flags.Func(name, usage, func(text string) (err error) {
		*into, err = survey.ParseDuration(text)
		return err
	})
}

// Frequencies that receivers of the house's kind are tuned to, and rates at which they sample.
const (
	LeastTuned, MostTuned survey.Hz = 100e3, 2e9
	LeastRate, MostRate   survey.Hz = 1e3, 100e6
)

// UnitVar adds a flag that takes a number with its unit, which check may refuse. The error
// shows how to write the number that was given, or else the example.
func UnitVar[T ~float64](flags *pflag.FlagSet, into *T, name, unit, example, usage string, check func(T) error) {
	flags.Func(name, usage, func(text string) error {
		x, err := survey.ParseNumber(text, unit, example, false)
		if err != nil {
			return err
		}
		*into = T(x)
		return check(*into)
	})
}

// TimeForms are the ways of writing a time that every command knows.
const TimeForms = "RFC 3339, or local as \"2026-11-03 21:04\" or 21:04"

// TimeVar adds a flag that takes a time, as note --at does; one without a zone is said back.
func (c *Console) TimeVar(flags *pflag.FlagSet, into *time.Time, name, usage string) {
	flags.Func(name, usage, func(text string) error {
		at, err := logbook.ParseTime(text, time.Now())
		if err != nil {
			return err
		}
		if _, err := time.Parse(time.RFC3339, text); err != nil {
			c.read("--%s %s is read as %s", name, text, survey.LocalTime(at))
		}
		*into = at
		return nil
	})
}

// Until gives the time that --until of record and of a plan names: 06:30 is the next one that clocks show.
func Until(text string, now time.Time) (until time.Time, err error) {
	local := now.Local()
	clock := strings.TrimSpace(text)
	hour, err := time.Parse("15:04", clock)
	if err != nil {
		hour, err = time.Parse(time.TimeOnly, clock)
	}
	if err != nil {
		if until, err = logbook.ParseTime(text, local); err != nil {
			return until, Usagef("--until %w; 06:30 alone is the next time that clocks show that", err)
		}
		if !until.After(now) {
			return until, Usagef("--until %s lies behind; name a time ahead", survey.LocalTime(until))
		}
	}
	for day := local.Day(); !until.After(now); day++ {
		until = time.Date(local.Year(), local.Month(), day, hour.Hour(), hour.Minute(), hour.Second(), 0, time.Local)
	}
	return until, nil
}

// read notes how the value of a flag was read.
func (c *Console) read(format string, args ...any) {
	c.readings = append(c.readings, fmt.Sprintf(format, args...))
}

// sayReadings says what read noted.
func (c *Console) sayReadings() {
	for _, reading := range c.readings {
		c.Note("%s", reading)
	}
	c.readings = nil
}

// valueWords say what a flag takes, by the type of its value.
var valueWords = map[string]string{"bool": "true or false", "int": "a whole number", "int64": "a whole number", "uint64": "a whole number of 0 or more",
	"float64": "a number, as 12.5"}

// plainFlagError says in plain words what is wrong with a flag, and which one may have been meant.
func plainFlagError(cmd *cobra.Command, err error) error {
	var unknown *pflag.NotExistError
	var wrong *pflag.InvalidValueError
	switch {
	case errors.As(err, &unknown):
		name := unknown.GetSpecifiedName()
		if near := flagsNear(cmd, name); len(near) > 0 {
			return fmt.Errorf("unknown flag --%s; did you mean --%s?", name, strings.Join(near, " or --"))
		}
	case errors.As(err, &wrong):
		flag, why := wrong.GetFlag(), wrong.Unwrap()
		if words, ok := valueWords[flag.Value.Type()]; ok {
			why = fmt.Errorf("not %s", words)
			if errors.Is(wrong, strconv.ErrRange) {
				why = errors.New("the number is too large")
			}
		}
		return fmt.Errorf("--%s %s: %w", flag.Name, wrong.GetValue(), why)
	}
	return err
}

// flagsNear gives the flags that are spelt nearly so. The command library knows how near names of
// commands are, so they are asked for as commands.
func flagsNear(cmd *cobra.Command, name string) []string {
	names := &cobra.Command{SuggestionsMinimumDistance: NearName}
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		names.AddCommand(&cobra.Command{Use: f.Name, Run: func(*cobra.Command, []string) {}})
	})
	return names.SuggestionsFor(name)
}
