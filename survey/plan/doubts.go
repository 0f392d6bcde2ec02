package plan

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os/exec"
	"slices"
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
	mostByHand     = 100              // changes; chosen (TestChangesByHand)
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
	d.names()
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
	part, changing := p.Changing()
	d.when(changing && o.Rounds == 0 && length == 0, "[halves] has two values, and nothing says when half the time is over; add rounds or until in [turns]")
	d.when(changing && part.Key == survey.KeyFeedLines && p.feedLines() != 2,
		"feed lines are crossed: what of an advantage is the antennas' and what the lines' is told where there are two antennas; here are %d", p.feedLines())
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
	d.images()
	d.overload()
	d.steps()
	d.when(p.FrontEnd.Bias, "the bias tee is on: an antenna that shorts direct current, as most loops and baluns do, may destroy the dongle")
}

// segments doubts the segments that a check finds fault with: those with one fault in one line.
func (d *doubtList) segments(check func(survey.Segment) error) {
	var faults []string
	of := map[string][]string{}
	for _, s := range d.plan.Segments {
		if err := check(s); err != nil {
			fault := err.Error()
			if of[fault] == nil {
				faults = append(faults, fault)
			}
			of[fault] = append(of[fault], s.Name)
		}
	}
	for _, fault := range faults {
		d.add("%s: %s", strings.Join(of[fault], ", "), fault)
	}
}

// images doubts segments in which signals of other frequencies may stand.
func (d *doubtList) images() {
	fe := d.plan.FrontEnd
	d.segments(func(s survey.Segment) error {
		if err := fe.Images(s); err != nil {
			return fmt.Errorf("%w; readings are flagged %s", err, survey.FlagNyquistImage)
		}
		return nil
	})
	d.segments(func(s survey.Segment) error {
		switch high, low := s.High+fe.Offset, s.Low+fe.Offset; {
		case fe.FoldsFM(s) && fe.Filter == "":
			return errors.New("FM broadcasters fold in likewise, from 86.4 MHz + f and 115.2 MHz − f; a low-pass takes them off, too, a high-pass does not")
		case fe.FoldsFM(s):
			return errors.New("FM broadcasters of 86.4 MHz + f and 115.2 MHz − f come through the high-pass and fold in; a notch filter for FM takes them off")
		case fe.Way == survey.WayUp && high > survey.FMLowest && low < survey.FMHighest:
			return fmt.Errorf("an up-converter of %v puts it among FM broadcasters of %v to %v, which leak straight through; one of 120 or 125 MHz does not", fe.Offset, survey.FMLowest, survey.FMHighest)
		}
		return nil
	})
}

// mediumWaveEnd is the frequency up to which strong broadcasters of medium wave stand: 1.7 MHz
// in region 2 (PHYSICS.md 7.8).
const mediumWaveEnd survey.Hz = 1.7e6

// overload doubts a front end that hears all of medium wave beside what is measured. Built-in
// up-converters have a filter for it.
func (d *doubtList) overload() {
	fe := d.plan.FrontEnd
	open := (fe.Way == survey.WayUp || fe.Direct()) && fe.HighPass < mediumWaveEnd && fe.Filter != survey.FilterHighPass // that is of 14.4 MHz
	d.when(open && !slices.ContainsFunc(d.plan.Segments, func(s survey.Segment) bool { return s.Low < mediumWaveEnd }),
		"nothing keeps medium wave out, whose broadcasters may overload the receiver; put a high-pass before it, then say high_pass = \"2 MHz\"")
	d.segments(func(s survey.Segment) error {
		if fe.HighPass > s.Low {
			return fmt.Errorf("a high-pass of %v takes away what is to be measured; use a lower one, or leave it out", fe.HighPass)
		}
		return nil
	})
}

// steps doubts antennas without an amplifier in direct sampling, where no gain lifts what they
// give over the rounding to 8 bits: 1/12 of a squared code in I and in Q, over the sample rate
// (PHYSICS.md 7.2).
func (d *doubtList) steps() {
	const usualRate = 2.4e6 // samples a second, of a dongle unless the plan says another
	p := d.plan
	var passive []string
	for _, s := range p.Setups {
		a := p.Antenna(s.Antenna)
		if !a.HasAmplifier() && !a.Control() && !slices.Contains(passive, s.Antenna) {
			passive = append(passive, s.Antenna)
		}
	}
	rate := cmp.Or(p.SampleRate, usualRate)
	rounding := 10 * math.Log10(2*math.Pow(1.0/128, 2)/12/float64(rate))
	d.when(p.FrontEnd.Direct() && passive != nil, "%s: without an amplifier an antenna gives less than the rounding to 8 bits, −%.1f dBFS/Hz at %v, and direct sampling has no gain to set; add an amplifier, then say amplifier or active in [[antenna]]",
		strings.Join(passive, ", "), -rounding, rate)
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
