package rtlsdr

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
	"nightfloor/survey/passband"
)

const room = -173.975 // k · 290 K, dBm/Hz

func dbm(linear float64) float64    { return 10 * math.Log10(linear) }
func milliwatts(db float64) float64 { return math.Pow(10, db/10) }

// upconverter opens the stand-in with an up-converter that makes a known sky of it, tuned to 9.65 MHz at a gain.
func upconverter(t *testing.T, gain survey.DB, lines ...string) *Receiver {
	t.Helper()
	standIn(t, append([]string{"upconverter 125000000", "queue 0.005"}, lines...)...)
	r := open(t, Options{FrontEnd: survey.FrontEnd{Way: survey.WayUp, Offset: 125e6}})
	if _, err := r.SetGain(t.Context(), gain); err != nil {
		t.Fatal(err)
	}
	tune(t, r, 9.65e6)
	return r
}

// heard gives the power in the passband, dBm at the terminal, of a receiver whose
// full scale is that.
func heard(t *testing.T, r *Receiver, fullScale float64) float64 {
	t.Helper()
	iq, _ := read(t, r, 1<<19)
	return rms(iq) + fullScale
}

// An attenuator at room temperature takes its dB off noise and carriers from outside and brings
// k·T·(1 − 1/L): a termination behind it stays one.
func TestAttenuator(t *testing.T) {
	const full, gain, figure, width = -50.0, 28.0, 8.0, 63.80211 // dB: 2.4 MHz
	for _, test := range []struct {
		noise, attenuator float64
		terminated        int
	}{{-150, 0, 0}, {-150, 10, 0}, {-150, 30, 0}, {-160, 10, 0}, {-160, 3, 0}, {-150, 20, 1}, {-173.975, 20, 0}} {
		r := upconverter(t, gain, fmt.Sprintf("fullscale %g", full), fmt.Sprintf("figure %g", figure), fmt.Sprintf("noise %g", test.noise),
			fmt.Sprintf("attenuator %g", test.attenuator), fmt.Sprintf("terminated %d", test.terminated))
		in := milliwatts(test.noise)
		if test.terminated == 1 {
			in = milliwatts(room)
		}
		loss := milliwatts(-test.attenuator)
		want := dbm(in*loss+milliwatts(room)*(1-loss)+milliwatts(room)*(milliwatts(figure)-1)) + width
		// 2^19 values: 0.006 dB a sigma. Rounding's 1/6 of a squared code.
		want = dbm(milliwatts(want) + 2.0/12/(128*128)*milliwatts(full-gain))
		if got := heard(t, r, full-gain); math.Abs(got-want) > 0.05 {
			t.Errorf("%+v: %.2f dBm, want %.2f", test, got, want)
		}
		r.Close()
	}
	// A carrier falls by all of it, whatever the noise.
	for _, attenuator := range []float64{0, 3, 10, 20} {
		r := upconverter(t, 20.7, "fullscale -40", "noise -173", "carrier 9650500 -65", fmt.Sprintf("attenuator %g", attenuator))
		if got, want := heard(t, r, -40-20.7), -65-attenuator; math.Abs(got-want) > 0.1 {
			t.Errorf("behind %g dB a carrier stands at %.2f dBm, want %.2f", attenuator, got, want)
		}
		r.Close()
	}
}

// A noise source of a known excess noise ratio tells the noise figure: F = ENR/(Y − 1).
func TestNoiseSource(t *testing.T) {
	const figure, enr = 8.0, 15.0
	var power [2]float64
	for on := range power {
		r := upconverter(t, 28, "fullscale -50", "noise -120", "carrier 9650500 -60", fmt.Sprintf("figure %g", figure), fmt.Sprintf("enr %g", enr), fmt.Sprintf("source %d", on))
		power[on] = milliwatts(heard(t, r, -50-28))
		r.Close()
	}
	if got := enr - dbm(power[1]/power[0]-1); math.Abs(got-figure) > 0.05 {
		t.Errorf("noise figure %.2f dB by Y = %.2f dB, want %g", got, dbm(power[1]/power[0]), figure)
	}
	if want := room + figure + 63.80211; math.Abs(dbm(power[0])-want) > 0.05 {
		t.Errorf("off it leaves %.2f dBm, want k·T·F, %.2f: nothing comes from the antenna", dbm(power[0]), want)
	}
}

