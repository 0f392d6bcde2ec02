package comb

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"sync/atomic"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/interference"
	"nightfloor/dsp/stat"
)

var long = flag.Bool("long", false, "print how well combs are detected, and how often clean spectra are taken for interference: some 30 minutes (-timeout 2h)")

// certain is the P up to which a finding is listed: confidence 0.999.
const certain = (1 - 0.999) / interference.Kinds

// A motion is how a comb's lines move within the reading, Hz of the fundamental.
type motion struct {
	name          string
	drift, wobble float64
}

var motions = []motion{{"still", 0, 0}, {"drifting", 2, 0}, {"wobbling", 0, 1}}

// wide gives the width that the motion gives line n, over n: a drift goes evenly through
// all frequencies; a wobble dwells at its ends, and is a little wider than it reaches.
func (m motion) wide() float64 { return m.drift/2 + 2*m.wobble }

// combSpectrum makes a spectrum with lines lines of a comb in view, each level dB over
// the floor in one resolution.
func combSpectrum(seed uint64, lines int, level, occupancy float64, m motion) (*View, float64) {
	made := newMadeSpectrum(seed, uint64(lines), 9.65e6)
	spacing := 1.6e6 / float64(lines) * (1 + 0.02*made.r.Float64())
	made.addComb(spacing, math.Pow(10, level/10), m.wide())
	made.addBroadcast(8.85e6, 10.45e6, 10e3, occupancy)
	made.addDC(1000)
	return made.view(), spacing
}

// holds reports whether a spacing is among combs, to 0.1 %.
func holds(found []Comb, spacing float64) bool {
	for _, c := range found {
		if math.Abs(c.Spacing/spacing-1) < 1e-3 {
			return true
		}
	}
	return false
}

// autocorrelated reports whether the plain autocorrelation of the spectrum in dB, its
// running median over 1 MHz taken out, has a peak at lag spacing that noise alone gives
// once in 1/certain spectra: the sum of N products of unit variance scatters by √N.
func autocorrelated(v *View, spacing float64) bool {
	r := make([]float64, len(v.power))
	mean, square := 0.0, 0.0
	half := int(0.5e6 / v.width)
	for b, p := range v.power {
		some := make([]float32, 0, 2*half/64+1) // every 64th is enough for a median over 1 MHz
		for i := max(0, b-half); i < min(len(r), b+half); i += 64 {
			some = append(some, v.power[i])
		}
		r[b] = stat.DB(float64(p / stat.Select(some, len(some)/2)))
		mean, square = mean+r[b], square+r[b]*r[b]
	}
	n := float64(len(r))
	mean /= n
	variance := square/n - mean*mean
	lags := (maxSpacing - minSpacing) / v.width
	best := 0.0
	for lag := int(spacing/v.width) - 1; lag <= int(spacing/v.width)+2; lag++ {
		sum := 0.0
		for b := lag; b < len(r); b++ {
			sum += (r[b] - mean) * (r[b-lag] - mean)
		}
		best = max(best, sum/variance/math.Sqrt(float64(len(r)-lag)))
	}
	return lags*math.Erfc(best/math.Sqrt2)/2 <= certain
}

// TestDetection holds the search for combs to what a nearly ideal detector reaches, and
// prints the whole curve with -long: the share of spectra of half a second at 2.4 MS/s in
// which a comb is found at confidence 0.999, by level of a line over the floor in one
// resolution of 110 Hz.
func TestDetection(t *testing.T) {
	dsptest.SkipIfShort(t)
	for _, c := range []struct {
		lines int
		level float64
	}{{32, -6}, {16, -5}} {
		trials := 20
		if *long {
			trials = 1000
		}
		found := dsptest.CountParallel(trials, func(i int) bool {
			v, spacing := combSpectrum(uint64(i), c.lines, c.level, 0, motions[0])
			return holds(Seek([]*View{v}, certain), spacing)
		})
		t.Logf("%d lines of %v dB, still, empty band: found in %d of %d", c.lines, c.level, found, trials)
		if float64(found) < 0.95*float64(trials)-1 {
			t.Errorf("%d lines of %v dB: found in %d of %d, want 95 %%", c.lines, c.level, found, trials)
		}
	}
	if *long {
		printCurve()
	}
}

