package reports

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

var (
	fresh  = flag.Bool("fresh", false, "statistical tests with fresh seeds")
	trials = flag.Int("trials", 0, "surveys simulated a statistical test; 0: a quick number")
	update = flag.Bool("update", false, "rewrite golden files")
)

// seedFor gives the seed of a statistical test: fixed, or fresh with -fresh.
func seedFor(t testing.TB) uint64 {
	if !*fresh {
		return 20261103
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	return seed
}

func trialsOr(quick int) int {
	if *trials > 0 {
		return *trials
	}
	if testing.Short() {
		return quick / 4
	}
	return quick
}

// A world is a survey's rows made directly, without I/Q: each carrier has a level
// that all setups share and that wanders from round to round, each setup hears it
// with its own fading, and every power is measured with an error.
type world struct {
	seed     uint64
	rounds   int
	sweeps   int       // a visit
	gain     []float64 // by setup: SNR advantage over setup 0 in dB (mean over carriers)
	floor    []float64 // by setup: dBFS/Hz
	pattern  float64   // sd over carriers of a setup's advantage, dB; made mean-free
	fade     float64   // sd of a difference between two setups over rounds, dB
	looks    int       // > 0: instead of fade, powers of so many independent Rayleigh fades averaged
	lag1     float64   // correlation of fading from round to round
	common   float64   // sd over rounds of a carrier's level, alike for all setups, dB
	floorSD  float64   // sd of each setup's floor over rounds, dB, correlated as fading
	levels   []float64 // by carrier: SNR through setup 0 in standard errors of one reading, dB
	spacing  float64   // Hz
	first    float64   // Hz
	segment  survey.Segment
	start    time.Time
	interval time.Duration // between sweeps
	gains    []survey.Gain // by setup; nil: known, 0 dB
}

func newWorld(seed uint64) world {
	return world{seed: seed, rounds: 24, sweeps: 3, gain: []float64{0, 3}, floor: []float64{-98, -100},
		fade: 5, lag1: 0.5, common: 4, floorSD: 0.3, levels: []float64{20, 25, 30, 35}, spacing: 15e3, first: 9.42e6,
		segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6},
		start:   time.Date(2026, 11, 3, 18, 0, 0, 0, time.UTC), interval: 10 * time.Second}
}

func (w world) setup(k int) survey.Setup {
	return survey.Setup{Antenna: fmt.Sprintf("antenna %c", 'A'+k), Placement: "attic"}
}

func (w world) survey() survey.Survey {
	return survey.Survey{ID: 1, Kind: survey.KindRecord, Simulated: true, First: w.setup(0), Start: w.start,
		Site: survey.Site{Name: "test house", Locator: "JN58td"}}
}

// wander gives n steps of a stationary first-order autoregression.
func wander(random *rand.Rand, n int, sd, lag1 float64) []float64 {
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

// input makes the rows.
func (w world) input() input.Input {
	random := rand.New(rand.NewPCG(w.seed, 7))
	setups, carriers := len(w.gain), len(w.levels)
	gain := make([][]float64, setups) // by setup and carrier
	for k := range gain {
		gain[k] = make([]float64, carriers)
		var sum float64
		for c := range gain[k] {
			if k > 0 {
				gain[k][c] = w.pattern * random.NormFloat64()
			}
			sum += gain[k][c]
		}
		for c := range gain[k] {
			gain[k][c] += w.gain[k] - sum/float64(carriers)
		}
	}
	shared := make([][]float64, carriers)
	fades := make([][][]float64, setups)
	floors := make([][]float64, setups)
	for c := range shared {
		shared[c] = wander(random, w.rounds, w.common, 0.8)
	}
	for k := range fades {
		floors[k] = wander(random, w.rounds, w.floorSD, w.lag1)
		fades[k] = make([][]float64, carriers)
		for c := range fades[k] {
			fades[k][c] = wander(random, w.rounds, w.fade/math.Sqrt2, w.lag1)
			if w.looks > 0 {
				rayleigh(random, fades[k][c], w.looks)
			}
		}
	}
	in := input.Input{Surveys: []survey.Survey{w.survey()}}
	at, visit := w.start, 0
	for n := range w.rounds {
		for _, k := range random.Perm(setups) {
			visit++
			for range w.sweeps {
				in.Sweeps = append(in.Sweeps, w.sweep(random, k, n, visit, at, floors[k][n], func(c int) float64 {
					return w.levels[c] + gain[k][c] + shared[c][n] + fades[k][c][n]
				}))
				at = at.Add(w.interval)
			}
		}
	}
	return in
}

// sweep makes one sweep; level gives each carrier's SNR in standard errors, dB.
func (w world) sweep(random *rand.Rand, k, n, visit int, at time.Time, floor float64, level func(c int) float64) *survey.Sweep {
	// 0.5 s in bins of 110 Hz are some 40 averages: noise in a bin is known to
	// 110/√40 = 17 Hz of floor.
	const sigma = 17.0 // Hz
	density := w.floor[k] + floor
	r := survey.Reading{Segment: w.segment, Start: at, Duration: 500 * time.Millisecond, Resolution: 110, BinWidth: 73.2,
		Gain:  survey.Gain{Known: true, Exact: true},
		Floor: &survey.Floor{Density: survey.DBFSPerHz(density), Sigma: 0.05, Quiet: survey.DBFSPerHz(density)}}
	if w.gains != nil {
		r.Gain = w.gains[k]
	}
	noise := stats.FromDecibel(density) * sigma
	for c := range w.levels {
		x := stats.FromDecibel(level(c)) + random.NormFloat64()
		r.Carriers = append(r.Carriers, survey.Carrier{Frequency: survey.Hz(w.first + float64(c)*w.spacing + 0.5*random.NormFloat64()),
			Power: noise * x, Sigma: noise, Detected: x > 10})
	}
	return &survey.Sweep{Survey: 1, Round: n + 1, Visit: visit, Setup: w.setup(k), Start: at, Readings: []survey.Reading{r}}
}

// find gives a setup's place in a segment's ranking.
func find(t testing.TB, s result.RankSegment, setup survey.Setup) result.RankSetup {
	t.Helper()
	for _, x := range s.Setups {
		if x.Setup == setup {
			return x
		}
	}
	t.Fatalf("%s is not in the ranking", setup)
	return result.RankSetup{}
}

func mustRank(t testing.TB, in input.Input, opts input.Options) result.Rank {
	t.Helper()
	s, err := input.Select(in, opts)
	if err != nil {
		t.Fatal(err)
	}
	return RankOf(s, opts.Seed)
}