// tonePower gives the power of a line in samples that it turns round in whole cycles, dBFS.
func tonePower(iq []byte, cycles int) float64 {
	n := len(iq) / 2
	turn := cmplx.Rect(1, -2*math.Pi*float64(cycles)/float64(n))
	sum, z := complex(0, 0), complex(1, 0)
	for i := 0; i < n; i++ {
		sum += complex(float64(iq[2*i])-127.5, float64(iq[2*i+1])-127.5) * z
		z *= turn
	}
	return 20 * math.Log10(cmplx.Abs(sum)/float64(n)/128)
}

// Third order: one tone is compressed by 1 dB at 9.6 dB under the intercept; two tones have products of
// 3·P − 2·IP3 beside them, which fall by 3 dB for each of an attenuator.
func TestThirdOrder(t *testing.T) {
	const full, ip3, n = -30.0, -34.0, 1 << 20
	at := func(cycles int) string { return fmt.Sprintf("%.4f", 9.65e6+float64(cycles)*2.4e6/n) }
	for _, below := range []float64{30, 9.636} {
		r := upconverter(t, 0, "fullscale -30", fmt.Sprintf("ip3 %g", ip3), "noise -135", "carrier "+at(10000)+fmt.Sprintf(" %g", ip3-below))
		iq, _ := read(t, r, n)
		want := 20 * math.Log10(1-milliwatts(-below))
		if got := tonePower(iq, 10000) + full - (ip3 - below); math.Abs(got-want) > 0.03 || below < 10 && math.Abs(got+1) > 0.03 {
			t.Errorf("%g dB under the intercept a tone loses %.3f dB, want %.3f", below, -got, -want)
		}
		r.Close()
	}
	for _, attenuator := range []float64{0, 6} {
		r := upconverter(t, 0, "fullscale -30", fmt.Sprintf("ip3 %g", ip3), "noise -135", "carrier "+at(10000)+" -50", "carrier "+at(13000)+" -52", fmt.Sprintf("attenuator %g", attenuator))
		iq, _ := read(t, r, n)
		for cycles, want := range map[int]float64{10000: -50 - attenuator, 7000: 2*-50 - 52 - 2*ip3 - 3*attenuator, 16000: -50 + 2*-52 - 2*ip3 - 3*attenuator} {
			// A product 28 dB over the noise in its 2.3 Hz is known to 8.69·10^(−28/20)/√2 = 0.25 dB. The
			// tone itself is compressed: by 20·log(1 − 0.025 − 2·0.016), 0.5 dB.
			got, tolerance := tonePower(iq, cycles)+full, 0.05+3*6.14*math.Pow(10, (-135+dbm(2.4e6/n)-want)/20)
			if cycles == 10000 {
				tolerance = 0.55
			}
			if math.Abs(got-want) > tolerance {
				t.Errorf("behind %g dB the line at %d stands at %.2f dBm, want %.2f", attenuator, cycles, got, want)
			}
		}
		r.Close()
	}
}

