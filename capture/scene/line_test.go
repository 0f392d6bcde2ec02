package scene

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"
	"time"

	"nightfloor/survey"
)

// A steady carrier comes out as A·exp(2πj·f·t) in every sample, across frames,
// refreshes and the loss of a frame's edges. The table of angles is good to −74
// dB and the channel cuts the ramps off at half its width: −60 dB is asked for.
func TestSteadyCarrierIsSmooth(t *testing.T) {
	const rate = 1.024e6
	for _, offset := range []float64{-431234.5, 17.3, 100e3, 311003.9} {
		w := lineless(9.61e6*(1+clockError)+offset, 60)
		s := newSynth(w, rate, rand.NewPCG(1, 1))
		m, err := mount(setupOf("whip", "loft", -1))
		if err != nil {
			t.Fatal(err)
		}
		const index = 7_000_003
		s.start(view{at: m, centre: 9.61e6, gain: 30}, index)
		want := s.scale(w.carrier(m, &w.stations[0], index/rate), offset)
		var worst float64
		for frames := range 100 {
			if frames > 0 && frames%levelHops == 0 {
				s.levels()
			}
			s.lines()
			for i := range hop {
				_, turn := math.Modf(offset * float64(s.frameStart+int64(i)) / rate)
				sin, cos := math.Sincos(2 * math.Pi * turn)
				d := cmplx.Abs(complex(float64(s.outRe[i])-want*cos, float64(s.outIm[i])-want*sin)) / want
				worst = max(worst, d)
			}
			s.frameStart += hop
		}
		if worst > 1e-3 {
			t.Errorf("carrier at %.1f Hz: a sample is %.2e of the amplitude off, want under 1e-3", offset, worst)
		}
	}
}

// A broadcaster's carrier, fading and all, is where and as strong as it should
// be: its DFT over 0.1 s, with the fading known, at ten moments. Noise in the
// 15 Hz of that window (1.5 bins) sets the tolerance, five times its rms;
// sidebands begin at 100 Hz.
func TestCarrierLevelAndFrequency(t *testing.T) {
	setup := setupOf("whip", "loft", -1)
	const centre = 9.61115e6 // off the raster: no station's image falls on another
	h := listen(t, listening{Options: Options{Start: at(19, 0)}, seed: seedOf(t), setup: setup, gain: 33.8}, centre)
	rate := float64(h.info.SampleRate)
	best := h.synth.channels[0]
	for _, c := range h.synth.channels {
		if cmplx.Abs(c.now) > cmplx.Abs(best.now) {
			best = c
		}
	}
	density, err := h.Truth().Density(setup, centre, 33.8, h.Now())
	if err != nil {
		t.Fatal(err)
	}
	const n = 102400 // 0.1 s
	for range 10 {
		first := h.index()
		var sum, weight complex128
		for i, x := range samplesOf(read(t, h, n)) {
			w := 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/n)
			_, turn := math.Modf(best.offset * float64(first+int64(i)) / rate)
			sin, cos := math.Sincos(-2 * math.Pi * turn)
			sum += complex(w, 0) * x * complex(cos, sin)
			if i%1024 == 512 {
				weight += complex(1024*w, 0) * best.fade(float64(first+int64(i))/rate)
			}
		}
		amplitude := cmplx.Abs(weight) / (n / 2)
		tolerance := 0.01 + 5*math.Sqrt(15*density.Linear())/amplitude
		if got := sum / weight; cmplx.Abs(got-1) > tolerance {
			t.Errorf("carrier of %s: %.3f of what it should be, want 1 ± %.3f", best.station.name, got, tolerance)
		}
	}
	within(t, "frequency of the station at the receiver, Hz", best.offset+centre*(1+clockError), best.station.frequency, 1e-3)
	within(t, "distance from the 5 kHz raster, Hz", math.Remainder(best.station.frequency, 5e3), 0, 15)
}

// DC spike and mirror image stand at their levels: with a steady carrier of
// −12 dBFS the image is 45 dB under it and the offset at −45 dBFS. In 1 s, noise
// in 10 Hz is 40 dB under them.
func TestSpikeAndImage(t *testing.T) {
	const rate, offset = 1.024e6, 100e3
	w := lineless(9.61e6*(1+clockError)+offset, 60)
	m := mounted{kind: whip, room: loft}
	s := newSynth(w, rate, rand.NewPCG(1, 1))
	gain := fullScale - 12 - toDB(w.carrier(m, &w.stations[0], 0))
	s.start(view{at: m, centre: 9.61e6, gain: gain}, 0)
	var iq []byte
	for len(iq) < 2*rate {
		s.next()
		buf := make([]byte, 2*hop)
		s.quantise(buf, s.outRe, s.outIm)
		iq = append(iq, buf...)
	}
	p := spectrumOf(samplesOf(iq), 1<<17, rate, 0)
	level := func(f float64) float64 { return toDB(p.power(f-40, f+40)) }
	within(t, "carrier, dBFS", level(offset), -12, 0.1)
	within(t, "image, dBc", level(-offset)-level(offset), imageLevel, 0.3)
	within(t, "spike, dBFS", level(0), spikeLevel, 0.3)
}

