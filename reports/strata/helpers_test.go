package strata

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"gonum.org/v1/gonum/floats"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/series"
)

var evening = time.Date(2026, 10, 3, 18, 0, 0, 0, time.UTC)

// A device is one of the house, in a simulated night.
type device struct {
	raises []float64 // by setup, dB
	share  float64   // of the visits in which it is on
	long   float64   // rounds that it stays on, on average; 0: it is on and off for 1 to 2 rounds each
	known  bool      // its hours are known
	found  bool      // they are known by what visits through setups that it reaches show, alone
}

// A house is a simulated night: floors that share the evening's trend and drift by themselves,
// read to 0.1 dB, visits in shuffled order, devices that come and go between visits.
type house struct {
	setups, rounds  int
	drift, driftLag float64
	devices         []device
	gainless        bool // nobody knows gains, which stand still
}

// night gives the segment, which of the visits each device was on, and the advantage of each setup
// in each round: fading of 1.2 dB, less what raises the floor.
func (h house) night(random *rand.Rand) (s Segment, on [][][]bool, snr [][]float64) {
	s.Floors, s.Visits, snr = make([][]float64, h.setups), make([][]time.Time, h.setups), make([][]float64, h.setups)
	trend := reporttest.Wander(random, h.rounds, 2, 0.95)
	for k := range s.Floors {
		s.Floors[k], snr[k] = reporttest.Wander(random, h.rounds, h.drift, h.driftLag), reporttest.Wander(random, h.rounds, 0.87, 0.3)
		s.Visits[k] = make([]time.Time, h.rounds)
		for n := range trend {
			snr[k][n] -= s.Floors[k][n]
			s.Floors[k][n] += trend[n] + 0.1*random.NormFloat64()
		}
	}
	var setups []int // by visit, in order of time
	for range h.rounds {
		setups = append(setups, random.Perm(h.setups)...)
	}
	at := func(visit int) time.Time { return evening.Add(time.Duration(visit) * 6 * time.Minute) }
	for v, k := range setups {
		s.Visits[k][v/h.setups] = at(v)
	}
	for i, d := range h.devices {
		own := make([][]bool, h.setups)
		for k := range own {
			own[k] = make([]bool, h.rounds)
		}
		source := Source{ID: i + 1}
		switched, shown := d.on(random, len(setups)), -1 // at which visit its state was last seen
		for v, is := range switched {
			k, n := setups[v], v/h.setups
			own[k][n] = is
			if is {
				s.Floors[k][n] += d.raises[k]
				snr[k][n] -= d.raises[k]
			}
			if d.found && d.raises[k] == 0 {
				continue
			}
			spans := &source.Off
			if is {
				spans = &source.On
			}
			if shown >= 0 && switched[shown] == is {
				(*spans)[len(*spans)-1].Last = at(v)
			} else {
				*spans = append(*spans, input.Span{First: at(v), Last: at(v)})
			}
			shown = v
		}
		on = append(on, own)
		if d.known || d.found {
			s.Sources = append(s.Sources, source)
		}
	}
	if h.gainless {
		s.Gainless = slices.Repeat([]bool{true}, h.setups)
	}
	return s, on, snr
}

// on gives by visit whether the device is on.
func (d device) on(random *rand.Rand, visits int) []bool {
	all := make([]bool, visits)
	perRound := float64(len(d.raises))
	if d.long == 0 {
		left := random.IntN(int(2 * perRound))
		for v, is := 0, random.IntN(2) == 0; v < visits; v, left = v+1, left-1 {
			if left <= 0 {
				is, left = !is, int(perRound)+random.IntN(int(perRound)+1)
			}
			all[v] = is
		}
		return all
	}
	off := 1 / (d.long * perRound)
	all[0] = random.Float64() < d.share
	for v := 1; v < visits; v++ {
		all[v] = all[v-1]
		if all[v] && random.Float64() < off || !all[v] && random.Float64() < off*d.share/(1-d.share) {
			all[v] = !all[v]
		}
	}
	return all
}

// advantage gives the distribution of the advantage of the second setup over the first with the
// strata of a choice, pooled over all pairs, and what is true of it: fading and drift are 0 on the
// mean, and what remains is what devices do in all rounds. Where one was switched between the two
// visits, and reaches both, it does half of it.
func advantage(c *Choice, on [][][]bool, h house, snr [][]float64) (m *series.Mixture, p Pair, truth float64) {
	var fits []*series.Fit
	for j := range snr {
		for k := range j {
			own := c.Pair(j, k)
			fits = append(fits, series.Of(values(snr, j, k, own.Stratum)))
			if j == 1 {
				p = own
			}
		}
	}
	rounds := float64(h.rounds)
	for i, d := range h.devices {
		for n := range h.rounds {
			first, second := share(on[i][0][n]), share(on[i][1][n])
			if d.raises[0] != 0 && d.raises[1] != 0 {
				first = (first + second) / 2
				second = first
			}
			truth += (d.raises[0]*first - d.raises[1]*second) / rounds
		}
	}
	weights := p.Weights(func(int) bool { return true })
	floats.Scale(1/floats.Sum(weights), weights)
	return fits[0].Sum(series.Pool(fits, len(snr)), func(stratum int) float64 { return weights[stratum] }), p, truth
}

// share gives 1 for what is on, else 0.
func share(on bool) float64 {
	if on {
		return 1
	}
	return 0
}

// values makes the series of setup j over k in given strata; none: all rounds in one.
func values(snr [][]float64, j, k int, strata []int) series.Series {
	if strata == nil {
		strata = make([]int, len(snr[j]))
	}
	s := series.Series{Stratum: strata}
	for n := range snr[j] {
		s.Values, s.Times = append(s.Values, snr[j][n]-snr[k][n]), append(s.Times, float64(n))
	}
	return s
}

// half gives half the width of an interval, infinite where there is none, and whether it holds a
// figure.
func half(m *series.Mixture, truth float64) (width float64, holds bool) {
	low, high, ok := m.Interval()
	if !ok {
		return math.Inf(1), true
	}
	return (high - low) / 2, low <= truth && truth <= high
}

// raises gives what a device does to so many setups: to the first over the reference only, or all alike.
func raises(setups int, dB float64, all bool) []float64 {
	r := make([]float64, setups)
	for k := range r {
		if all || k == 1 {
			r[k] = dB
		}
	}
	return r
}