// Second order: stations elsewhere make sums and differences here, which fall by 2 dB for each of
// an attenuator; and noise of such products as much as its order says.
func TestSecondOrder(t *testing.T) {
	const full, ip2, n = -45.0, 20.0, 1 << 18
	bin := 2.4e6 / float64(n)
	for _, attenuator := range []float64{0, 10} {
		low, high, half := 3e6, 12.65e6+10000*bin, (9.65e6+20000*bin)/2 // and 9.65e6 − 3e6 + … as a sum
		r := upconverter(t, 0, "fullscale -45", fmt.Sprintf("ip2 %g", ip2), "noise -145", fmt.Sprintf("attenuator %g", attenuator),
			fmt.Sprintf("carrier %.4f -20", low), fmt.Sprintf("carrier %.4f -24", high), fmt.Sprintf("carrier %.4f -18", half))
		iq, _ := read(t, r, n)
		for cycles, want := range map[int]float64{10000: -20 - 24 - ip2 - 2*attenuator, 20000: 2*-18 - ip2 - 6.02 - 2*attenuator} {
			if got := tonePower(iq, cycles) + full; math.Abs(got-want) > 0.15 {
				t.Errorf("behind %g dB the product at %d stands at %.2f dBm, want %.2f", attenuator, cycles, got, want)
			}
		}
		r.Close()
	}
	for _, order := range []float64{2, 3} {
		var fell [2]float64
		for i, attenuator := range []float64{0, 5} {
			r := upconverter(t, 28, "fullscale -50", "figure 0", "noise -173.975", fmt.Sprintf("imd -155 %g", order), fmt.Sprintf("attenuator %g", attenuator))
			fell[i] = heard(t, r, -78)
			r.Close()
		}
		want := dbm(milliwatts(-155)+milliwatts(room)) - dbm(milliwatts(-155-5*order)+milliwatts(room))
		if got := fell[0] - fell[1]; math.Abs(got-want) > 0.05 {
			t.Errorf("noise of order %g falls by %.2f dB behind 5 dB, want %.2f", order, got, want)
		}
	}
}

// A dongle that warms up loses what its gain and clock are off as e^(−t/τ), and drifts on: from where it
// was opened, however often.
func TestWarmUp(t *testing.T) {
	const tau, n = 60.0, 1 << 20
	lines := []string{"fullscale -45", "noise -145", "carrier 9651000 -60", fmt.Sprintf("warm_up 1.5 -4 %g", tau), "drift 6"}
	r := upconverter(t, 0, lines...)
	opened := clock.Elapsed().Seconds() - 0.06 // of tuning
	look := func(age float64) {
		t.Helper()
		at := tune(t, r, 9.65e6)
		iq, _ := read(t, r, n)
		s := clock.Elapsed().Seconds() - opened - n/2.4e6/2 + age
		cold := math.Exp(-s / tau)
		level := rms(iq) - (-60 + 45)
		// What moves in 0.44 s is 0.011 dB and 0.03 ppm at first. −145 dBm/Hz are −81.2 in all.
		if want := 1.5*cold + 6*s/3600; math.Abs(level-want) > 0.05 {
			t.Errorf("after %.1f s gain is off by %.3f dB, want %.3f", s, level, want)
		}
		ppm := (9.651e6 - float64(at) - toneAt(iq, 2.4e6)) / 134.65
		if want := -4 * cold; math.Abs(ppm-want) > 0.05 {
			t.Errorf("after %.1f s the clock is off by %.3f ppm, want %.3f", s, ppm, want)
		}
	}
	look(0)
	for range 3 {
		if err := clock.Sleep(t.Context(), 20*time.Second); err != nil {
			t.Fatal(err)
		}
		look(0)
	}
	r.Close()
	r = upconverter(t, 0, append(lines, "age 3600")...)
	opened = clock.Elapsed().Seconds() - 0.06
	look(3600)
}

// noiseAt gives the density of noise about an offset, dBFS/Hz: of blocks of 1024 samples, in 17 bins.
func noiseAt(iq []byte, offset survey.Hz) float64 {
	const block = 1024
	sum, n := 0.0, 0.0
	for from := 0; from+2*block <= len(iq); from += 2 * block {
		middle := int(math.Round(float64(offset) / 2.4e6 * block))
		for cycles := middle - 8; cycles <= middle+8; cycles++ {
			sum += milliwatts(tonePower(iq[from:from+2*block], cycles))
			n++
		}
	}
	return dbm(sum / n / (2.4e6 / block))
}

