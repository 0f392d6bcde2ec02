// Package trials shows what came of a plan's setups that were tried once: a table with a row a setup, and below
// it what is wrong, or in doubt, and what to do. Levels are in dBFS/Hz, gains and margins in dB.
package trials

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"nightfloor/capture"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/reports/input"
	"nightfloor/reports/text"
	"nightfloor/reports/wording"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// Write prints a row for each setup that was tried, and below remarks on the first so many of them. It says
// whether there are any. own may flag readings as the receiver's own noise.
func Write(c *console.Console, p plan.Plan, info capture.Info, trials []capture.Trial, remarkOn int, own OwnNoise) (remarked bool, err error) {
	margins := make([][]survey.DB, len(trials))
	for i, t := range trials {
		margins[i] = own.margins(p, t)
	}
	remarks := remarksOn(p, trials[:remarkOn], info)
	err = writeTable(c, p, info, trials, margins, remarks)
	return len(remarks) > 0, err
}

func writeTable(c *console.Console, p plan.Plan, info capture.Info, trials []capture.Trial, margins [][]survey.DB, remarks []remark) error {
	b := text.Sheet{Width: c.Width()}
	if info.Simulated {
		b.Wrap(text.SimulatedNote, "", "")
		b.WriteString("\n")
	}
	heading := []string{"setup", "in place", "drive", "gain, dB", "carriers"}
	known := slices.ContainsFunc(margins, func(m []survey.DB) bool { return len(m) > 0 })
	if known {
		heading = append(heading, "margin")
	}
	for _, s := range p.Segments {
		heading = append(heading, wording.Printable(s.Name))
	}
	t := text.NewTable(1, heading...)
	for i, trial := range trials {
		cells := []any{trial.Asked.Short(wording.SetupRoom), inPlaceText(trial), driveText(trial.Readings), gainText(info, trial.Readings), carriersText(trial.Readings)}
		if known {
			cells = append(cells, marginText(margins[i]))
		}
		for _, s := range p.Segments {
			cells = append(cells, floorText(s, trial.Readings))
		}
		t.Row(cells...)
	}
	b.Table(t)
	b.WriteString("\n")
	legend := "Under each segment stands its floor in dBFS/Hz."
	if known {
		legend += " Margin: how far the floor stands over the receiver's own noise in the worst segment, dB."
	}
	b.Wrap(legend+" Nothing was stored.", "", "")
	if len(remarks) > 0 {
		b.WriteString("\n")
	}
	for _, r := range remarks {
		b.Wrap(FirstOf(r.about)+": "+r.text, "", "  ")
	}
	_, err := fmt.Fprint(c.Out, b.String())
	return err
}

// inPlaceText says whether a setup is in place, and where it was seen to point.
func inPlaceText(t capture.Trial) string {
	switch is := t.Reached; {
	case is.Setup == survey.Setup{}:
		return "no"
	case is.Setup != t.Asked:
		return "no: " + is.Setup.Short(wording.SetupRoom)
	case strings.HasPrefix(is.Said, survey.SaidUnconfirmed):
		return survey.SaidUnconfirmed
	case is.Bearing.Known:
		return "yes, " + is.Bearing.String()
	}
	return "yes"
}

// driveText says how the converter is driven in the worst segment.
func driveText(readings []survey.Reading) string {
	switch flags := flagsOf(readings); {
	case len(readings) == 0:
		return wording.None
	case slices.Contains(flags, survey.FlagOverload):
		return "overload"
	case slices.Contains(flags, survey.FlagLowDrive):
		return "low"
	}
	return "good"
}

// gainText gives the gains, from the least to the most.
func gainText(info capture.Info, readings []survey.Reading) string {
	if len(info.Gains) == 0 || len(readings) == 0 {
		return wording.None
	}
	least, most := readings[0].Gain.DB, readings[0].Gain.DB
	for _, r := range readings {
		least, most = min(least, r.Gain.DB), max(most, r.Gain.DB)
	}
	if least == most {
		return wording.Figure(&least, 1)
	}
	return wording.Figure(&least, 1) + " … " + wording.Figure(&most, 1)
}

// carriersText gives how many carriers were heard.
func carriersText(readings []survey.Reading) string {
	if len(readings) == 0 {
		return wording.None
	}
	return strconv.Itoa(carriersOf(readings))
}

func marginText(margins []survey.DB) string {
	if len(margins) == 0 {
		return wording.None
	}
	least := slices.Min(margins)
	return wording.Figure(&least, 1)
}

func floorText(s survey.Segment, readings []survey.Reading) string {
	for _, r := range readings {
		if r.Segment == s && r.Floor != nil {
			return wording.Figure(&r.Floor.Density, 1)
		}
	}
	return wording.None
}

