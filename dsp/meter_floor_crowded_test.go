package dsp

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/spectrum"
)

// crowdedRate and the band's edges are what crowded bands are simulated in, Hz.
const crowdedRate, crowdedLow, crowdedHigh = 512e3, 9.5e6, 9.8e6

// everySlot fills a raster with stations, their carriers evenly spread from low to high dB over
// the noise in 100 Hz. depth is the rms modulation: speech that peaks at 90 % has about 0.3.
func everySlot(seed uint64, raster, depth, low, high float64) *dsptest.Signal {
	const floor = 1e-10
	s := dsptest.New(seed, crowdedRate, sceneCentre).Noise(floor)
	r := rand.New(rand.NewPCG(seed, 77))
	for hz := crowdedLow; hz <= crowdedHigh; hz += raster {
		s.Station(dsptest.Station{Hz: hz + 20*(r.Float64()-0.5), Level: 10*math.Log10(100*floor) + low + (high-low)*r.Float64(), Depth: depth})
	}
	return s
}

// splattering adds to a band of stations what each spills over its neighbours, so many dB under it.
func splattering(seed uint64, occupancy, under float64) *dsptest.Signal {
	s := dsptest.Broadcast(seed, crowdedRate, sceneCentre, crowdedLow, crowdedHigh, occupancy)
	for _, c := range s.Truth().Carriers {
		s.Splatter(c.Hz, 8e3, c.Level-under)
	}
	return s
}

// crowdedScenes are bands in which programmes reach what no mask takes.
var crowdedScenes = []struct {
	name string
	most float64 // dB: what sigma may be on the mean
	make func(seed uint64) *dsptest.Signal
}{
	{"5 kHz, 30 %", 2, func(seed uint64) *dsptest.Signal { return everySlot(seed, 5e3, 0.1, 20, 60) }},
	{"5 kHz, 60 %", 2, func(seed uint64) *dsptest.Signal { return everySlot(seed, 5e3, 0.2, 20, 60) }},
	{"5 kHz, 90 %", 2, func(seed uint64) *dsptest.Signal { return everySlot(seed, 5e3, 0.3, 20, 60) }},
	{"5 kHz, 90 %, weak", 0.5, func(seed uint64) *dsptest.Signal { return everySlot(seed, 5e3, 0.3, 0, 40) }},
	{"5 kHz, 90 %, of one level", 2, func(seed uint64) *dsptest.Signal { return everySlot(seed, 5e3, 0.3, 40, 40) }},
	{"10 kHz, 30 %, weak", 0.1, func(seed uint64) *dsptest.Signal { return everySlot(seed, 10e3, 0.1, 0, 40) }},
	{"10 kHz, 60 %", 0.5, func(seed uint64) *dsptest.Signal { return everySlot(seed, 10e3, 0.2, 20, 60) }},
	{"10 kHz, 90 %, and mains bursts", 2, func(seed uint64) *dsptest.Signal {
		return everySlot(seed, 10e3, 0.3, 20, 60).Gated(dsptest.Gated{Mean: 3e-10, Mains: 50, Duty: 0.3, Between: -20})
	}},
	{"two strong stations", 0.03, func(seed uint64) *dsptest.Signal {
		s := dsptest.New(seed, crowdedRate, sceneCentre).Noise(1e-10)
		return s.Station(dsptest.Station{Hz: 9.65e6, Level: -15, Depth: 0.3}).Station(dsptest.Station{Hz: 9.665e6, Level: -18, Depth: 0.3})
	}},
	{"splatter 40 dB down", 0.4, func(seed uint64) *dsptest.Signal { return splattering(seed, 0.7, 40) }},
	{"splatter 30 dB down", 2, func(seed uint64) *dsptest.Signal { return splattering(seed, 0.7, 30) }},
}

