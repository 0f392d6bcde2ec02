package reports

import (
	"math/rand/v2"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// A tide is a survey's floors made directly: six segments, some setups, two readings a visit, of
// which all is known.
type tide struct {
	seed    uint64
	start   time.Time
	rounds  int
	round   time.Duration
	setups  []survey.Setup
	locator string
	gain    func(setup, round int) survey.Gain
	// level is the true floor, dB over tideFloor, at hours after the start.
	level func(setup, segment int, hours float64) float64
	// The floor of all segments scatters and wanders alike from reading to reading and from
	// round to round, and each by itself.
	common, own, wander float64 // standard deviations, dB
	strays              float64 // share of readings that are up to 15 dB off
	mark                func(r *survey.Reading, setup, segment int, hours float64)
	events              []survey.Event
}

const tideFloor = -130.0 // dBFS/Hz, at a gain of 0 dB

var tideSegments = []survey.Segment{{Name: "80 m", Low: 3.5e6, High: 3.8e6}, {Name: "60 m", Low: 4.7e6, High: 5.1e6}, {Name: "49 m", Low: 5.9e6, High: 6.2e6},
	{Name: "41 m", Low: 7.2e6, High: 7.5e6}, {Name: "31 m", Low: 9.4e6, High: 9.9e6}, {Name: "25 m", Low: 11.6e6, High: 12.1e6}}

func newTide(seed uint64, level func(setup, segment int, hours float64) float64) tide {
	// In JN58 the sun sets at 15:50 UTC on 3 November and rises at 6:05.
	return tide{seed: seed, start: time.Date(2026, 11, 3, 9, 0, 0, 0, time.UTC), rounds: 160, round: 6 * time.Minute, locator: "JN58td",
		setups: []survey.Setup{{Antenna: "whip", Placement: "attic"}, {Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(40)}, {Antenna: "wire", Placement: "study"}},
		gain:   func(setup, round int) survey.Gain { return survey.Gain{Known: true, DB: 20} },
		level:  level, common: 0.2, own: 0.2}
}

func (d tide) input() input.Input {
	random := rand.New(rand.NewPCG(d.seed, 13))
	in := input.Input{Surveys: []survey.Survey{{ID: 1, Kind: survey.KindRecord, Simulated: true, First: d.setups[0], Start: d.start, Ending: "planned rounds done",
		Site: survey.Site{Name: "test house", Locator: d.locator, MainsHz: 50}}}, Events: d.events}
	drift, visit := 0.0, 0
	pace := d.round / time.Duration(2*len(d.setups))
	for n := range d.rounds {
		drift += d.wander * random.NormFloat64()
		for place, k := range random.Perm(len(d.setups)) {
			visit++
			for sweep := range 2 {
				at := d.start.Add(time.Duration(n)*d.round + time.Duration(2*place+sweep)*pace)
				in.Sweeps = append(in.Sweeps, d.sweep(random, drift, n, k, visit, at))
			}
		}
	}
	return in
}

func (d tide) sweep(random *rand.Rand, drift float64, n, k, visit int, at time.Time) *survey.Sweep {
	s := &survey.Sweep{Survey: 1, Round: n + 1, Visit: visit, Setup: d.setups[k], Start: at}
	hours, alike := at.Sub(d.start).Hours(), drift+d.common*random.NormFloat64()
	for i, segment := range tideSegments {
		level := tideFloor + alike + d.own*random.NormFloat64()
		if d.level != nil {
			level += d.level(k, i, hours)
		}
		if random.Float64() < d.strays {
			level += 30*random.Float64() - 15
		}
		gain := d.gain(k, n)
		level += float64(gain.DB)
		vd := survey.DB(1.05)
		r := survey.Reading{Segment: segment, Start: at.Add(time.Duration(i) * time.Second), Duration: 500 * time.Millisecond,
			Centre: (segment.Low + segment.High) / 2, BinWidth: 73.2, Resolution: 110, Gain: gain, Vd: &vd, VdBandwidth: 10e3, Occupancy: 0.3,
			Floor: &survey.Floor{Density: survey.DBFSPerHz(level), Sigma: 0.05, Quiet: survey.DBFSPerHz(level)}}
		if d.mark != nil {
			d.mark(&r, k, i, hours)
		}
		s.Readings = append(s.Readings, r)
	}
	return s
}

// between gives a height within hours, 0 outside them.
func between(hours, from, to, height float64) float64 {
	if hours >= from && hours < to {
		return height
	}
	return 0
}

// risesIn gives what is found, times told in the tests' zone.
func risesIn(in input.Input) []result.Rise { return noiseSourcesOf(in, input.Options{}, zone).Rises }
