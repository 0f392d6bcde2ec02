package reporttest

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

var (
	fresh  = flag.Bool("fresh", false, "statistical tests with fresh seeds")
	trials = flag.Int("trials", 0, "surveys simulated a statistical test; 0: a quick number")
)

// SeedFor gives the seed of a statistical test: fixed, or fresh with -fresh.
func SeedFor(t testing.TB) uint64 {
	if !*fresh {
		return 20261103
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	return seed
}

// TrialsOr gives how many surveys a statistical test simulates.
func TrialsOr(quick int) int {
	if *trials > 0 {
		return *trials
	}
	if testing.Short() {
		return quick / 4
	}
	return quick
}

// A World is a survey's rows made directly, without I/Q: each carrier has a level
// that all setups share and that wanders from round to round, each setup hears it
// with its own fading, and every power is measured with an error.
type World struct {
	seed     uint64
	Rounds   int
	Sweeps   int       // a visit
	Gain     []float64 // by setup: SNR advantage over setup 0 in dB (mean over carriers)
	Floor    []float64 // by setup: dBFS/Hz
	Pattern  float64   // sd over carriers of a setup's advantage, dB; made mean-free
	Fade     float64   // sd of a difference between two setups over rounds, dB
	Looks    int       // > 0: instead of fade, powers of so many independent Rayleigh fades averaged
	Lag1     float64   // correlation of fading from round to round
	Common   float64   // sd over rounds of a carrier's level, alike for all setups, dB
	FloorSD  float64   // sd of each setup's floor over rounds, dB, correlated as fading
	Levels   []float64 // by carrier: SNR through setup 0 in standard errors of one reading, dB
	Spacing  float64   // Hz
	Segment  survey.Segment
	Start    time.Time
	Interval time.Duration // between sweeps
	Gains    []survey.Gain // by setup; nil: known, 0 dB
}

// NewWorld gives a world of two setups, the second 3 dB better.
func NewWorld(seed uint64) World {
	return World{seed: seed, Rounds: 24, Sweeps: 3, Gain: []float64{0, 3}, Floor: []float64{-98, -100},
		Fade: 5, Lag1: 0.5, Common: 4, FloorSD: 0.3, Levels: []float64{20, 25, 30, 35}, Spacing: 15e3,
		Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6},
		Start:   time.Date(2026, 11, 3, 18, 0, 0, 0, time.UTC), Interval: 10 * time.Second}
}

// Setup gives the k-th setup.
func (w World) Setup(k int) survey.Setup {
	return survey.Setup{Antenna: fmt.Sprintf("antenna %c", 'A'+k), Placement: "attic"}
}

// Wander gives n steps of a stationary first-order autoregression.
func Wander(random *rand.Rand, n int, sd, lag1 float64) []float64 {
	x := make([]float64, n)
	v := random.NormFloat64()
	for i := range x {
		if i > 0 {
			v = lag1*v + math.Sqrt(1-lag1*lag1)*random.NormFloat64()
		}
		x[i] = sd * v
	}
	return x
}

// rayleigh fills levels in dB with the mean power of n independent Rayleigh fades.
func rayleigh(random *rand.Rand, levels []float64, n int) {
	for i := range levels {
		power := 0.0
		for range n {
			power += random.ExpFloat64() / float64(n)
		}
		levels[i] = stats.Decibel(power)
	}
}

// Input makes the rows.
func (w World) Input() input.Input {
	random := rand.New(rand.NewPCG(w.seed, 7))
	setups, carriers := len(w.Gain), len(w.Levels)
	gain := make([][]float64, setups) // by setup and carrier
	for k := range gain {
		gain[k] = make([]float64, carriers)
		var sum float64
		for c := range gain[k] {
			if k > 0 {
				gain[k][c] = w.Pattern * random.NormFloat64()
			}
			sum += gain[k][c]
		}
		for c := range gain[k] {
			gain[k][c] += w.Gain[k] - sum/float64(carriers)
		}
	}
	shared := make([][]float64, carriers)
	fades := make([][][]float64, setups)
	floors := make([][]float64, setups)
	for c := range shared {
		shared[c] = Wander(random, w.Rounds, w.Common, 0.8)
	}
	for k := range fades {
		floors[k] = Wander(random, w.Rounds, w.FloorSD, w.Lag1)
		fades[k] = make([][]float64, carriers)
		for c := range fades[k] {
			fades[k][c] = Wander(random, w.Rounds, w.Fade/math.Sqrt2, w.Lag1)
			if w.Looks > 0 {
				rayleigh(random, fades[k][c], w.Looks)
			}
		}
	}
	in := input.Input{Surveys: []survey.Survey{{ID: 1, Kind: survey.KindRecord, Simulated: true, First: w.Setup(0), Start: w.Start,
		Site: survey.Site{Name: "test house", Locator: "JN58td"}}}}
	at, visit := w.Start, 0
	for n := range w.Rounds {
		for _, k := range random.Perm(setups) {
			visit++
			for range w.Sweeps {
				in.Sweeps = append(in.Sweeps, w.sweep(random, k, n, visit, at, floors[k][n], func(c int) float64 {
					return w.Levels[c] + gain[k][c] + shared[c][n] + fades[k][c][n]
				}))
				at = at.Add(w.Interval)
			}
		}
	}
	return in
}

// sweep makes one sweep; level gives each carrier's SNR in standard errors, dB.
func (w World) sweep(random *rand.Rand, k, n, visit int, at time.Time, floor float64, level func(c int) float64) *survey.Sweep {
	// 0.5 s in bins of 110 Hz are some 40 averages: noise in a bin is known to
	// 110/√40 = 17 Hz of floor.
	const sigma = 17.0 // Hz
	density := w.Floor[k] + floor
	r := survey.Reading{Segment: w.Segment, Start: at, Duration: 500 * time.Millisecond, Resolution: 110, BinWidth: 73.2,
		Gain:  survey.Gain{Known: true, Exact: true},
		Floor: &survey.Floor{Density: survey.DBFSPerHz(density), Sigma: 0.05, Quiet: survey.DBFSPerHz(density)}}
	if w.Gains != nil {
		r.Gain = w.Gains[k]
	}
	noise := stats.FromDecibel(density) * sigma
	for c := range w.Levels {
		x := stats.FromDecibel(level(c)) + random.NormFloat64()
		r.Carriers = append(r.Carriers, survey.Carrier{Frequency: survey.Hz(9.42e6 + float64(c)*w.Spacing + 0.5*random.NormFloat64()),
			Power: noise * x, Sigma: noise, Detected: x > 10})
	}
	return &survey.Sweep{Survey: 1, Round: n + 1, Visit: visit, Setup: w.Setup(k), Start: at, Readings: []survey.Reading{r}}
}

// Still is a world without noise worth speaking of: what is measured is what is.
func Still() World {
	w := NewWorld(3)
	w.Fade, w.Common, w.FloorSD = 0.01, 6, 0
	w.Levels = []float64{60, 65, 70, 75}
	w.Gain, w.Floor = []float64{0, 5, -2}, []float64{-98, -104, -97}
	return w
}