// The tuner's filter takes as much off a carrier as off the noise, on top of what the decimation filter
// takes; the front end's slope takes as much off both, by the frequency tuned to.
func TestPassband(t *testing.T) {
	const n, width, full, gain = 1 << 18, 1.5e6, -50.0, 28.0
	const bin = survey.Hz(2.4e6) / n
	outside := dbm(milliwatts(-150) + milliwatts(room)*(milliwatts(8)-1))
	for _, test := range []struct {
		droops int
		centre survey.Hz
	}{{0, 6e6}, {1, 6e6}, {1, 12e6}} {
		lines := []string{"fullscale -50", "figure 8", "noise -150", "slope 0.2", fmt.Sprintf("if_width %g", width), fmt.Sprintf("droop %d", test.droops)}
		taken := func(offset survey.Hz) float64 {
			db := -10*math.Log10(1+math.Pow(2*float64(offset)/width, 8)) + 0.2*(float64(test.centre)/1e6-10)
			if test.droops == 1 {
				db += dbm(passband.Decimation(offset))
			}
			return db
		}
		offsets := []survey.Hz{50000 * bin, -70000 * bin, 90000 * bin} // 0.458, −0.641 and 0.824 MHz
		for _, offset := range offsets {
			lines = append(lines, fmt.Sprintf("carrier %.4f -90", float64(test.centre+offset)))
		}
		r := upconverter(t, gain, lines...)
		if at := tune(t, r, test.centre); at != test.centre {
			t.Fatalf("tuned to %v", at)
		}
		iq, _ := read(t, r, n)
		for _, offset := range offsets {
			// −90 dBm are 50 dB over the noise in a bin: 0.02 dB.
			if got := tonePower(iq, int(offset/bin)) + full - gain - -90; math.Abs(got-taken(offset)) > 0.08 {
				t.Errorf("%+v: a carrier at %v loses %.2f dB, want %.2f", test, offset, -got, -taken(offset))
			}
		}
		// 17 bins of 256 blocks: 0.07 dB a sigma; 97 taps make the filter, and noise is turned by up to 20 kHz.
		for _, offset := range []survey.Hz{0, 0.3e6, -0.55e6, 0.72e6} {
			if got := noiseAt(iq, offset) + full - gain - outside; math.Abs(got-taken(offset)) > 0.3 {
				t.Errorf("%+v: noise at %v loses %.2f dB, want %.2f", test, offset, -got, -taken(offset))
			}
		}
		r.Close()
	}
}

// Time goes on for whoever waits beside a dongle that was pulled out: nothing streams from it any more.
func TestTimeGoesOnUnplugged(t *testing.T) {
	lines := []string{"queue 0.01", "noise -110"}
	standIn(t, lines...)
	r := open(t, Options{FrontEnd: direct})
	tune(t, r, 6e6)
	read(t, r, 1<<16)
	standIn(t, append(lines, "plugged 0")...)
	if _, err := r.Read(t.Context(), make([]byte, 1<<22)); !errors.Is(err, capture.ErrUnplugged) {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	if err := clock.Sleep(ctx, time.Minute); err != nil {
		t.Errorf("a minute does not pass: %v", err)
	}
}

// A gain that is stuck stays what it is, and nobody is told.
func TestStuckGain(t *testing.T) {
	for _, asked := range []survey.DB{0, 28, 49.6} {
		r := upconverter(t, asked, "fullscale -50", "stuck 28", "noise -150")
		outside := dbm(milliwatts(-150) + milliwatts(room)*(milliwatts(8)-1))
		if got, want := heard(t, r, -50-28), outside+63.80211; math.Abs(got-want) > 0.05 {
			t.Errorf("asked for %v dB: %.2f dBm, want %.2f", asked, got, want)
		}
		r.Close()
	}
}
