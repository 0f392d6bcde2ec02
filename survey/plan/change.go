package plan

import (
	"errors"
	"fmt"
	"net"
	"slices"
	"strings"
	"time"
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

// HalfTurn tells whether half a turn serves all bearings of an antenna that the plan asks
// for: the antenna cannot tell a direction from its opposite, and no bearing is asked for
// together with its opposite, as is done to find out whether it really cannot.
func (p Plan) HalfTurn(antenna string) bool {
	if !p.Antenna(antenna).Bidirectional() {
		return false
	}
	for _, s := range p.Setups {
		opposite := s
		opposite.Bearing = s.Bearing.Opposite()
		if s.Antenna == antenna && s.Bearing.Known && slices.Contains(p.Setups, opposite) {
			return false
		}
	}
	return true
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
	by := map[[2]string]bool{} // antenna and placement: what a switch chooses
	setups := 0
	for _, s := range file.Setups {
		bearings := max(1, len(s.Bearings)+len(s.Magnetic))
		if p.Change.Rotator.Turns(s.Antenna) {
			bearings = 1
		}
		by[[2]string{s.Antenna, s.Placement}] = true
		setups += bearings
	}
	switch {
	case c.By != "" && !slices.Contains([]string{ByNone, ByCommand, ByPerson}, c.By):
		found.add("change.by", fmt.Errorf("%q is not known; choose %q, who is asked, %q with a program of yours that switches, or %q", c.By, ByPerson, ByCommand, ByNone))
	case c.By == ByNone && (setups > 1 || len(by) > 1):
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
	found.duration("change.time_out", c.TimeOut, &p.Change.TimeOut)
	found.duration("change.remind", c.Remind, &p.Change.Remind)
	found.duration("change.patience", c.Patience, &p.Change.Patience)
}

// duration reads a length of time above 0, where one is given.
func (m *mistakes) duration(key, text string, into *time.Duration) {
	if text == "" {
		return
	}
	d, err := time.ParseDuration(strings.ReplaceAll(text, " ", ""))
	if err == nil && d <= 0 {
		err = errors.New("must be longer than nothing")
	}
	if err != nil {
		m.add(key, fmt.Errorf("%q: %w; write it as 500ms, 0.5s or 10m", text, err))
		return
	}
	*into = d
}

func (p *Plan) readRotator(file *document, found *mistakes) {
	f := file.Rotator
	if f == nil {
		return
	}
	r := &Rotator{Address: f.Address, Antennas: f.Antennas, High: 360, Zero: f.Zero, Tolerance: defaultTolerance, TimeOut: defaultTurning}
	p.Change.Rotator = r
	if host, port, err := net.SplitHostPort(f.Address); err != nil || host == "" || port == "" {
		found.add("rotator.address", fmt.Errorf("%q is no address of rotctld; write it as 127.0.0.1:4533", f.Address))
	}
	if len(r.Antennas) == 0 {
		found.add("rotator", errors.New("no antennas; name those that it turns, as antennas = [\"loop\"]"))
	}
	for _, a := range r.Antennas {
		if !slices.ContainsFunc(file.Setups, func(s setupTable) bool { return s.Antenna == a }) {
			found.add("rotator.antennas", fmt.Errorf("no setup uses %s", a))
		}
	}
	if f.Range != nil {
		if len(f.Range) != 2 || !(f.Range[0] >= -360 && f.Range[1] > f.Range[0] && f.Range[1] <= 540) {
			found.add("rotator.range", fmt.Errorf("%v: give the two azimuths between which it may turn, as [0, 360], [-180, 180] or [0, 450]", f.Range))
		} else {
			r.Low, r.High = f.Range[0], f.Range[1]
		}
	}
	if !(r.Zero > -360 && r.Zero < 360) {
		found.add("rotator.zero", fmt.Errorf("%v: give the bearing, 0 to 360, where the rotator stands at 0", f.Zero))
	}
	if f.Tolerance != nil {
		if r.Tolerance = *f.Tolerance; !(r.Tolerance > 0 && r.Tolerance <= 30) {
			found.add("rotator.tolerance", fmt.Errorf("%v is not above 0 and up to 30 degrees", r.Tolerance))
		}
	}
	found.duration("rotator.time_out", f.TimeOut, &r.TimeOut)
}
