package plan

import (
	"errors"
	"fmt"
	"io/fs"
	"os/exec"
	"strings"
	"time"

	"nightfloor/survey"
)

// Bounds beyond which a plan is asked about.
const (
	leastListening = 30 * time.Second // of a visit, which averages fading (PHYSICS.md 9.2)
	goodRounds     = 12               // TestFewRounds
	losslessRate   = 2.56e6           // samples a second; above it dongles lose some (PHYSICS.md 7.1)
	mostDB         = 60               // of a cable's loss or an amplifier's gain
	mostByHand     = 100              // changes
)

// A doubtList gathers what speaks against a plan that has no mistake.
type doubtList struct {
	plan    Plan
	outlook Outlook
	found   []string
}

func (d *doubtList) add(format string, args ...any) {
	switch len(d.found) {
	case mostNamed + 1:
	case mostNamed:
		d.found = append(d.found, "and more of these; mend them first")
	default:
		d.found = append(d.found, shortened(fmt.Sprintf(format, args...)))
	}
}

func (d *doubtList) when(doubtful bool, format string, args ...any) {
	if doubtful {
		d.add(format, args...)
	}
}

// Doubts gives what speaks against a plan that has no mistake, a line each. It ends
// after length; 0: no such end.
func (p Plan) Doubts(o Outlook, length time.Duration) []string {
	d := doubtList{plan: p, outlook: o}
	d.experiment()
	d.time(length)
	d.receiver()
	d.changes()
	d.antennas()
	d.when(p.Site.Locator == "", "no locator: day, dusk, night and dawn are not told apart")
	return d.found
}

// time doubts visits and rounds.
func (d *doubtList) time(length time.Duration) {
	p, o := d.plan, d.outlook
	switch {
	case o.Rounds == 0 && length > 0:
		d.add("until %s there is no time for a single round of %s; begin earlier, end later, or shorten the visits by fewer sweeps", p.Until, DurationText(o.Round))
	case len(p.Setups) > 1 && o.Rounds > 0 && o.Rounds < goodRounds:
		d.add("%s: under %d there is no interval at all, under %d a poor one; shorten the visits or record longer", survey.Count(o.Rounds, "round"), LeastRounds, goodRounds)
	}
	if listened := time.Duration(p.Sweeps) * o.Sweep; listened < leastListening && len(p.Setups) > 1 {
		d.add("a visit listens for %s only: half a minute or more averages fading; raise sweeps to %d", DurationText(listened), int((leastListening-1)/o.Sweep)+1)
	}
	d.when(p.Every > 0 && p.Every < o.Busy,
		"every = %q, and a visit takes %s: each begins late; give more, lower sweeps, or leave every out", p.Every, DurationText(o.Busy))
	turns := o.Rounds * len(p.Setups) * p.VisitsPerRound()
	d.when(p.Change.By == ByPerson && turns > mostByHand,
		"a person is asked up to %d times; raise sweeps for fewer and longer visits, lower rounds, or let a command switch", turns)
}

// receiver doubts what a dongle is told.
func (d *doubtList) receiver() {
	p := d.plan
	d.when(p.Receiver == "", "no receiver: add uri = \"rtlsdr:\" in [receiver], or name one with --receiver when you record")
	d.when(p.SampleRate > losslessRate && (p.Receiver == "" || p.dongle()),
		"a sample rate of %v: above 2.56 MHz dongles lose samples; 2.4 MHz is free of losses", p.SampleRate)
	var taken []string
	for _, s := range p.Segments {
		side, cut := survey.FilterLowPass, survey.FilterHighPass
		if s.Low > 14.4e6 {
			side, cut = cut, side
		}
		switch {
		case p.FrontEnd.Direct() && p.FrontEnd.Filter == cut && (s.High <= 14.4e6 || s.Low >= 14.4e6):
			taken = append(taken, s.Name)
		case p.FrontEnd.Ambiguous(s):
			d.add("segment %s: direct sampling hears its mirror about 14.4 MHz on top of it; a %s of 14.4 MHz settles it (then say filter = %q); readings are flagged %s", s.Name, side, side, survey.FlagNyquistImage)
		}
	}
	d.when(taken != nil, "a %s of 14.4 MHz takes away what is to be measured in %s; use the other filter, or leave these segments out", p.FrontEnd.Filter, strings.Join(taken, ", "))
	d.when(p.FrontEnd.Bias, "the bias tee is on: an antenna that shorts direct current, as most loops and baluns do, may destroy the dongle")
}

// changes doubts how antennas are changed.
func (d *doubtList) changes() {
	p := d.plan
	d.when(p.dongle() && p.SwitchedSetups() > 1 && p.Change.By == "", "it does not say how antennas are changed; add [change], or record refuses it")
	for _, program := range []struct {
		key  string
		argv []string
	}{{"command", p.Change.Command}, {"confirm", p.Change.Confirm}} {
		if len(program.argv) == 0 {
			continue
		}
		name := program.argv[0]
		switch _, err := exec.LookPath(name); {
		case err == nil:
		case errors.Is(err, fs.ErrNotExist), errors.Is(err, exec.ErrNotFound):
			d.add("change.%s: there is no program %s on this machine; put it there, or mend its path", program.key, name)
		default:
			d.add("change.%s: the program %s cannot be run (%v); make it one that may be, as with chmod +x", program.key, name, errors.Unwrap(err))
		}
	}
	if r := p.Change.Rotator; r != nil {
		for _, name := range r.Antennas {
			d.when(p.Antenna(name).Kind == "", "the rotator turns %s, of which no kind is said: kind = \"loop\" in [[antenna]] lets half a turn do", name)
		}
	}
}

// antennas doubts what is said of antennas and their bearings.
func (d *doubtList) antennas() {
	p := d.plan
	kinds := map[string]survey.Antenna{}
	for _, a := range p.Antennas {
		kinds[a.Name] = a
		for _, s := range p.Segments {
			d.when(!a.Measures(s), "segment %s is left out for %s, which is tuned to %v to %v: there it is compared with nothing", s.Name, a.Name, a.TunedLow, a.TunedHigh)
		}
		d.when(a.Amplifier > mostDB, "an amplifier of %.0f dB at %s: more than antennas have; is it the gain, in dB?", float64(a.Amplifier), a.Name)
		d.when(a.CableLoss > mostDB, "a cable loss of %.0f dB at %s: next to nothing comes through; is it the loss, in dB?", float64(a.CableLoss), a.Name)
	}
	for _, o := range p.opposites() {
		antenna := kinds[o[0].Antenna]
		d.when(antenna.Bidirectional(),
			"%v and %v: an ideal %s hears both alike; leave one out, unless you look for its antenna effect, by which they differ", o[0], o[1], antenna.Kind)
		d.when(antenna.Kind == "", "%v and %v: opposite bearings of a loop or a dipole are one setup twice; leave one out, or say in [[antenna]] what kind %s is", o[0], o[1], o[0].Antenna)
	}
}

// SwitchedSetups counts the setups that something else than the rotator must tell
// apart.
func (p Plan) SwitchedSetups() int {
	different := map[survey.Setup]bool{}
	for _, s := range p.Setups {
		if p.Change.Rotator.Turns(s.Antenna) {
			s.Bearing = survey.Bearing{}
		}
		different[s] = true
	}
	return len(different)
}
