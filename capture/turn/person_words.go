package turn

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/jedib0t/go-pretty/v6/text"

	"nightfloor/survey"
)

const thunderCaution = "Thunder about? Touch no lead, turn nothing by hand; s leaves the visit out, ? shows the cautions."

// columns is the width of a narrow terminal, less one.
const columns = 79

var padding = regexp.MustCompile(` +\n`)

// fill breaks a paragraph into lines of a narrow terminal.
func fill(paragraph string) string {
	return padding.ReplaceAllString(text.WrapSoft(paragraph, columns)+"\n", "\n")
}

// question says for which setup what is to be done, and what may be answered.
func (p *Person) question(asked, from survey.Setup) string {
	other := ""
	switch {
	case !p.handTurned(asked):
	case p.Plan.Declination != nil:
		other = "type the true bearing it stands at if it is another; "
	default:
		other = "type the bearing it stands at if it is another; "
	}
	steps := asked.String() + ": " + strings.Join(append(p.steps(asked, from), "and press Enter."), ", ")
	return fill(steps) + fill("(Or "+other+"s to leave this visit out; ? for cautions.)")
}

// choices says what may be answered, to one who typed something else.
func (p *Person) choices(asked survey.Setup) string {
	if p.handTurned(asked) {
		return fill("That is no answer here. Press Enter, type a bearing from 0 to 360, s or ?.")
	}
	return fill("That is no answer here. Press Enter, or type s or ?.")
}

// steps gives what is to be done by hand to come from one setup to the asked one,
// nothing where that is in place; from no antenna, all of it.
func (p *Person) steps(asked, from survey.Setup) []string {
	antenna, place := withArticle(asked.Antenna), withArticle(asked.Placement)
	fresh := asked.Antenna != from.Antenna
	moved := fresh || asked.Placement != from.Placement
	var steps []string
	switch a := p.Plan.Antenna(asked.Antenna); {
	case fresh && a.AtReceiver():
		steps = append(steps, "Connect "+antenna+" at the receiver's input, in place of the feed line")
	case fresh && a.Kind == survey.KindReplaced:
		steps = append(steps, "Connect "+antenna+" in place of "+withArticle(a.Of)+"'s element in "+place+", its amplifier and feed line as they are")
	case fresh && a.Kind == survey.KindTerminator:
		steps = append(steps, "Connect "+antenna+" in the antenna's place at the far end of the feed line in "+place)
	case fresh:
		steps = append(steps, "Connect "+antenna+" in "+place)
	case moved:
		steps = append(steps, "Carry "+antenna+" to "+place)
	}
	switch turn := p.handTurned(asked) && (moved || asked.Bearing != from.Bearing); {
	case turn && moved:
		steps = append(steps, p.turning(asked, "turn its", "point it"))
	case turn:
		steps = append(steps, p.turning(asked, "Turn "+antenna+"'s", "Point "+antenna))
	}
	if a := p.Plan.Antenna(asked.Antenna); moved && a.TunedHigh > 0 {
		if p.peaked[asked.Antenna] == asked.Placement {
			steps = append(steps, "leave its tuning as it is")
		} else {
			steps = append(steps, "peak it for "+survey.Edges(a.TunedLow, a.TunedHigh, "–")+", then leave it")
		}
	}
	return steps
}

// turning says where to turn an antenna to, in the words of its kind: a bearing is
// that of a loop's plane, and of the way that others hear best.
func (p *Person) turning(asked survey.Setup, turnIts, pointIt string) string {
	to := asked.Bearing.String()
	if p.Plan.Declination != nil {
		to += " true, " + survey.BearingOf(math.Round(asked.Bearing.Deg-*p.Plan.Declination)).String() + " by the compass"
	}
	switch p.Plan.Antenna(asked.Antenna).Kind {
	case survey.KindLoop:
		return turnIts + " plane to " + to
	case survey.KindDipole:
		return pointIt + " (broadside) to " + to
	}
	return pointIt + " (where it hears best) to " + to
}

// handTurned tells whether a setup has a bearing that a person sets.
func (p *Person) handTurned(s survey.Setup) bool {
	return s.Bearing.Known && !p.Plan.Change.Rotator.Turns(s.Antenna)
}

// parseBearing reads degrees from 0 to 360, with ° or without.
func parseBearing(typed string) (survey.Bearing, bool) {
	digits := strings.TrimSpace(strings.TrimSuffix(typed, "°"))
	if strings.Trim(digits, "0123456789.") != "" {
		return survey.Bearing{}, false
	}
	deg, err := strconv.ParseFloat(digits, 64)
	if err != nil || deg > 360 {
		return survey.Bearing{}, false
	}
	return survey.BearingOf(deg), true
}

// elapsedText writes how much of a time is over: "2 of 10 min".
func elapsedText(part, whole time.Duration) string {
	part = part.Round(min(time.Second, whole/100))
	if part%time.Minute == 0 && whole%time.Minute == 0 {
		return fmt.Sprintf("%d of %d min", part/time.Minute, whole/time.Minute)
	}
	return durationText(part) + " of " + durationText(whole)
}

var zeroes = regexp.MustCompile(`([hm])(0[ms])+$`)

// durationText writes a duration without zeroes at its end: 10m, 1h.
func durationText(d time.Duration) string { return zeroes.ReplaceAllString(d.String(), "$1") }

// withArticle puts the article before a name that has none.
func withArticle(name string) string {
	if strings.HasPrefix(strings.ToLower(name), "the ") {
		return printable(name)
	}
	return "the " + printable(name)
}

// printable makes a name safe to print: one that a terminal would obey is quoted and escaped.
func printable(name string) string {
	if survey.Printable(name) {
		return name
	}
	return strconv.Quote(name)
}
