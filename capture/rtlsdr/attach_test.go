package rtlsdr

import (
	"fmt"
	"math"
	"testing"

	"nightfloor/survey"
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
