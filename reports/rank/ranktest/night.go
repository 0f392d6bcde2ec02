package ranktest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A Night is one night of a world.
type Night struct {
	World
	Input   input.Input
	On, Off []input.Span // of the device, from the first visit to the last between two switchings

	random *rand.Rand
	times  []float64
	gain   []float64   // by setup: SNR against that of a carrier's level, no device on, dB
	visits [][]visit   // by round and setup
	level  [][]float64 // by setup and carrier: SNR while nothing fades, drifts or is on, dB
}

// A visit is one setup in one round.
type visit struct {
	place int  // in the round
	seen  bool // else nothing was measured
	on    bool // the device
	floor float64
	snr   []float64 // by carrier, dB over the standard error of the quiet place; −∞: off the air
}

// Setup gives the k-th setup.
func Setup(k int) survey.Setup {
	return survey.Setup{Antenna: fmt.Sprintf("antenna %c", 'A'+k), Placement: "attic"}
}

// Night makes a night. The same seed gives the same night.
func (w World) Night(seed uint64) *Night {
	n := &Night{World: w, random: rand.New(rand.NewPCG(seed, 12)), times: w.times()}
	floor := n.setups()
	n.visits = make([][]visit, w.Rounds)
	for t := range n.visits {
		n.visits[t] = make([]visit, w.Setups)
		for place, k := range n.random.Perm(w.Setups) {
			n.visits[t][k] = visit{place: place, seen: n.measured(t, k), snr: make([]float64, w.Carriers)}
		}
	}
	n.device()
	n.floors(floor)
	n.signals()
	n.rows()
	return n
}

// setups draws gains, patterns and levels, and gives the floors.
func (n *Night) setups() (floor []float64) {
	n.gain, floor = make([]float64, n.Setups), make([]float64, n.Setups)
	for k := 1; k < n.Setups; k++ {
		n.gain[k], floor[k] = n.normal(n.Gains), n.normal(n.Gains)
	}
	if n.Weak > 0 {
		n.gain[n.DeafAt] -= n.Deaf
	}
	n.level = make([][]float64, n.Setups)
	for k := range n.level {
		n.level[k] = make([]float64, n.Carriers)
		mean := 0.0
		for c := range n.level[k] {
			if k > 0 {
				n.level[k][c] = n.normal(n.Pattern)
			}
			mean += n.level[k][c] / float64(n.Carriers)
		}
		n.gain[k] -= floor[k]
		for c := range n.level[k] {
			n.level[k][c] += n.gain[k] - mean
		}
	}
	for c := range n.Carriers {
		station := n.Low + (n.High-n.Low)*n.random.Float64()
		if n.Weak > 0 {
			station += n.Deaf
		}
		if float64(c) < math.Round(n.Weak*float64(n.Carriers)) {
			station = -10 + 13*n.random.Float64() - n.level[n.DeafAt][c]
		}
		for k := range n.level {
			n.level[k][c] += station
		}
	}
	return floor
}

// measured tells whether a setup was visited in a round.
func (n *Night) measured(t, k int) bool {
	switch {
	case !n.Uneven:
		return true
	case k == 3:
		return t < n.Rounds/2
	case k == 0:
		return n.random.Float64() < 0.9
	}
	return n.random.Float64() < 0.6
}

// device switches it on and off from visit to visit.
func (n *Night) device() {
	d := n.World.Device
	if d.Raises == nil {
		return
	}
	off := 1 / (d.Lasts * float64(n.Setups)) // chance a visit
	on := n.random.Float64() < d.Share
	for t, row := range n.visits {
		for place := range row {
			before := on
			if t+place > 0 {
				chance := off
				if !on {
					chance = off * d.Share / (1 - d.Share)
				}
				on = on != (n.random.Float64() < chance)
			}
			k := slices.IndexFunc(row, func(v visit) bool { return v.place == place })
			row[k].on = on
			spans := &n.Off
			if on {
				spans = &n.On
			}
			visit := input.Span{First: n.at(t, place), Last: n.at(t, place).Add(visitTime)}
			if before == on && t+place > 0 {
				visit = (*spans)[len(*spans)-1].With(visit)
				*spans = (*spans)[:len(*spans)-1]
			}
			*spans = append(*spans, visit)
		}
	}
}

// at gives when a visit begins.
func (n *Night) at(round, place int) time.Time {
	return Start.Add(time.Duration((n.times[round] + float64(place)/float64(n.Setups)) * float64(Round)))
}

