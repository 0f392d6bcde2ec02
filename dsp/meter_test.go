package dsp

import (
	"bytes"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// meterFor makes a meter over the scenes' band.
func meterFor(t testing.TB, rate float64, samples int, band spectrum.Band) *Meter {
	t.Helper()
	m, err := NewMeter(MeterOptions{Rate: rate, Centre: sceneCentre, Samples: int64(samples), Bands: []spectrum.Band{band}})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// fewerIfShort gives all cases, or the first n with -short. Under the race detector, where tests
// run with -short, arithmetic takes ten times as long.
func fewerIfShort[T any](n int, cases []T) []T {
	if testing.Short() && len(cases) > n {
		return cases[:n]
	}
	return cases
}

// addHump adds noise with a smooth rise in frequency: peak density at the middle, falling as a
// raised cosine to nothing width/2 away, all in Hz.
func addHump(s *dsptest.Signal, peak, middle, width float64) *dsptest.Signal {
	return s.Shaped(func(hz float64) float64 {
		t := (hz - middle) / width
		if math.Abs(t) >= 0.5 {
			return 0
		}
		c := math.Cos(math.Pi * t)
		return peak * c * c
	})
}

// The measurement does not depend on how the samples arrive, nor on what the
// meter measured before.
func TestMeterTakesAnyBlocks(t *testing.T) {
	const rate, n = 250e3, 500_000 // 2 s: four chunks
	s := dsptest.Broadcast(5, rate, sceneCentre, sceneCentre-80e3, sceneCentre+80e3, 0.4)
	iq := dsptest.U8(nil, s.Samples(n))
	band := spectrum.Band{Low: sceneCentre - 80e3, High: sceneCentre + 80e3}
	m := meterFor(t, rate, n, band)
	m.WriteU8(iq)
	whole, err := m.Finish()
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(1, 2))
	if err := m.Retune(sceneCentre, []spectrum.Band{band}); err != nil {
		t.Fatal(err)
	}
	for rest := iq; len(rest) > 0; {
		k := min(len(rest), 2*r.IntN(30000))
		m.WriteU8(rest[:k])
		rest = rest[k:]
	}
	blocks, err := m.Finish()
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(whole, blocks) {
		t.Errorf("in blocks %+v, in one %+v", blocks.Bands[0].Floor, whole.Bands[0].Floor)
	}
	if n := len(whole.Bands[0].Carriers); n < 4 {
		t.Errorf("%d carriers over four chunks", n)
	}
}

// samplesOf gives the samples that bytes stand for: (code − 127.5)/128.
func samplesOf(iq []byte) []complex64 {
	x := make([]complex64, len(iq)/2)
	for i := range x {
		x[i] = complex((float32(iq[2*i])-127.5)/128, (float32(iq[2*i+1])-127.5)/128)
	}
	return x
}

// Bytes and the samples they stand for give the same.
func TestMeterBytesAndSamples(t *testing.T) {
	const rate, n = 250e3, 125_000
	iq := dsptest.U8(nil, dsptest.New(6, rate, sceneCentre).Noise(1e-9).Tone(sceneCentre+20e3, -30, 0).Samples(n))
	band := spectrum.Band{Low: sceneCentre - 80e3, High: sceneCentre + 80e3}
	a, b := meterFor(t, rate, n, band), meterFor(t, rate, n, band)
	a.WriteU8(iq)
	b.Write(samplesOf(iq))
	x, errX := a.Finish()
	y, errY := b.Finish()
	if errX != nil || errY != nil {
		t.Fatal(errX, errY)
	}
	if p, q := x.Bands[0].Floor.Density, y.Bands[0].Floor.Density; math.Abs(p/q-1) > 1e-6 { // single precision
		t.Errorf("floors %g and %g", p, q)
	}
	if math.Abs(x.DC-y.DC) > 1e-9 {
		t.Errorf("DC %g and %g", x.DC, y.DC)
	}
}

// At the least rate noise is measured as elsewhere, a carrier in it or not; just under it the
// error says the rate. In 2 s the mean of the free 52 columns of 61 Hz scatters by
// √(1.94/52/254) = 1.2 %, 0.053 dB, that of 60
// recordings by 0.007 dB; four of these are granted, and 0.01 dB for the steps and the mask.
func TestLeastRate(t *testing.T) {
	const recordings, density = 60, 1e-6 // 8-bit steps add 1.3e-9
	for carriers := range 2 {
		sum := 0.0
		for seed := range uint64(recordings) {
			s := dsptest.New(seed, leastRate, sceneCentre).Noise(density)
			if carriers > 0 {
				s.Tone(sceneCentre+1700, -10, 0)
			}
			b := measureBand(t, s, 2, spectrum.Band{Low: sceneCentre - 2599, High: sceneCentre + 2599})
			if b.Floor == nil || len(b.Carriers) != carriers {
				t.Fatalf("%d carriers: floor %v, %v", carriers, b.Floor, b.Carriers)
			}
			e := stat.DB(b.Floor.Density / density)
			if sum += e / recordings; math.Abs(e) > 4*b.Floor.Sigma {
				t.Errorf("%d carriers: %.3f ± %.3f dB off", carriers, e, b.Floor.Sigma)
			}
		}
		if math.Abs(sum) > 0.04 {
			t.Errorf("%d carriers: %.3f dB off on the mean", carriers, sum)
		}
	}
	if _, err := NewMeter(MeterOptions{Rate: 7799}); !errors.Is(err, ErrTooSlow) || !strings.HasSuffix(err.Error(), "record with 7800 or more") {
		t.Errorf("7799 samples a second: %v", err)
	}
}

// What cannot be measured is said.
func TestMeterRefuses(t *testing.T) {
	band := []spectrum.Band{{Low: sceneCentre - 5e3, High: sceneCentre + 5e3}}
	if _, err := NewMeter(MeterOptions{Rate: 0, Bands: band}); err == nil {
		t.Error("no rate: no error")
	}
	_, err := NewMeter(MeterOptions{Rate: 250e3, Centre: sceneCentre, Bands: []spectrum.Band{{Low: sceneCentre, High: sceneCentre + 100e3}}})
	if !errors.Is(err, ErrOutside) {
		t.Errorf("band beyond two thirds of 250 kS/s: %v", err)
	}
	if _, err := NewMeter(MeterOptions{Rate: 250e3, Centre: sceneCentre, Samples: 100, Bands: band}); !errors.Is(err, ErrTooShort) {
		t.Errorf("100 samples expected: %v", err)
	}
	m := meterFor(t, 250e3, 0, band[0])
	m.Write(make([]complex64, 100))
	if _, err := m.Finish(); !errors.Is(err, ErrTooShort) {
		t.Errorf("100 samples: %v", err)
	}
}

// Isolated pulses do not raise the floor, nor do many that come in no step with
// the mains; the same pulses a hundred times a second are the mains' noise and
// do.
func TestPulsesAndTheFloor(t *testing.T) {
	for _, test := range []struct {
		rate, share float64
		random      bool
	}{{6, 0, false}, {100, 1, false}, {120, 1, false}, {137, 0, false}, {200, 0, true}, {700, 0, true}} {
		const density = 1e-9
		s := dsptest.New(8, 1.024e6, sceneCentre).Noise(density)
		// 0.2 ms at 20 dB over the floor: a mean of density·100·2e-4·rate.
		s.Pulses(dsptest.Pulses{Rate: test.rate, Length: 2e-4, Density: 100 * density, Poisson: test.random})
		b := measureBand(t, s, 0.5, sceneBand)
		truth := s.Density(sceneBand.Low, sceneBand.High, dsptest.StepU8) + test.share*density*100*2e-4*test.rate
		// In 500 kHz and 0.5 s one sigma is 0.01 dB; with bursts of 2 % duty
		// five times that. What is taken out holds up to 14 times the floor's
		// power, and 1 % of it may be left.
		tol := 0.1 + 0.15*test.share
		if test.share == 0 && test.rate > 20 {
			tol += 10 * math.Log10(1+0.01*100*2e-4*test.rate)
		}
		if e := 10 * math.Log10(b.Floor.Density/truth); math.Abs(e) > tol {
			t.Errorf("%v pulses a second: floor %.2f dB off", test.rate, e)
		}
	}
}

// In the middle of a recording nothing is allocated.
func TestMeterAllocatesNothing(t *testing.T) {
	const rate = 250e3
	iq := dsptest.U8(nil, dsptest.Broadcast(9, rate, sceneCentre, sceneCentre-80e3, sceneCentre+80e3, 0.4).Samples(1<<17))
	m := meterFor(t, rate, 0, spectrum.Band{Low: sceneCentre - 80e3, High: sceneCentre + 80e3})
	for range 3 {
		m.WriteU8(iq)
	}
	if n := testing.AllocsPerRun(3, func() { m.WriteU8(iq) }); n > 0 {
		t.Errorf("%v allocations in half a second", n)
	}
}

// Every sample rate from an audio recording's up gives the floor of noise.
func TestMeterAtAnyRate(t *testing.T) {
	for _, rate := range []float64{48e3, 225001, 960e3, 2.048e6, 3.2e6} {
		low, high := spectrum.Usable(rate)
		const density = 1e-9
		s := dsptest.New(12, rate, sceneCentre).Noise(density)
		b := measureBand(t, s, 0.5, spectrum.Band{Low: sceneCentre + low, High: sceneCentre + high})
		truth := s.Density(sceneCentre+low, sceneCentre+high, dsptest.StepU8)
		// At 48 kS/s 8 bits are coarser than the noise: see there for nothing
		// but a floor at all; from 225 kS/s on four sigma.
		e := 10 * math.Log10(b.Floor.Density/truth)
		if rate > 2e5 && math.Abs(e) > 4*b.Floor.Sigma {
			t.Errorf("%v S/s: floor %.3f dB off, sigma %.3f", rate, e, b.Floor.Sigma)
		}
		if len(b.Carriers) > 0 {
			t.Errorf("%v S/s: %d carriers", rate, len(b.Carriers))
		}
	}
}

// Silence, as in a damaged file, has neither floor nor carriers.
func TestMeterOnSilence(t *testing.T) {
	m := meterFor(t, 250e3, 125_000, spectrum.Band{Low: sceneCentre - 50e3, High: sceneCentre + 50e3})
	for _, code := range []byte{0, 128, 255} { // a constant is an offset, no noise
		m.WriteU8(bytes.Repeat([]byte{code}, 250_000))
		got, err := m.Finish()
		if err != nil {
			t.Fatal(err)
		}
		if b := got.Bands[0]; b.Floor != nil || b.Vd != nil || b.Crowded || len(b.Carriers) != 0 {
			t.Errorf("code %d: floor %v, Vd %v, crowded %v, carriers %v", code, b.Floor, b.Vd, b.Crowded, b.Carriers)
		}
		if err := m.Retune(sceneCentre, []spectrum.Band{{Low: sceneCentre - 50e3, High: sceneCentre + 50e3}}); err != nil {
			t.Fatal(err)
		}
	}
	beside := make([]complex64, 125_000) // a tone at full scale, outside of the passband
	for i := range beside {
		sin, cos := math.Sincos(2 * math.Pi * math.Mod(0.4513*float64(i), 1))
		beside[i] = complex(float32(cos), float32(sin))
	}
	for _, x := range [][]complex64{make([]complex64, 125_000), beside} {
		m.Write(x)
		got, err := m.Finish()
		if err != nil {
			t.Fatal(err)
		}
		if b := got.Bands[0]; b.Floor != nil || b.Vd != nil || b.Crowded || len(b.Carriers) != 0 {
			t.Errorf("%v …: floor %v, Vd %v, carriers %v", x[:2], b.Floor, b.Vd, b.Carriers)
		}
		if err := m.Retune(sceneCentre, m.o.Bands); err != nil {
			t.Fatal(err)
		}
	}
}

// A line that lasts through a recording of many chunks keeps its level and gets
// a finer frequency; one that comes and goes stays one line.
func TestLinesOverChunks(t *testing.T) {
	s := dsptest.New(13, 250e3, sceneCentre).Noise(1e-9)
	s.Tone(sceneCentre+30_011.3, -50, 0)
	s.Station(dsptest.Station{Hz: sceneCentre - 30e3, Level: -45, Depth: 0.3, Doppler: 0.1})
	b := measureBand(t, s, 3, spectrum.Band{Low: sceneCentre - 80e3, High: sceneCentre + 80e3})
	if len(b.Carriers) != 2 {
		t.Fatalf("%d carriers, want 2: %v", len(b.Carriers), b.Carriers)
	}
	// In half a second a line of power P in noise of density D scatters by
	// √(2·D·1.94·1.33/0.5 s/P): 3.2 %, 0.14 dB; in 3 s by 0.057 dB, of which
	// three are granted.
	l := b.Carriers[1]
	if e := 10*math.Log10(l.Power) + 50; math.Abs(e) > 0.17 || math.Abs(l.Frequency-sceneCentre-30_011.3) > 0.05 {
		t.Errorf("%.2f dB, %.3f Hz off", e, l.Frequency-sceneCentre-30_011.3)
	}
}

// A meter that has measured something else gives the same as a new one: nothing
// of the last reading is left in it.
func TestMeterForgets(t *testing.T) {
	band := spectrum.Band{Low: sceneCentre - 80e3, High: sceneCentre + 80e3}
	busy := dsptest.New(21, 250e3, sceneCentre).Noise(1e-8).Tone(sceneCentre+20e3, -20, 0).DC(0.1)
	busy.Pulses(dsptest.Pulses{Rate: 200, Length: 2e-4, Density: 1e-6, Poisson: true})
	iq := dsptest.U8(nil, dsptest.Broadcast(22, 250e3, sceneCentre, band.Low, band.High, 0.4).Samples(125_000))
	finish := func(m *Meter) Measurement {
		m.WriteU8(iq)
		got, err := m.Finish()
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	fresh := finish(meterFor(t, 250e3, 125_000, band))
	used := meterFor(t, 250e3, 125_000, band)
	used.WriteU8(dsptest.U8(nil, busy.Samples(125_000)))
	if _, err := used.Finish(); err != nil {
		t.Fatal(err)
	}
	if err := used.Retune(sceneCentre, []spectrum.Band{band}); err != nil {
		t.Fatal(err)
	}
	if got := finish(used); !reflect.DeepEqual(got, fresh) {
		t.Errorf("after another reading %+v, of itself %+v", got.Bands[0].Floor, fresh.Bands[0].Floor)
	}
}
