package ranktest

import (
	"math"

	"nightfloor/reports/stats"
)

// Truth gives the advantage of setup k over the first in the rounds that compare the two, dB: the
// mean over the states of a device by their rounds.
func (n *Night) Truth(k int) float64 {
	if k == 0 {
		return 0
	}
	var raised, rounds float64
	for t, counts := range n.counting(k) {
		if counts {
			rounds++
			raised += n.raised(t, k) - n.raised(t, 0)
		}
	}
	return n.gain[k] - n.gain[0] - raised/max(1, rounds)
}

// raised gives by how many dB the device raises the floor of a visit.
func (n *Night) raised(t, k int) float64 {
	if n.visits[t][k].on {
		return n.World.Device.raises(k)
	}
	return 0
}

// counting tells which rounds compare setup k with the first. A round in whose midst a device
// that reaches both came or went does not, nor one in whose midst a known one did that neither hears, so
// that floors do not tell its state; and a state that one round shows is none.
func (n *Night) counting(k int) []bool {
	d := n.World.Device
	a, b := d.raises(k) > 0, d.raises(0) > 0
	use := make([]bool, n.Rounds)
	var states [2]int
	state := func(t int) int {
		if v := n.visits[t]; a && v[k].on || !a && v[0].on {
			return 1
		}
		return 0
	}
	for t, v := range n.visits {
		between := v[k].on != v[0].on && (a && b || d.Known && !a && !b)
		if use[t] = v[k].seen && v[0].seen && !between; use[t] {
			states[state(t)]++
		}
	}
	for t := range use {
		if s := state(t); (a || b) && states[s] == 1 && states[1-s] > 1 {
			use[t] = false
		}
	}
	return use
}

// Need gives the half width of the 95 % interval of someone who knows all but what is asked: the
// variances of everything, who was on the air, and the rounds that count. Cells are weighed by how
// much their powers tell against fading.
func (n *Night) Need(k int) float64 {
	use, rounds := n.counting(k), 0.0
	for _, u := range use {
		if u {
			rounds++
		}
	}
	floors := 2 * n.FloorError * n.FloorError / max(1, rounds)
	for t := range use {
		for s := range use {
			if use[t] && use[s] {
				floors += 2 * n.Drift * n.Drift / rounds / rounds * n.correlation(n.DriftLag, t, s)
			}
		}
	}
	return stats.Normal95 * math.Sqrt(n.ofCarriers(k, use)+floors)
}

// ofCarriers gives the variance in dB² that fading, errors of powers and carriers that say little
// leave.
func (n *Night) ofCarriers(k int, use []bool) (variance float64) {
	own, lag := 2*n.Own*n.Own, n.Lag
	if n.Fades > 0 {
		own, lag = 2*n.fadesVariance(), 0
	}
	weight := make([][]float64, n.Rounds)
	for t := range weight {
		weight[t] = make([]float64, n.Carriers)
		for c := range weight[t] {
			if use[t] {
				weight[t][c] = own / (own + n.error(t, k, c) + n.error(t, 0, c))
			}
		}
	}
	share := shares(weight, own/(n.Pattern*n.Pattern), own/max(1e-9, 2*n.Drift*n.Drift))
	for c := range n.Carriers {
		told := 0.0
		for t := range share {
			for s := range share {
				variance += own * share[t][c] * share[s][c] * n.correlation(lag, t, s)
			}
			if h := share[t][c]; h != 0 {
				variance += own * h * h * (1/weight[t][c] - 1)
				told += h
			}
		}
		unsaid := told - 1/float64(n.Carriers)
		variance += n.Pattern * n.Pattern * unsaid * unsaid
	}
	return variance
}

// error gives the variance in dB² of a level by its power alone, infinite off the air. Of what the
// other setup's level lets expect nothing is credited: that tells no difference between the two.
func (n *Night) error(t, k, c int) float64 {
	p := stats.FromDecibel(n.visits[t][k].snr[c])
	dB := 10 / math.Ln10
	return dB * dB * (1 + n.alpha()*p) / (p * p)
}

func (n *Night) correlation(lag float64, t, s int) float64 {
	if t == s {
		return 1
	}
	return math.Pow(lag, math.Abs(n.times[t]-n.times[s]))
}

// fadesVariance gives the variance in dB² of the mean power of some Rayleigh fades: that of the
// logarithm of a gamma distribution, Σ 1/i² from the number of fades on.
func (w World) fadesVariance() float64 {
	sum := math.Pi * math.Pi / 6
	for i := 1; i < w.Fades; i++ {
		sum -= 1 / float64(i) / float64(i)
	}
	return 100 / math.Ln10 / math.Ln10 * sum
}

// shares gives what each cell does to the mean over carriers of their differences, fitted with
// shifts of rounds; carriers lean on their mean, and shifts on 0, by so much weight each.
func shares(weight [][]float64, leanCarrier, leanRound float64) [][]float64 {
	carriers := len(weight[0])
	byCarrier, byRound := make([]float64, carriers), make([]float64, len(weight))
	rounds := 0.0
	for t := range weight {
		if sum(weight[t]) > 0 {
			rounds++
		}
	}
	for range 60 {
		mean := sum(byCarrier) / float64(carriers)
		for c := range byCarrier {
			total, all := 1/float64(carriers)+leanCarrier*mean, leanCarrier
			for t, row := range weight {
				total, all = total-row[c]*byRound[t], all+row[c]
			}
			byCarrier[c] = total / all
		}
		for t, row := range weight {
			if byRound[t] = 0; sum(row) == 0 {
				continue
			}
			total, all := 1/rounds, leanRound
			for c, w := range row {
				total, all = total-w*byCarrier[c], all+w
			}
			byRound[t] = total / all
		}
	}
	h := make([][]float64, len(weight))
	for t, row := range weight {
		h[t] = make([]float64, carriers)
		for c, w := range row {
			h[t][c] = w * (byCarrier[c] + byRound[t])
		}
	}
	return h
}

func sum(x []float64) (s float64) {
	for _, v := range x {
		s += v
	}
	return s
}
