package reporttest

import (
	"math"
	"math/rand/v2"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A Spin is a survey's rows of a loop that is turned beside a whip, made directly. The
// floor through the loop is share + (1 − share)·sin²(θ − null) of its peak, and so are
// its carriers, with nulls of their own.
type Spin struct {
	Seed     uint64
	Bearings []float64
	Rounds   int
	Null     float64   // degrees, of the floor
	Depth    float64   // dB, of the floor
	Scatter  float64   // dB, sd of a visit's floor
	Lag1     float64   // correlation of that from round to round
	Drift    float64   // dB, sd of the floor's level over rounds, common to all
	Carriers []Heading // of carriers
	Looks    int       // independent Rayleigh fades averaged in a visit
	Floor    float64   // dBFS/Hz through the whip; the loop's peak stands 2 dB lower
	Gain     survey.Gain
}

// A Heading is a carrier's null.
type Heading struct{ Null, Depth, Snr float64 } // dB; snr in standard errors of one visit's power at the peak

// NewSpin gives a spin with a null drawn by the seed.
func NewSpin(seed uint64) Spin {
	random := rand.New(rand.NewPCG(seed, 5))
	return Spin{Seed: seed, Bearings: Steps(15), Rounds: 12, Null: 180 * random.Float64(), Depth: 12, Scatter: 0.5, Lag1: 0.3,
		Drift: 4, Looks: 10, Floor: -100, Gain: Exact(20)}
}

// Steps gives bearings over half a turn.
func Steps(step float64) (deg []float64) {
	for b := 0.0; b < 180; b += step {
		deg = append(deg, b)
	}
	return deg
}

// Response is the share of its peak's power that an antenna with a null delivers.
func Response(bearing, null, depth float64) float64 {
	share, sin := stats.FromDecibel(-depth), math.Sin((bearing-null)*math.Pi/180)
	return share + (1-share)*sin*sin
}

// SpunSegment is that of a Spin.
var SpunSegment = survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}

// Input makes the rows.
func (s Spin) Input() input.Input {
	random := rand.New(rand.NewPCG(s.Seed, 11))
	setups := []survey.Setup{{Antenna: "whip", Placement: "attic"}}
	for _, b := range s.Bearings {
		setups = append(setups, survey.Setup{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(b)})
	}
	common := Wander(random, s.Rounds, s.Drift, 0.8)
	var scatter, levels [][]float64
	for range setups {
		scatter = append(scatter, Wander(random, s.Rounds, s.Scatter, s.Lag1))
	}
	for range s.Carriers {
		levels = append(levels, Wander(random, s.Rounds, 4, 0.8))
	}
	in := input.Input{Surveys: []survey.Survey{{ID: 1, Kind: survey.KindRecord, First: setups[0], Start: NewWorld(0).Start, Ending: "all rounds done"}}}
	at, visit := NewWorld(0).Start, 0
	for n := range s.Rounds {
		for _, k := range random.Perm(len(setups)) {
			visit++
			at = at.Add(30 * time.Second)
			floor := s.Floor + common[n] + scatter[k][n]
			if k > 0 {
				floor += -2 + stats.Decibel(Response(setups[k].Bearing.Deg, s.Null, s.Depth))
			}
			r := survey.Reading{Segment: SpunSegment, Start: at, Duration: time.Second, Resolution: 110, BinWidth: 73, Gain: s.Gain,
				Floor: &survey.Floor{Density: survey.DBFSPerHz(floor), Sigma: 0.05, Quiet: survey.DBFSPerHz(floor)}}
			for c, h := range s.Carriers {
				fade := make([]float64, 1)
				rayleigh(random, fade, s.Looks)
				power := stats.FromDecibel(h.Snr + levels[c][n] + fade[0]) // in standard errors
				if k > 0 {
					power *= Response(setups[k].Bearing.Deg, h.Null, h.Depth)
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
