package stat

import (
	"math"
	"math/cmplx"
)

// A Phasor is the sum Σ w·exp(−2πi·f·t) over events at times t with weights w. It is
// Rayleigh's test whether they come with the frequency f [Rayleigh:1919, pp. 321-347]
// (METHODS.md 3.6).
type Phasor struct {
	Sum    complex128
	Weight float64 // Σ w
	Square float64 // Σ w²
}

// Add takes in an event of weight w, f·t cycles after time 0.
func (p *Phasor) Add(w, cycles float64) {
	sin, cos := math.Sincos(2 * math.Pi * cycles)
	p.Sum += complex(w*cos, -w*sin)
	p.Weight += w
	p.Square += w * w
}

// Power gives |Σ|²/Σ w². Where the events come at random it is an exponential variable with
// mean 1: it passes x with the probability exp(−x).
func (p *Phasor) Power() float64 { return SquaredAbs(p.Sum) / p.Square }

// Coherence gives |Σ|/Σ w: 1 where all events have one phase, 1/2 where the weights go as
// 1 + cos, 1/√n for n events at random.
func (p *Phasor) Coherence() float64 { return math.Sqrt(SquaredAbs(p.Sum)) / p.Weight }

// Turns fills to with scale·exp(−2πi·c), c going from start in steps of step, in cycles: with
// it Dot gives the sum of a Phasor over even times.
func Turns(to []complex128, scale, start, step float64) {
	at := cmplx.Rect(scale, -2*math.Pi*math.Mod(start, 1))
	turn := cmplx.Rect(1, -2*math.Pi*step)
	for i := range to {
		to[i] = at
		at *= turn
	}
}

// Dot gives Σ x·turns.
func Dot(x []float64, turns []complex128) complex128 {
	var re, im float64
	x = x[:len(turns)]
	for i, t := range turns {
		re += x[i] * real(t)
		im += x[i] * imag(t)
	}
	return complex(re, im)
}

// What makes events regular; chosen.
const (
	regularFewest = 4    // events
	regularShare  = 0.8  // of the intervals that agree with one period
	regularSpread = 0.05 // of the period by which they may differ
	regularTimes  = 3    // periods at most from one event to the next that was seen
)

// Period gives the period of events at rising times where they are regular, else 0: one or
// two may be missing between two. Times are known to slack (METHODS.md 10.2).
func Period(times []float64, slack float64) float64 {
	if len(times) < regularFewest {
		return 0
	}
	intervals := make([]float64, len(times)-1)
	for i := range intervals {
		intervals[i] = times[i+1] - times[i]
	}
	n := len(intervals)
	median := Select(intervals, n/2)
	sum, periods, alike := 0.0, 0.0, 0
	for _, d := range intervals {
		k := max(1, math.Round(d/median))
		if k <= regularTimes && math.Abs(d-k*median) < regularSpread*median+slack {
			sum, periods = sum+d, periods+k
			alike++
		}
	}
	if float64(alike) < regularShare*float64(n) || alike < regularFewest-1 {
		return 0
	}
	return sum / periods
}