// A supply's lines stand at multiples of its frequency as it drifts, with the
// power stated, spread by its wobble: 150 · 0.35 Hz is a swing of ±53 Hz.
func TestCombLines(t *testing.T) {
	setup := setupOf("whip", "study", -1)
	h := listen(t, listening{Options: Options{Start: at(17, 0)}, seed: seedOf(t), setup: setup, gain: 24}, 8.3e6)
	h.world.stations = nil
	h.world.supplies = h.world.supplies[:1]
	h.synth.start(h.view, h.index())
	h.undelivered = 0
	rate := float64(h.info.SampleRate)
	now := h.world.since(h.Now())
	p := spectrumOf(samplesOf(read(t, h, int(rate))), 16384, rate, 8.3e6*(1+clockError))
	u := &h.world.supplies[0]
	long, on := u.since(h.world.timeOfDay(now + 0.5))
	if !on {
		t.Fatal("lamp driver is off in the evening")
	}
	f := u.frequency(long)
	if f-u.spacing < 10 {
		t.Errorf("lamp driver runs %.1f Hz off its frequency 20 minutes after start, want a drift", f-u.spacing)
	}
	for n := math.Ceil(8.05e6 / f); n*f < 8.55e6; n++ {
		line := n * f
		if math.Abs(line-8.3e6) < 5e3 {
			continue // the spike
		}
		noise := p.mean(line-8e3, line-3e3, nil)
		got := p.power(line-1500, line+1500) - 3000*noise
		want := u.linePower(line) * u.coupling(h.view.at, line) * h.view.at.terminalPower() / fullScalePower(h.view.gain) * droop((line-8.3e6)/rate)
		// Noise in 3 kHz over 1 s is known to 1/√3000; lines are as strong as that
		// noise or less by 15 dB: 0.6 dB.
		within(t, "comb line, dBFS", toDB(got), toDB(want), 1)
		beside := p.power(line+8e3, line+11e3) - 3000*noise
		if beside > got/3 {
			t.Errorf("beside line %.0f: %.1f dBFS, want nothing", n, toDB(beside))
		}
	}
}

// The carrier's fading has mean power 1 and does not know of the other
// polarisation's.
func TestFadingIsPartlyIndependent(t *testing.T) {
	stations := newStations(seedOf(t))
	var power, cross, n float64
	for i := range stations {
		for k := range 400 {
			when := float64(k) * 61
			v, h := stations[i].fading[verticalPart].at(when), stations[i].fading[horizontalPart].at(when)
			power += real(v * cmplx.Conj(v))
			cross += real(v * cmplx.Conj(h))
			n++
		}
	}
	// 27,000 looks, a minute apart: standard error of the mean of exponential
	// powers 1/√27,000 = 0.6 %.
	within(t, "mean power", power/n, 1, 0.03)
	within(t, "correlation of polarisations", cross/n, 0, 0.03)
	// Whip and loop: of the loop's amplitude at 0° only the house's part is new.
	loopHears := mounted{kind: loop, room: loft}.response(0, 20)
	within(t, "house's share of a loop's power", loopHears[housePart]*loopHears[housePart]/loopHears.power(), 0.09/1.09, 1e-6)
}

// Sidebands are really those of amplitude modulation: removed the carrier's
// phase, what is left is in phase with it.
func TestSidebandsAreInPhase(t *testing.T) {
	const rate, offset = 1.024e6, 100e3
	w := lineless(9.61e6*(1+clockError)+offset, 60)
	w.stations[0].depth = 0.3
	s := newSynth(w, rate, rand.NewPCG(1, 1))
	s.start(view{at: mounted{kind: whip, room: loft}, centre: 9.61e6, gain: 30}, 0)
	var in, across, carrier, n float64
	for range 2000 { // 7 s, most of the loop of speech
		s.lines()
		for i := 0; i < hop; i += 7 {
			_, turn := math.Modf(offset * float64(s.frameStart+int64(i)) / rate)
			sin, cos := math.Sincos(2 * math.Pi * turn)
			re := float64(s.outRe[i])*cos + float64(s.outIm[i])*sin
			im := float64(s.outIm[i])*cos - float64(s.outRe[i])*sin
			carrier += re
			in += re * re
			across += im * im
			n++
		}
		s.frameStart += hop
	}
	carrier /= n
	sidebands := in/n/(carrier*carrier) - 1
	// The loop's rms is 1: sidebands hold 0.3² of the carrier's power.
	within(t, "sidebands over carrier, dB", toDB(sidebands), toDB(0.09), 0.7)
	if across/n > 1e-4*in/n {
		t.Errorf("out of phase: %.1f dB of the whole, want under −40", toDB(across/in))
	}
}