// printCurve prints the probability of detection by level.
func printCurve() {
	const trials = 100
	for _, band := range []struct {
		name      string
		occupancy float64
	}{{"empty band", 0}, {"60 % of the 10 kHz raster taken", 0.6}} {
		for _, m := range motions {
			for _, lines := range []int{8, 16, 32} {
				fmt.Printf("\n%s, %s, %d lines\n  level dB        ", band.name, m.name, lines)
				var found, plain string
				for level := -10.0; level <= 6; level += 2 {
					fmt.Printf("%6.0f", level)
					var also atomic.Int64
					n := dsptest.CountParallel(trials, func(i int) bool {
						v, spacing := combSpectrum(uint64(i), lines, level, band.occupancy, m)
						if i < trials/4 && autocorrelated(v, spacing) {
							also.Add(1)
						}
						return holds(Seek([]*View{v}, certain), spacing)
					})
					found += fmt.Sprintf("%6.2f", float64(n)/trials)
					plain += fmt.Sprintf("%6.2f", float64(also.Load())/(trials/4))
				}
				fmt.Printf("\n  found           %s\n  autocorrelation %s\n", found, plain)
			}
		}
	}
}

// cleanSpectrum makes a spectrum without any interference, and says of what kind.
func cleanSpectrum(seed uint64) (*View, string) {
	r := rand.New(rand.NewPCG(seed, 99))
	m := newMadeSpectrum(seed, 7, 1150+5e3*math.Round((5e6+10e6*r.Float64())/5e3))
	low, high := m.first, m.first+1.6e6
	name := ""
	switch k := seed % 10; {
	case k < 3:
		name = "noise only"
	case k < 8:
		raster := []float64{5e3, 9e3, 10e3}[r.IntN(3)]
		m.addBroadcast(low+1e6*r.Float64()*float64(k%2), high, raster, 0.1+0.8*r.Float64())
		name = fmt.Sprintf("broadcast on %.0f kHz", raster/1e3)
	case k < 9:
		for range 1 + r.IntN(60) {
			m.addBlock(10e3*math.Round((low+1.6e6*r.Float64())/10e3), 10e3, math.Pow(10, 2*r.Float64()))
		}
		name = "blocks of 10 kHz"
	default:
		m.addReceiver(r)
		name = "receiver's own"
	}
	m.addDC(math.Pow(10, 4*r.Float64()))
	return m.view(), name
}

// addReceiver adds what a receiver makes itself: stations and their mirror images, and
// lines of its clocks: of the reference's 28.8 MHz and of 12, 25 and 48 MHz divided.
func (m *madeSpectrum) addReceiver(r *rand.Rand) {
	for range 12 {
		hz := 5e3 * math.Round((m.first+1.6e6*r.Float64())/5e3)
		over := math.Pow(10, 2+4*r.Float64())
		m.addStation(hz, over)
		m.addLine(2*m.centre-hz, over*1e-4, 0)
	}
	for _, clock := range []float64{28.8e6 / 12, 12e6 / 12, 25e6 / 25, 48e6 / 64} {
		clock *= 1 + 1e-4*(r.Float64()-0.5)
		for n := math.Ceil(m.first / clock); n*clock < m.first+1.6e6; n++ {
			m.addLine(n*clock, math.Pow(10, 3*r.Float64()), 0)
		}
	}
}

// TestFalseAlarms counts clean spectra in which a comb is listed.
func TestFalseAlarms(t *testing.T) {
	dsptest.SkipIfShort(t)
	spectra := 60
	if *long {
		spectra = 9500
	}
	tally := dsptest.Tally{T: t}
	alarms := dsptest.CountParallel(spectra, func(i int) bool {
		v, kind := cleanSpectrum(uint64(i))
		found := Seek([]*View{v}, certain)
		return tally.Add(kind, found, len(found) > 0)
	})
	tally.Log()
	t.Logf("%d of %d flagged at confidence 0.999", alarms, spectra)
	if limit := 0.003 * float64(spectra); float64(alarms) > max(1, limit) {
		t.Errorf("%d of %d clean ones flagged, want at most 0.3 %%", alarms, spectra)
	}
}
