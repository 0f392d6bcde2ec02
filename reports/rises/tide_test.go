package rises

import (
	"math/rand/v2"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A tide is a survey's floors made directly: six segments, some setups, two readings a visit, of
// which all is known.
type tide struct {
	seed    uint64
	Start   time.Time
	Rounds  int
	Round   time.Duration
	Setups  []survey.Setup
	Locator string
	Gain    func(setup, round int) survey.Gain
	// level is the true floor, dB over tideFloor, at hours after the start.
	level func(setup, segment int, hours float64) float64
	// The floor of all segments scatters and wanders alike from reading to reading and from
	// round to round, and each by itself.
	Common, Own, Wander float64 // standard deviations, dB
	Strays              float64 // share of readings that are up to 15 dB off
	Mark                func(r *survey.Reading, setup, segment int, hours float64)
	Events              []survey.Event
}

// tideFloor is the floor where nothing raises it.
const tideFloor = -130.0 // dBFS/Hz, at a gain of 0 dB

var tideSegments = []survey.Segment{{Name: "80 m", Low: 3.5e6, High: 3.8e6}, {Name: "60 m", Low: 4.7e6, High: 5.1e6}, {Name: "49 m", Low: 5.9e6, High: 6.2e6},
	{Name: "41 m", Low: 7.2e6, High: 7.5e6}, {Name: "31 m", Low: 9.4e6, High: 9.9e6}, {Name: "25 m", Low: 11.6e6, High: 12.1e6}}

// newTide gives a tide of 160 rounds with the level.
func newTide(seed uint64, level func(setup, segment int, hours float64) float64) tide {
	// In JN58 the sun sets at 15:50 UTC on 3 November and rises at 6:05.
	return tide{seed: seed, Start: time.Date(2026, 11, 3, 9, 0, 0, 0, time.UTC), Rounds: 160, Round: 6 * time.Minute, Locator: "JN58td",
		Setups: []survey.Setup{{Antenna: "whip", Placement: "attic"}, {Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(40)}, {Antenna: "wire", Placement: "study"}},
		Gain:   func(setup, round int) survey.Gain { return survey.Gain{Known: true, DB: 20} },
		level:  level, Common: 0.2, Own: 0.2}
}

// Input makes the rows.
func (d tide) Input() input.Input {
	random := rand.New(rand.NewPCG(d.seed, 13))
	in := input.Input{Surveys: []survey.Survey{{ID: 1, Kind: survey.KindRecord, Simulated: true, First: d.Setups[0], Start: d.Start, Ending: "planned rounds done",
		Site: survey.Site{Name: "test house", Locator: d.Locator, MainsHz: 50}}}, Events: d.Events}
	drift, visit := 0.0, 0
	pace := d.Round / time.Duration(2*len(d.Setups))
	for n := range d.Rounds {
		drift += d.Wander * random.NormFloat64()
		for place, k := range random.Perm(len(d.Setups)) {
			visit++
			for sweep := range 2 {
				at := d.Start.Add(time.Duration(n)*d.Round + time.Duration(2*place+sweep)*pace)
				in.Sweeps = append(in.Sweeps, d.sweep(random, drift, n, k, visit, at))
			}
		}
	}
	return in
}

func (d tide) sweep(random *rand.Rand, drift float64, n, k, visit int, at time.Time) *survey.Sweep {
	s := &survey.Sweep{Survey: 1, Round: n + 1, Visit: visit, Setup: d.Setups[k], Start: at}
	hours, alike := at.Sub(d.Start).Hours(), drift+d.Common*random.NormFloat64()
	for i, segment := range tideSegments {
		level := tideFloor + alike + d.Own*random.NormFloat64()
		if d.level != nil {
			level += d.level(k, i, hours)
		}
		if random.Float64() < d.Strays {
			level += 30*random.Float64() - 15
		}
		gain := d.Gain(k, n)
		level += float64(gain.DB)
		vd := survey.DB(1.05)
		r := survey.Reading{Segment: segment, Start: at.Add(time.Duration(i) * time.Second), Duration: 500 * time.Millisecond,
			Centre: (segment.Low + segment.High) / 2, BinWidth: 73.2, Resolution: 110, Gain: gain, Vd: &vd, VdBandwidth: 10e3, Occupancy: 0.3,
			Floor: &survey.Floor{Density: survey.DBFSPerHz(level), Sigma: 0.05, Quiet: survey.DBFSPerHz(level)}}
		if d.Mark != nil {
			d.Mark(&r, k, i, hours)
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

// dishwasher is on for two hours, in five of six segments, through two of three setups.
func dishwasher(k, i int, hours float64) float64 {
	if i == 5 || k == 2 {
		return 0
	}
	return between(hours, 3.02, 5.02, []float64{6, 4.5}[k])
}

// dusk is a smooth rise around sunset, at 6.8 hours, and a fall around sunrise, at 21.1
// hours, of a height in dB, each taking so many hours.
func dusk(hours, height, long float64) float64 {
	ramp := func(from float64) float64 {
		x := max(0, min(1, (hours-from+long/2)/long))
		return x * x * (3 - 2*x)
	}
	return height * (ramp(6.8) - ramp(21.1))
}

// slowly is a device without sharp edges: it takes an hour to come up by 8 dB and as long to go.
func slowly(hours, from, to float64) float64 {
	return 8 * max(0, min(1, hours-from, to-hours))
}

// modulate marks a reading with mains modulation, detected, of an amplitude over the floor.
func modulate(r *survey.Reading, amplitude float64) {
	density := r.Floor.Density.Linear()
	r.Findings = append(r.Findings, survey.Finding{Kind: survey.FindingMains, Low: r.Segment.Low, High: r.Segment.High, Envelope: 100, Mains: 50,
		Depth: amplitude, Shape: "two humps", Power: amplitude * amplitude * density * density, Sigma: 1e-3 * density * density, Confidence: 0.9999})
}

// addComb marks a reading with a comb of lines at a level in dBFS.
func addComb(r *survey.Reading, level float64) {
	r.Findings = append(r.Findings, survey.Finding{Kind: survey.FindingComb, Low: r.Segment.Low, High: r.Segment.High, Spacing: 65013, Lines: 8, Sought: true,
		Power: stats.FromDecibel(level), Sigma: stats.FromDecibel(level - 20), Confidence: 0.9999})
}

// pulsing makes the envelope of a reading pulse-like.
func pulsing(r *survey.Reading) { *r.Vd = 2.2 }
