package store

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"nightfloor/survey"
)

// evening is when the made-up nights begin.
var evening = time.Date(2026, 11, 3, 19, 0, 0, 0, time.UTC)

// openTemp gives a new store in a folder of its own, closed with the test.
func openTemp(t testing.TB) *Store {
	t.Helper()
	s, err := Open(t.Context(), filepath.Join(t.TempDir(), "night.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// begin begins a survey of two setups.
func begin(t testing.TB, s *Store) int64 {
	t.Helper()
	id, err := s.BeginSurvey(t.Context(), survey.Survey{Kind: survey.KindRecord, Simulated: true,
		Site: survey.Site{Name: "mill", Locator: "JO62", MainsHz: 50, Surroundings: "rural"}, Plan: "turns = 3",
		First: nightSetups[0], Receiver: "scene:mill", Seed: math.MaxUint64, Version: "test", Start: evening})
	if err != nil {
		t.Fatal(err)
	}
	return id
}

var nightSetups = []survey.Setup{
	{Antenna: "whip", Placement: "attic"},
	{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(40)},
}

// A night makes sweeps like those of a real one: noise of realistic scatter.
type night struct {
	rng      *rand.Rand
	segments int
	carriers int
	bins     int // 0: no spectra
}

// sweep gives the i-th sweep, ten seconds after the one before.
func (n night) sweep(id int64, i int) *survey.Sweep {
	visit := i/3 + 1
	sw := &survey.Sweep{Survey: id, Round: (visit + 1) / 2, Visit: visit, Setup: nightSetups[(visit-1)%2],
		Start: evening.Add(time.Duration(i) * 10 * time.Second)}
	for g := range n.segments {
		low := survey.Hz(6e6 + 1e6*float64(g))
		r := survey.Reading{
			Segment: survey.Segment{Name: string(rune('a' + g)), Low: low, High: low + 350e3},
			Start:   sw.Start.Add(time.Duration(g) * 600 * time.Millisecond), Duration: 500 * time.Millisecond,
			Centre: low + 400e3, SampleRate: 2.4e6, BinWidth: 2.4e6 / 32768, Resolution: 1.5 * 2.4e6 / 32768,
			Gain:  survey.Gain{DB: 29.7, Known: true},
			Floor: &survey.Floor{Density: survey.DBFSPerHz(-98 + n.rng.NormFloat64()), Sigma: 0.04, Quiet: -98.4},
			Vd:    new(survey.DB(1.05 + 0.01*n.rng.NormFloat64())), VdBandwidth: 10e3, Occupancy: n.rng.Float64(),
			Quality: survey.Quality{DC: -51, IQImbalance: -47, Flags: []string{"low-drive"}},
		}
		for c := range n.carriers {
			f := low + survey.Hz(5e3*float64(c)+n.rng.NormFloat64())
			// A line that is found has an error some 20 dB wider than quiet, one measured by force that of quiet.
			sigma := 1e-9 * n.rng.ExpFloat64()
			quiet := sigma
			if c%2 == 0 {
				quiet = quietOf(sigma, int64(60+n.rng.IntN(40)))
			}
			r.Carriers = append(r.Carriers, survey.Carrier{Frequency: f, Power: 1e-6 * n.rng.ExpFloat64(),
				Sigma: sigma, Quiet: quiet, Detected: c%2 == 0})
		}
		r.Findings = n.findings(low-133e3, low+1467e3, sw.Setup == nightSetups[0])
		if n.bins > 0 {
			r.Spectrum = n.spectrum(low)
		}
		sw.Readings = append(sw.Readings, r)
	}
	return sw
}

// findings are those of a house with three switching supplies in a passband of 1.6 MHz,
// all heard through one setup and measured by force through the other.
func (n night) findings(low, high survey.Hz, heard bool) []survey.Finding {
	confidence := 0.0
	if heard {
		confidence = 1 - 1e-4*n.rng.Float64()
	}
	found := []survey.Finding{{Kind: survey.FindingMains, Low: low, High: high, Envelope: survey.Hz(100 + 0.05*n.rng.NormFloat64()), Mains: 50,
		Depth: n.rng.Float64(), Shape: "two humps", Confidence: confidence, Power: 1e-20 * n.rng.NormFloat64(), Sigma: 1e-20 * n.rng.ExpFloat64()}}
	for _, spacing := range []survey.Hz{65012, 71300, 132450} {
		found = append(found, survey.Finding{Kind: survey.FindingComb, Low: low, High: high, Spacing: spacing + survey.Hz(n.rng.NormFloat64()),
			Lines: int(1.6e6 / spacing), Mains: 50, Strength: survey.DB(8 + n.rng.NormFloat64()), Confidence: confidence,
			Power: 1e-9 * n.rng.NormFloat64(), Sigma: 1e-10 * n.rng.ExpFloat64()})
	}
	return found
}

// spectrum gives averaged noise with broadcasters on it. Half a second at
// 73 Hz a bin is 37 independent looks: each bin scatters by
// 10/ln 10 / √37 = 0.71 dB (a gamma variable's logarithm, to first order).
func (n night) spectrum(low survey.Hz) *survey.Spectrum {
	const looks = 37
	sp := &survey.Spectrum{First: low, Step: 350e3 / survey.Hz(n.bins), ENBW: 1.5, Looks: looks, Density: make([]float32, n.bins)}
	for i := range sp.Density {
		offset := math.Abs(math.Mod(float64(i)*float64(sp.Step), 10e3) - 5e3) // a broadcaster every 10 kHz
		level := -98 + 30*math.Exp(-offset/800)
		sp.Density[i] = float32(level + 10/math.Ln10/math.Sqrt(looks)*n.rng.NormFloat64())
	}
	return sp
}

// seeded gives the tests' own chance.
func seeded() *rand.Rand { return rand.New(rand.NewPCG(1, 2)) }

// all gathers the sweeps that filter means.
func all(t testing.TB, s *Store, filter Filter) (sweeps []*survey.Sweep) {
	t.Helper()
	err := s.Sweeps(context.Background(), filter, func(sw *survey.Sweep) error {
		sweeps = append(sweeps, sw)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return sweeps
}

// isErr spares the tests a line.
func isErr(err, want error) bool { return errors.Is(err, want) }
