package plan

import (
	"fmt"
	"math"
	"strings"
	"time"

	"nightfloor/survey"
)

// bytesOfReading is how many bytes a reading takes on the disk, with its spectrum and some ten
// carriers. Measured: a recorded night of 28,800 readings takes 132 MB.
const bytesOfReading = 4600

// How long changes are assumed to take, all included: the relay of an antenna that is switched,
// the samples that are thrown away after a new tuning or gain.
const (
	changingAntenna  = time.Second
	changingByPerson = 30 * time.Second // who walks to it, and presses Enter
	turningAntenna   = 15 * time.Second // 90° by a rotator of 6° a second; many are slower
	retuning         = 50 * time.Millisecond
)

// LeastRounds is how many rounds an interval needs; under it there is none.
const LeastRounds = 6

// An Outlook is what a plan will hold.
type Outlook struct {
	Sweep, Visit, Round time.Duration
	Busy                time.Duration // of a visit, without a wait for the next
	Rounds              int           // 0: without end
	Total               time.Duration // 0: without end
	Sweeps, Readings    int
	PerSetup            time.Duration // of readings, in each segment
	Bytes               int64
	Scatter             survey.DB // of the difference of one carrier in one round, one sigma
	Needed              int       // rounds for ±1 dB on one carrier
	NeededOnEight       int       // on eight carriers that fade apart
}

// Outlook reckons what the plan will hold, with so many tunings in a sweep. It
// ends after length where that is sooner than its rounds; 0: no such end.
func (p Plan) Outlook(tunings int, length time.Duration) Outlook {
	o := Outlook{Sweep: time.Duration(tunings) * (p.Dwell + retuning)}
	changing := changingAntenna
	if p.Change.By == ByPerson {
		changing = changingByPerson
	}
	if r := p.Change.Rotator; r != nil {
		turned := 0
		for _, s := range p.Setups {
			if s.Bearing.Known && r.Turns(s.Antenna) {
				turned++
			}
		}
		changing += turningAntenna * time.Duration(turned) / time.Duration(max(1, len(p.Setups))) // on average
	}
	o.Busy = changing + time.Duration(p.Sweeps)*o.Sweep
	o.Visit = max(o.Busy, p.Every)
	o.Round = time.Duration(len(p.Setups)*p.VisitsPerRound()) * o.Visit
	o.Rounds = p.Rounds
	if length > 0 {
		if fit := int(length / o.Round); o.Rounds == 0 || fit < o.Rounds {
			o.Rounds = fit
		}
	}
	o.Total = time.Duration(o.Rounds) * o.Round
	each := o.Rounds * p.Sweeps * p.VisitsPerRound() // sweeps of a setup
	o.Sweeps = each * len(p.Setups)
	o.Readings = each * p.readingsInRound()
	o.PerSetup = time.Duration(each) * p.Dwell
	o.Bytes = int64(o.Readings) * bytesOfReading
	o.Scatter = fadingScatter(p.Sweeps*p.VisitsPerRound(), p.Dwell, o.Sweep)
	o.Needed = max(LeastRounds, pairsFor(1, o.Scatter))
	o.NeededOnEight = max(LeastRounds, pairsFor(1, o.Scatter/survey.DB(math.Sqrt(8))))
	return o
}

// readingsInRound gives how many readings a sweep through every setup has in all.
func (p Plan) readingsInRound() (n int) {
	leftOut := map[string]int{} // segments, by antenna
	for _, a := range p.Antennas {
		for _, g := range p.Segments {
			if !a.Measures(g) {
				leftOut[a.Name]++
			}
		}
	}
	for _, s := range p.Setups {
		n += len(p.Segments) - leftOut[s.Antenna]
	}
	return n
}

// fadingScatter gives the scatter of the difference between two antennas whose
// fading is independent, such as a loop's and a whip's, in one round: 7.9 dB for
// snapshots, less by the root of the fades that a visit holds (PHYSICS.md 9.2),
// at a Doppler spread of 0.5 Hz.
func fadingScatter(sweeps int, dwell, sweep time.Duration) survey.DB {
	const spread = 0.5 // Hz
	apart := float64(sweeps) * max(1, dwell.Seconds()*spread)
	inAll := max(1, float64(sweeps)*sweep.Seconds()*spread)
	return survey.DB(7.9 / math.Sqrt(min(apart, inAll)))
}

// pairsFor gives how many independent pairs make the 95 % interval ±h wide where
// one scatters by s: (1.96·s/h)², and two for Student's t (PHYSICS.md 9.3).
func pairsFor(h, s survey.DB) int {
	return int(math.Ceil(math.Pow(1.96*float64(s/h), 2))) + 2
}

// Describe says in words what the plan will hold, with so many tunings in a sweep,
// and what speaks against it.
func (p Plan) Describe(o Outlook, tunings int, length time.Duration, doubts []string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s, %s in %s, readings of %v\n", survey.Count(len(p.Setups), "setup"), survey.Count(len(p.Segments), "segment"), survey.Count(tunings, "tuning"), p.Dwell)
	fmt.Fprintf(&b, "a sweep takes %s, a visit %s, a round %s\n", DurationText(o.Sweep), DurationText(o.Visit), DurationText(o.Round))
	switch {
	case o.Rounds == 0 && length > 0: // one of the doubts
	case o.Rounds == 0:
		b.WriteString("it goes on until it is stopped\n")
	default:
		fmt.Fprintf(&b, "%s in %s: %s, %s, %s of listening for each setup and segment, %.0f MB\n",
			survey.Count(o.Rounds, "round"), DurationText(o.Total), survey.Count(o.Sweeps, "sweep"), survey.Count(o.Readings, "reading"), DurationText(o.PerSetup), float64(o.Bytes)/1e6)
	}
	for _, g := range p.Segments {
		if n := len(p.Listed[g.Name]); n > 0 {
			fmt.Fprintf(&b, "%s is ranked by its %s, measured in every reading\n", g.Name, survey.Count(n, "listed line"))
		}
	}
	if p.Change.By == ByPerson && len(p.Setups) > 1 {
		b.WriteString("half a minute is reckoned for each change by hand\n")
	}
	if part, ok := p.Changing(); ok && o.Rounds > 0 {
		fmt.Fprintf(&b, "after round %d of %d, at half time, %s go from %s to %s\n", (o.Rounds+1)/2, o.Rounds, part.Name, part.Of(p.Halves[0]), part.Of(p.Halves[1]))
	}
	if len(p.Setups) > 1 {
		fmt.Fprintf(&b, "two antennas that fade apart differ by %.1f dB from round to round on one carrier: ±1 dB takes %d rounds, "+
			"on eight carriers that fade apart some %d (Doppler spread of 0.5 Hz; fading that lasts takes more)\n", o.Scatter, o.Needed, o.NeededOnEight)
	}
	for _, doubt := range doubts {
		fmt.Fprintf(&b, "! %s\n", doubt)
	}
	return b.String()
}

// DurationText writes a duration as a person does: 41.0 s, 3.5 min, 8.2 h.
func DurationText(d time.Duration) string {
	switch {
	case d < time.Minute:
		return fmt.Sprintf("%.1f s", d.Seconds())
	case d < time.Hour:
		return fmt.Sprintf("%.1f min", d.Minutes())
	}
	return fmt.Sprintf("%.1f h", d.Hours())
}