// A crowded band has a floor whose sigma counts what programmes add to it, or none and the flag.
// Of normal pulls the mean square is 1 ± √(2/n) for each scene; three of those are granted.
func TestCrowdedFloorIsHonest(t *testing.T) {
	dsptest.SkipIfShort(t)
	readings := 5
	if *trials > 0 {
		readings = (*trials + len(crowdedScenes) - 1) / len(crowdedScenes)
	}
	for _, sc := range crowdedScenes {
		var n, sum, pulls, sigmas float64
		for seed := range uint64(readings) {
			m, truth := measureScene(t, scene{rate: crowdedRate, seconds: 0.5, low: crowdedLow / 1e3, high: crowdedHigh / 1e3,
				make: func(seed uint64, _ float64) *dsptest.Signal { return sc.make(seed) }}, seed+1+seeds())
			f := m.Bands[0].Floor
			if f == nil {
				if !m.Bands[0].Crowded {
					t.Errorf("%s, seed %d: no floor, and not crowded", sc.name, seed+1)
				}
				continue
			}
			e := 10 * math.Log10(f.Density/truth)
			n, sum, pulls, sigmas = n+1, sum+e, pulls+e*e/(f.Sigma*f.Sigma), sigmas+f.Sigma
		}
		if n == 0 {
			t.Logf("%-32s none of %d with a floor", sc.name, readings)
			continue
		}
		t.Logf("%-32s %.0f of %d with a floor, %+.3f dB off, sigma %.3f, rms pull %.2f", sc.name, n, readings, sum/n, sigmas/n, math.Sqrt(pulls/n))
		if pulls/n > 1+3*math.Sqrt(2/n) {
			t.Errorf("%s: rms pull %.2f of %.0f readings: sigma is too small", sc.name, math.Sqrt(pulls/n), n)
		}
		if sigmas/n > sc.most {
			t.Errorf("%s: sigma %.2f dB on the mean, want %.2f at most", sc.name, sigmas/n, sc.most)
		}
	}
}

// Weak carriers have no room for their sidebands, and weaker ones are not seen: sigma counts both.
// A station each 5 kHz, 4 to 10 dB over the noise in 100 Hz, has 9 % of that in its sidebands: 0.2 to 0.9 of 46
// resolutions, 0.05 dB on the mean, where steady noise scatters by 0.012.
func TestWeakStationsCount(t *testing.T) {
	dsptest.SkipIfShort(t)
	var pulls, n float64
	for seed := range uint64(4) {
		s := everySlot(seed+1, 5e3, 0.3, 4, 10)
		b := measureBand(t, s, 0.5, spectrum.Band{Low: crowdedLow, High: crowdedHigh})
		if b.Floor == nil {
			t.Fatalf("seed %d: no floor", seed+1)
		}
		e := 10 * math.Log10(b.Floor.Density/s.Density(crowdedLow, crowdedHigh, dsptest.StepU8))
		t.Logf("seed %d: %.3f dB off, sigma %.3f", seed+1, e, b.Floor.Sigma)
		pulls, n = pulls+e*e/(b.Floor.Sigma*b.Floor.Sigma), n+1
	}
	if pulls/n > 1+3*math.Sqrt(2/n) {
		t.Errorf("rms pull %.2f: sigma is too small", math.Sqrt(pulls/n))
	}
}

// Between stations that leave room sigma stays that of noise: over some bands its median is the scene's
// figure in METHODS.md 5.10.
func TestEasyBandsKeepTheirSigma(t *testing.T) {
	dsptest.SkipIfShort(t)
	for _, test := range []struct {
		occupancy, sigma float64
	}{{0.6, 0.018}, {0.85, 0.036}} { // 300 kHz: √(5/3) of 0.014 and 0.028
		var sigmas []float64
		for seed := range uint64(5) {
			s := dsptest.Broadcast(seed+1, crowdedRate, sceneCentre, crowdedLow, crowdedHigh, test.occupancy)
			sigmas = append(sigmas, measureBand(t, s, 0.5, spectrum.Band{Low: crowdedLow, High: crowdedHigh}).Floor.Sigma)
		}
		slices.Sort(sigmas)
		t.Logf("%.0f %%: sigma %.3f", 100*test.occupancy, sigmas)
		if sigmas[2] > 1.3*test.sigma {
			t.Errorf("%.0f %% taken: sigma %.3f, want %.3f", 100*test.occupancy, sigmas[2], test.sigma)
		}
	}
}