// The sky follows the sun: 19 m comes by day, 49 m at night.
func TestScheduleFollowsTheSun(t *testing.T) {
	w := newWorld(1, at(0, 0), 52, 9)
	noon, midnight := 12*3600.0, 24*3600.0
	if gain := w.pathLoss(15.4e6, 2000, midnight) - w.pathLoss(15.4e6, 2000, noon); gain < 20 {
		t.Errorf("15.4 MHz is %.1f dB better at noon than at midnight, want 20 or more", gain)
	}
	if gain := w.pathLoss(6e6, 2000, noon) - w.pathLoss(6e6, 2000, midnight); gain < 15 {
		t.Errorf("6 MHz is %.1f dB better at midnight than at noon, want 15 or more", gain)
	}
	if len(w.stations) < 40 {
		t.Errorf("%d stations, want 40 or more", len(w.stations))
	}
	tr := Truth{world: w, rate: defaultRate}
	var sending int
	for _, s := range tr.Stations(5.9e6, 15.8e6, at(10, 0)) {
		if s.OnAir {
			sending++
		}
	}
	if sending == 0 || sending == len(w.stations) {
		t.Errorf("%d of %d stations on the air at 10:00, want some but not all", sending, len(w.stations))
	}
}

// A loop turned broadside to a supply keeps it out, all but the antenna effect;
// a whip beside the supply takes up more than its share by the electric field:
// at 2.2 m and 5 MHz, 12.3 dB more than a loop (PHYSICS.md 6.2: 13.2 dB at 2 m).
func TestLoopNullAndNearField(t *testing.T) {
	u := &houseSupplies()[0]
	null := u.coupling(mounted{kind: loop, room: study, bearing: u.null[study]}, 9.6e6)
	peak := u.coupling(mounted{kind: loop, room: study, bearing: u.null[study] + 90}, 9.6e6)
	within(t, "depth of the null, dB", toDB(peak/null), 20, 0.1)
	u.distance[study] = 2
	loopPeak := u.coupling(mounted{kind: loop, room: study, bearing: u.null[study] + 90}, 5e6) / 1.01
	within(t, "loop against whip at 2 m, 5 MHz, dB", toDB(u.coupling(mounted{kind: whip, room: study}, 5e6)/loopPeak), 13.2, 0.1)
	// And a station broadside, low: 0.3² of house, sin²(10°) of the other
	// polarisation: −9.3 dB of the peak with its house's part.
	m := mounted{kind: loop, room: loft, bearing: 0}
	got := m.response(90, 10).power() / m.response(0, 10).power()
	within(t, "station in the null, dB", toDB(got), toDB((0.09+0.0302)/1.09), 0.01)
}

// The ranking built in: differences that are clear, and one that is a tie.
func TestAdvantages(t *testing.T) {
	h, err := Open("scene:house", Options{})
	if err != nil {
		t.Fatal(err)
	}
	reference := setupOf("whip", "study", -1)
	night := func(s survey.Setup, low, high survey.Hz) float64 {
		a, n, err := h.Truth().Advantage(s, reference, low, high, at(18, 0), at(18, 0).Add(12*time.Hour))
		if err != nil || n < 5 {
			t.Fatalf("%v: %d stations, %v", s, n, err)
		}
		t.Logf("%v from %v to %v: %+.2f dB, %d stations", s, low, high, a, n)
		return float64(a)
	}
	within(t, "the reference against itself", night(reference, 5.9e6, 6.2e6), 0, 1e-9)
	studyLoop := night(setupOf("loop", "study", 40), 5.9e6, 6.2e6)
	if studyLoop < 3 || studyLoop > 9 {
		t.Errorf("loop in the study: %.1f dB over the whip, want a clear 3 to 9", studyLoop)
	}
	if loftWhip := night(setupOf("whip", "loft", -1), 5.9e6, 6.2e6); loftWhip < studyLoop+3 {
		t.Errorf("whip in the loft: %.1f dB, want 3 more than the loop in the study", loftWhip)
	}
	tie := night(setupOf("loop", "loft", 40), 9.4e6, 9.7e6) - night(setupOf("dipole", "loft", -1), 9.4e6, 9.7e6)
	within(t, "loop and dipole in the loft in 31 m", tie, 0, 1)
}