func (n *Night) floors(floor []float64) {
	trend := n.wander(n.Trend, 0.95)
	for k := range floor {
		drift := n.wander(n.Drift, n.DriftLag)
		for t, row := range n.visits {
			row[k].floor = trend[t] + drift[t]
			if row[k].on {
				row[k].floor += n.World.Device.raises(k)
			}
			for c := range row[k].snr {
				row[k].snr[c] = n.level[k][c] - row[k].floor
			}
			row[k].floor += floor[k]
		}
	}
}

// signals fades the carriers, and takes some off the air for a while.
func (n *Night) signals() {
	for c := range n.Carriers {
		from, to := 0.0, 0.0 // rounds between which it is off the air
		if n.random.Float64() < n.OffAir {
			from = n.random.Float64() * float64(n.Rounds)
			to = from + n.random.ExpFloat64()*float64(n.Rounds)/8
		}
		shared := n.wander(n.Shared, n.Lag)
		for k := range n.Setups {
			own := n.own()
			for t, row := range n.visits {
				v := &row[k]
				v.snr[c] += shared[t] + own[t]
				if at := float64(t) + (float64(v.place)+0.5)/float64(n.Setups); at >= from && at < to {
					v.snr[c] = math.Inf(-1)
				}
			}
		}
	}
}

// own gives the fading of a carrier through one setup.
func (n *Night) own() []float64 {
	if n.Fades == 0 {
		return n.wander(n.Own, n.Lag)
	}
	x := make([]float64, n.Rounds)
	for t := range x {
		power := 0.0
		for range n.Fades {
			power += n.random.ExpFloat64() / float64(n.Fades)
		}
		x[t] = stats.Decibel(power)
	}
	return x
}

func (n *Night) normal(sd float64) float64 { return sd * n.random.NormFloat64() }

// wander gives a stationary first-order autoregression, by round.
func (n *Night) wander(sd, lag float64) []float64 {
	x := make([]float64, n.Rounds)
	for t := range x {
		x[t] = n.normal(1)
		if t > 0 && lag > 0 {
			f := math.Pow(lag, n.times[t]-n.times[t-1])
			x[t] = f*x[t-1] + math.Sqrt(1-f*f)*x[t]
		}
	}
	for t := range x {
		x[t] *= sd
	}
	return x
}

// quietSigma is the standard error of an SNR where no carrier is, Hz: of half a second in bins of
// 110 Hz.
const quietSigma = 17.0

// visitTime is how long a reading lasts.
const visitTime = 500 * time.Millisecond

// rows makes the sweeps.
func (n *Night) rows() {
	n.Input.Surveys = []survey.Survey{{ID: 1, Kind: survey.KindRecord, Simulated: true, First: Setup(0), Start: Start, Site: survey.Site{Name: "test house"}}}
	for t, row := range n.visits {
		sweeps := make([]*survey.Sweep, n.Setups)
		for k := range row {
			if v := &row[k]; v.seen {
				sweeps[v.place] = &survey.Sweep{Survey: 1, Round: t + 1, Visit: t*n.Setups + v.place + 1, Setup: Setup(k), Start: n.at(t, v.place), Readings: []survey.Reading{n.reading(v, n.at(t, v.place))}}
			}
		}
		n.Input.Sweeps = append(n.Input.Sweeps, slices.DeleteFunc(sweeps, func(s *survey.Sweep) bool { return s == nil })...)
	}
}

// reading measures each carrier as the mean of powers of signal and noise.
func (n *Night) reading(v *visit, at time.Time) survey.Reading {
	density := -100 + v.floor
	told := survey.DBFSPerHz(density + n.normal(n.FloorError))
	r := survey.Reading{Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}, Start: at, Duration: visitTime, Resolution: 110, BinWidth: 73.2,
		Gain: survey.Gain{Known: true, Exact: true}, Floor: &survey.Floor{Density: told, Sigma: survey.DB(n.FloorError), Quiet: told}}
	unit := quietSigma * stats.FromDecibel(density)
	looks := float64(n.Looks)
	for c, snr := range v.snr {
		amplitude := math.Sqrt(stats.FromDecibel(snr) / math.Sqrt(looks))
		sum := 0.0
		for range n.Looks {
			re, im := amplitude+n.random.NormFloat64()/math.Sqrt2, n.random.NormFloat64()/math.Sqrt2
			sum += re*re + im*im
		}
		u := (sum - looks) / math.Sqrt(looks)
		r.Carriers = append(r.Carriers, survey.Carrier{Frequency: survey.Hz(9.42e6 + 5e3*float64(c)), Power: unit * u,
			Sigma: unit * math.Sqrt(1+n.alpha()*max(0, u)), Quiet: unit, Detected: u > 10})
	}
	return r
}

// alpha is by how much the variance of a power of u units exceeds 1, over u (METHODS.md 6.5).
func (w World) alpha() float64 { return 2 / math.Sqrt(float64(w.Looks)) }
