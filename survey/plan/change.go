package plan

import (
	"errors"
	"fmt"
	"math"
	"net"
	"slices"
	"time"

	"nightfloor/survey"
)

// A Change is how antennas are changed.
type Change struct {
	By      string        // ByNone, ByCommand, ByPerson; "" where the plan does not say
	Command []string      // program and arguments
	Confirm []string      // a program that tells what is in place; nil: the command's word is taken
	TimeOut time.Duration // of a program
	// A person is reminded this often, and no longer waited for after Patience.
	Remind, Patience time.Duration
	Rotator          *Rotator // nil: none
}

// A Rotator turns antennas by way of Hamlib's rotctld. Angles are in degrees.
type Rotator struct {
	Address   string   // HOST:PORT of rotctld
	Antennas  []string // that it turns
	Low, High float64  // azimuths that it may be sent to: the feed line's reach
	Zero      float64  // the bearing where it stands at azimuth 0, from true north
	Tolerance float64  // by how much an arrival may miss and counts as the asked bearing
	TimeOut   time.Duration
}

// Turns tells whether the rotator turns an antenna; none turns nothing.
func (r *Rotator) Turns(antenna string) bool {
	return r != nil && slices.Contains(r.Antennas, antenna)
}

// HalfTurn gives what tells whether half a turn serves all bearings of an antenna that the plan asks
// for: the antenna cannot tell a direction from its opposite, and no bearing is asked for
// together with its opposite, as is done to find out whether it really cannot.
func (p Plan) HalfTurn() func(antenna string) bool {
	asked := map[string]bool{}
	for _, o := range p.opposites() {
		asked[o[0].Antenna] = true
	}
	return func(antenna string) bool { return p.Antenna(antenna).Bidirectional() && !asked[antenna] }
}

// opposites gives the setups of which the plan has the opposite, too, each pair once.
func (p Plan) opposites() (pairs [][2]survey.Setup) {
	before := map[survey.Setup]bool{}
	for _, s := range p.Setups {
		opposite := s
		opposite.Bearing = s.Bearing.Opposite()
		if s.Bearing.Known && before[opposite] {
			pairs = append(pairs, [2]survey.Setup{opposite, s})
		}
		before[s] = true
	}
	return pairs
}

// Ways of changing antennas.
const (
	ByNone    = "none" // one setup, which stays, save for a rotator
	ByCommand = "command"
	ByPerson  = "person"
)

// Defaults of [change] and [rotator]. Common rotators take a minute a turn.
const (
	defaultTimeOut   = 10 * time.Second
	defaultRemind    = time.Minute
	defaultPatience  = 10 * time.Minute
	defaultTurning   = 2 * time.Minute
	defaultTolerance = 3.0
)

func (p *Plan) readChange(file *document, found *mistakes) {
	c := file.Change
	p.Change = Change{By: c.By, Command: c.Command, Confirm: c.Confirm, TimeOut: defaultTimeOut, Remind: defaultRemind, Patience: defaultPatience}
	p.readRotator(file, found)
	switch setups := p.SwitchedSetups(); {
	case c.By != "" && !slices.Contains([]string{ByNone, ByCommand, ByPerson}, c.By):
		found.add("change.by", fmt.Errorf("%q is not known; choose %q, who is asked, %q with a program of yours that switches, or %q", c.By, ByPerson, ByCommand, ByNone))
	case c.By == ByNone && setups > 1:
		found.add("change.by", fmt.Errorf("nothing changes antennas, and there are %d setups; keep one, or name a person or a command", setups))
	case c.By == ByCommand && len(c.Command) == 0:
		found.add("change.by", errors.New("no command; add command = [\"/path/to/program\", \"its\", \"arguments\"]"))
	case c.By != ByCommand && len(c.Command) > 0:
		found.add("change.command", errors.New("add by = \"command\" for it to be used"))
	case c.By != ByCommand && len(c.Confirm) > 0:
		found.add("change.confirm", errors.New("it confirms what a command did; add by = \"command\", or leave it out"))
	case c.By != ByPerson && c.Remind+c.Patience != "":
		found.add("change", errors.New("remind and patience are for a person; add by = \"person\", or leave them out"))
	}
	value(found, "change.time_out", c.TimeOut, duration, &p.Change.TimeOut)
	value(found, "change.remind", c.Remind, duration, &p.Change.Remind)
	value(found, "change.patience", c.Patience, duration, &p.Change.Patience)
}

func (p *Plan) readRotator(file *document, found *mistakes) {
	f := file.Rotator
	if f == nil {
		return
	}
	r := &Rotator{Address: f.Address, Antennas: f.Antennas, High: 360, Zero: f.Zero, Tolerance: defaultTolerance, TimeOut: defaultTurning}
	p.Change.Rotator = r
	host, port, err := net.SplitHostPort(f.Address)
	found.when(err != nil || host == "" || port == "", "rotator.address", "%q is no address of rotctld; write it as 127.0.0.1:4533", f.Address)
	found.when(len(r.Antennas) == 0, "rotator", "no antennas; name those that it turns, as antennas = [\"loop\"]")
	used := file.antennas()
	for _, a := range r.Antennas {
		found.when(!used[a], "rotator.antennas", "no setup uses %s%s", a, didYouMean(a, used))
	}
	if len(f.Range) == 2 && f.Range[0] >= -360 && f.Range[1] > f.Range[0] && f.Range[1] <= 540 {
		r.Low, r.High = f.Range[0], f.Range[1]
	} else if f.Range != nil {
		found.add("rotator.range", fmt.Errorf("%v: give the two azimuths between which it may turn, as [0, 360], [-180, 180] or [0, 450]", f.Range))
	}
	found.when(!(math.Abs(r.Zero) < 360), "rotator.zero", "%v: give the bearing, 0 to 360, where the rotator stands at 0", f.Zero)
	if f.Tolerance != nil {
		r.Tolerance = *f.Tolerance
		found.when(!(r.Tolerance > 0 && r.Tolerance <= 30), "rotator.tolerance", "%v is not above 0 and up to 30 degrees", r.Tolerance)
	}
	value(found, "rotator.time_out", f.TimeOut, duration, &r.TimeOut)
}
