package bearings

import (
	"math"
	"math/rand/v2"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A spin is a survey's rows of a loop that is turned beside a whip, made directly. The
// floor through the loop is share + (1 − share)·sin²(θ − null) of its peak, and so are
// its carriers, with nulls of their own.
type spin struct {
	Seed     uint64
	Bearings []float64
	Rounds   int
	Null     float64   // degrees, of the floor
	Depth    float64   // dB, of the floor
	Scatter  float64   // dB, sd of a visit's floor
	Lag1     float64   // correlation of that from round to round
	Drift    float64   // dB, sd of the floor's level over rounds, common to all
	Carriers []heading // of carriers
	Looks    int       // independent Rayleigh fades averaged in a visit
	Floor    float64   // dBFS/Hz through the whip; the loop's peak stands 2 dB lower
	Gain     survey.Gain
	// Leak is the share of the peak's power of carriers and sources that comes beside the antenna, with this
	// phase against what the antenna brings.
	Leak, Phase float64
}

// A heading is a carrier's null.
type heading struct{ Null, Depth, Snr float64 } // dB; snr in standard errors of one visit's power at the peak

// newSpin gives a spin with a null drawn by the seed.
func newSpin(seed uint64) spin {
	random := rand.New(rand.NewPCG(seed, 5))
	return spin{Seed: seed, Bearings: stepsOf(15), Rounds: 12, Null: 180 * random.Float64(), Depth: 12, Scatter: 0.5, Lag1: 0.3,
		Drift: 4, Looks: 10, Floor: -100, Gain: exactly(20)}
}

// exactly is a gain that was measured, labelled one that is a label.
func exactly(db survey.DB) survey.Gain  { return survey.Gain{DB: db, Known: true, Exact: true} }
func labelled(db survey.DB) survey.Gain { return survey.Gain{DB: db, Known: true} }

// stepsOf gives bearings over half a turn.
func stepsOf(step float64) (deg []float64) {
	for b := 0.0; b < 180; b += step {
		deg = append(deg, b)
	}
	return deg
}

// response is the share of its peak's power that an antenna with a null delivers.
func response(bearing, null, depth float64) float64 {
	share, sin := stats.FromDecibel(-depth), math.Sin((bearing-null)*math.Pi/180)
	return share + (1-share)*sin*sin
}

// through is the share of its peak's power that comes through the loop and beside it.
func (s spin) through(bearing float64, h heading) float64 {
	share, sin := stats.FromDecibel(-h.Depth), math.Sin((bearing-h.Null)*math.Pi/180)
	im, re := math.Sincos(s.Phase)
	leak := math.Sqrt(s.Leak)
	return share + math.Pow(math.Sqrt(1-share)*sin+leak*re, 2) + math.Pow(leak*im, 2)
}

// spunSegment is that of a spin.
var spunSegment = survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}

// Input makes the rows.
func (s spin) Input() input.Input {
	random := rand.New(rand.NewPCG(s.Seed, 11))
	setups := []survey.Setup{{Antenna: "whip", Placement: "attic"}}
	for _, b := range s.Bearings {
		setups = append(setups, survey.Setup{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(b)})
	}
	common := reporttest.Wander(random, s.Rounds, s.Drift, 0.8)
	var scatter, levels [][]float64
	for range setups {
		scatter = append(scatter, reporttest.Wander(random, s.Rounds, s.Scatter, s.Lag1))
	}
	for range s.Carriers {
		levels = append(levels, reporttest.Wander(random, s.Rounds, 4, 0.8))
	}
	start := time.Date(2026, 11, 3, 18, 0, 0, 0, time.UTC)
	in := input.Input{Surveys: []survey.Survey{{ID: 1, Kind: survey.KindRecord, First: setups[0], Start: start, Ending: "all rounds done"}}}
	at, visit := start, 0
	for n := range s.Rounds {
		for _, k := range random.Perm(len(setups)) {
			visit++
			at = at.Add(30 * time.Second)
			floor := s.Floor + common[n] + scatter[k][n]
			if k > 0 {
				floor += -2 + stats.Decibel(response(setups[k].Bearing.Deg, s.Null, s.Depth))
			}
			r := survey.Reading{Segment: spunSegment, Start: at, Duration: time.Second, Resolution: 110, BinWidth: 73, Gain: s.Gain,
				Floor: &survey.Floor{Density: survey.DBFSPerHz(floor), Sigma: 0.05, Quiet: survey.DBFSPerHz(floor)}}
			for c, h := range s.Carriers {
				fade := 0.0
				for range s.Looks {
					fade += random.ExpFloat64() / float64(s.Looks)
				}
				power := stats.FromDecibel(h.Snr+levels[c][n]) * fade // in standard errors
				if k > 0 {
					power *= s.through(setups[k].Bearing.Deg, h)
				}
				power += random.NormFloat64()
				const sigma = 1e-9
				r.Carriers = append(r.Carriers, survey.Carrier{Frequency: survey.Hz(9.42e6 + 15e3*float64(c)), Power: sigma * power, Sigma: sigma, Detected: power > 6})
			}
			in.Sweeps = append(in.Sweeps, &survey.Sweep{Survey: 1, Round: n + 1, Visit: visit, Setup: setups[k], Start: at, Readings: []survey.Reading{r}})
		}
	}
	return in
}