// A remark is what is said of some setups, or of some segments through them.
type remark struct {
	about []string
	text  string
}

// remarksOn says of each setup what is wrong with it and what to do, the same of several at once.
func remarksOn(p plan.Plan, trials []capture.Trial, info capture.Info) (remarks []remark) {
	say := func(about, text string) {
		at := slices.IndexFunc(remarks, func(r remark) bool { return r.text == text })
		if at < 0 {
			at, remarks = len(remarks), append(remarks, remark{text: text})
		}
		remarks[at].about = append(remarks[at].about, about)
	}
	for i, t := range trials {
		name := t.Asked.String()
		switch {
		case t.Err != nil:
			say(name, wording.Printable(t.Err.Error()))
		case t.Reached.Setup != t.Asked:
			say(name, fmt.Sprintf("%v is in place instead (%s); see what holds the change up, or take the setup out of the plan", t.Reached.Setup, wording.Printable(t.Reached.Said)))
		case len(t.Readings) == 0:
			say(name, "no segment of the plan lies where the antenna is tuned; add one, or take the setup out")
		case !t.Heard():
			say(name, wording.Printable(t.Reached.Said)+"; be there when it is tried, and press Enter once it is in place")
		case carriersOf(t.Readings) == 0 && !Deaf(p, t) && !input.AntennaOf(p, t.Asked).Control():
			say(name, "no carrier is heard in any segment"+map[bool]string{true: ", at the highest gain"}[atTop(info, t.Readings)]+"; is the antenna connected?")
		}
		for _, other := range trials[:i] {
			if carriersOf(t.Readings) > 0 && sameAntenna(p, other, t) {
				say(other.Asked.String()+" and "+name, sameText(p, atTop(info, t.Readings)))
			}
		}
		for _, flag := range flagsOf(t.Readings) {
			var on []string
			for _, r := range t.Readings {
				if r.Quality.Has(flag) {
					on = append(on, wording.Printable(r.Segment.Name))
				}
			}
			say(name+" on "+wording.List(on), flagAdvice(flag, info))
		}
	}
	return remarks
}

// sameText says of two setups that one antenna is heard through both.
func sameText(p plan.Plan, atTop bool) string {
	text := "floors and carriers are the same through both; "
	if atTop {
		text = "floors and carriers are the same through both, at the highest gain; is an antenna connected, and "
	}
	if p.Change.By == plan.ByPerson {
		return text + "was the antenna changed?"
	}
	return text + "does the relay switch? Run the command by hand and listen for it"
}

// flagsOf gives the flags that are raised on any reading.
func flagsOf(readings []survey.Reading) (flags []string) {
	for _, r := range readings {
		flags = append(flags, r.Quality.Flags...)
	}
	slices.Sort(flags)
	return slices.Compact(flags)
}

// flagAdvice says what a flag means for a survey, and what to do.
func flagAdvice(flag string, info capture.Info) string {
	gain := "an attenuator between antenna and receiver helps; the receiver has no gain that could be lowered"
	if len(info.Gains) > 0 {
		gain = "record lowers the gain by itself after a visit; where the plan fixes it, lower it there"
	}
	switch flag {
	case survey.FlagOverload:
		return flag + ": signals are too strong for the converter; " + gain
	case survey.FlagLowDrive:
		if info.Tuner == survey.WayDirectI || info.Tuner == survey.WayDirectQ {
			return flag + ": next to nothing arrives; a plain dongle hears nothing in " + info.Tuner + " without a tap at that input of its chip: add one, take the other input, or another front_end"
		}
		return flag + ": so little arrives that levels are coarse; see whether the antenna is connected and its amplifier powered"
	case survey.FlagReceiverLimited:
		return fmt.Sprintf("%s: the floor stands less than %g dB over the receiver's own noise, as calibrated; see whether the antenna is connected and its amplifier powered: if so, its noise is known as an upper bound only", flag, input.LimitedMargin)
	case survey.FlagCrowded:
		return flag + ": too little is free of signals to tell the floor; choose a wider segment, or another"
	case survey.FlagFilterEdge:
		return flag + ": the receiver's own filter leaves a part of the segment out; choose a narrower segment, or another sample rate"
	case survey.FlagNyquistImage:
		return flag + ": signals of another part of the spectrum may be folded in; a filter, named in the plan, keeps them out"
	case survey.FlagDroppedSamples:
		return flag + ": samples were lost on the way; give the computer less to do, or the dongle a port of its own"
	}
	return flag
}

// mostNamed is how many setups an error or a remark names.
const mostNamed = 3

// FirstOf lists the first names, and says how many more there are.
func FirstOf(names []string) string {
	if more := len(names) - mostNamed; more > 0 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:mostNamed], ", "), more)
	}
	return strings.Join(names, ", ")
}
