package reporttest

import (
	"math"
	"math/rand/v2"
	"slices"

	"nightfloor/reports/input"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A House is a Din whose radiators' lines stand among the carriers, found and then measured by
// force, with lines that keep their frequency among them.
type House struct {
	Din
	Lines []Line
}

// A Line keeps its frequency: a station's fades, that of a crystal in the house stands still.
type Line struct {
	Frequency float64
	Level     []float64  // by setup: mean power over the floor in one resolution, dB
	Fade      float64    // dB: of all setups together, and again of each
	Hours     []HourSpan // after the start; none: always

	radiator *Radiator
	multiple float64
	fades    [][]float64 // by setup and round, dB
	heard    float64     // where it was last detected
	round    int         // and in which round
}

// lineSigmaAlone is the standard error of one line's power in one reading, of the floor in one
// resolution: 40 averages.
const lineSigmaAlone = 0.16

// NewHouse gives a house of 24 rounds with three supplies of chance: spacings of 20 to 150 kHz, drift,
// wobble, hours and levels.
func NewHouse(seed uint64, segments ...survey.Segment) House {
	random := rand.New(rand.NewPCG(seed, 17))
	var supplies []Radiator
	for range 3 {
		from := 2*random.Float64() - 1
		r := Radiator{Spacing: 20e3 * math.Pow(7.5, random.Float64()), Drift: 1e-3 * random.Float64(), Warming: 0.2 + 0.5*random.Float64(),
			Wobble: 0.5 * random.Float64(), Hours: []HourSpan{{from, from + 0.8 + 2*random.Float64()}}}
		for range 3 {
			r.Level = append(r.Level, 3+20*random.Float64())
		}
		supplies = append(supplies, r)
	}
	d := NewDin(seed, supplies...)
	d.Rounds, d.Segments = 24, segments
	return House{Din: d}
}

// Input makes the rows.
func (h House) Input() input.Input {
	random := rand.New(rand.NewPCG(h.Seed, 19))
	in := h.Din.Input()
	lines := make([][]*Line, len(h.Segments))
	for i, s := range h.Segments {
		lines[i] = h.linesIn(random, s)
	}
	for _, s := range in.Sweeps {
		k := slices.Index(h.Setups, s.Setup)
		for i := range s.Readings {
			for _, l := range lines[i] {
				l.into(random, &s.Readings[i], k, s.Round-1, s.Start.Sub(h.Start).Hours())
			}
		}
	}
	return in
}

// linesIn gives all lines in a segment. Those of one comb have levels that scatter by 2 dB.
func (h House) linesIn(random *rand.Rand, s survey.Segment) (all []*Line) {
	for i := range h.Radiators {
		r := &h.Radiators[i]
		for n := math.Ceil(float64(s.Low) / r.Spacing); n*r.Spacing < float64(s.High); n++ {
			l := &Line{radiator: r, multiple: n, Hours: r.Hours, round: -100}
			for k := range h.Setups {
				l.Level = append(l.Level, r.Level[k]+2*random.NormFloat64())
			}
			all = append(all, l)
		}
	}
	for _, own := range h.Lines {
		if l := own; l.Frequency >= float64(s.Low) && l.Frequency <= float64(s.High) {
			l.round = -100
			all = append(all, &l)
		}
	}
	for _, l := range all {
		shared := Wander(random, h.Rounds, l.Fade, 0.5)
		for range h.Setups {
			own := Wander(random, h.Rounds, l.Fade, 0.3)
			for n := range own {
				own[n] += shared[n]
			}
			l.fades = append(l.fades, own)
		}
	}
	return all
}

// into puts the line into a reading: detected where it stands out, else measured by force while it
// is remembered.
func (l *Line) into(random *rand.Rand, r *survey.Reading, k, round int, hours float64) {
	frequency, over := l.Frequency, stats.FromDecibel(l.Level[k]+l.fades[k][round]+0.1*random.NormFloat64())
	on := len(l.Hours) == 0
	for _, h := range l.Hours {
		on = on || hours >= h.From && hours < h.To
	}
	if l.radiator != nil {
		frequency = l.multiple * (l.radiator.at(hours) + l.radiator.Wobble*(random.Float64()-0.5))
	}
	if !on {
		over = 0
	}
	over += lineSigmaAlone * random.NormFloat64()
	unit := stats.FromDecibel(DinFloor) * float64(r.Resolution)
	c := survey.Carrier{Frequency: survey.Hz(frequency + 0.3*random.NormFloat64()), Power: over * unit, Sigma: lineSigmaAlone * unit, Detected: over > 9}
	if c.Detected {
		l.heard, l.round = float64(c.Frequency), round
	} else if round > l.round+3 {
		return
	} else {
		c.Frequency = survey.Hz(l.heard)
		if l.radiator != nil && math.Abs(frequency-l.heard) > float64(r.Resolution) { // it has drifted away
			c.Power = lineSigmaAlone * random.NormFloat64() * unit
		}
	}
	r.Carriers = append(r.Carriers, c)
}
