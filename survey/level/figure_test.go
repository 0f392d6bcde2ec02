package level

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"nightfloor/survey"
)

const rate survey.Hz = 2.4e6

var band = survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}

// noise is self-noise of a receiver with a noise figure and a full scale, as it would be measured where codes move.
func noise(gain, figure survey.DB, full survey.DBm) survey.SelfNoise {
	own := math.Pow(10, (float64(RoomNoise)+float64(figure)-float64(full))/10)
	return survey.SelfNoise{Segment: band, Gain: gain, Density: survey.DensityOf(own + Rounding(rate)), Sigma: 0.05}
}

// Where the receiver's own noise is as strong as rounding's, an error of the floor counts twice and a tenth of rounding's
// power is 0.43 dB. Under half of that it is not known.
func TestOwn(t *testing.T) {
	for share, known := range map[float64]bool{0.45: false, 0.55: true, 1: true} {
		n := survey.SelfNoise{Segment: band, Density: survey.DensityOf((1 + share) * Rounding(rate)), Sigma: 0.05}
		own, sigma, ok := Own(n, rate)
		if ok != known || ok && math.Abs(own/Rounding(rate)-share) > 1e-6 {
			t.Errorf("%v of rounding: %v (%v), want %v", share, own/Rounding(rate), ok, known)
		}
		if share == 1 {
			near(t, "sigma", float64(sigma), math.Hypot(0.1, 0.434), 0.001)
		}
	}
}

// N + full scale + 173.975: with full scale at −70 dBm a receiver of 8 dB shows −95.975 dBFS/Hz and what
// rounding adds. Told 19 dB too low it comes out at −11.
func TestFigures(t *testing.T) {
	rough := noise(10, 8, -50)
	rough.Sigma = 0.6
	told := []*survey.Calibration{run(0, ref(9.65e6, 10, -50), ref(9.65e6, 30, -70), ref(9.65e6, 40, -80-19))}
	got := Figures(nil, []survey.SelfNoise{rough, noise(30, 8, -70), noise(35, 8, -75), noise(40, 8, -80)}, rate, told, evening)
	if len(got) != 2 || got[0].Gain != 30 || got[1].Gain != 40 || got[0].Segment != "31 m" {
		t.Fatalf("%+v", got)
	}
	near(t, "figure", float64(got[0].Figure), 8, 1e-6)
	near(t, "uncertainty", float64(got[0].Uncertainty), math.Hypot(1.158, 0.05), 0.005)
	near(t, "figure of a wrong level", float64(got[1].Figure), -11, 1e-6)
	told[0].Levels[1].Basis = survey.BasisFigure
	if got := Figures(nil, []survey.SelfNoise{noise(30, 8, -70)}, rate, told, evening); len(got) != 0 {
		t.Errorf("a noise figure of a noise figure: %+v", got)
	}
}

// Where own noise is not known the figure is bounded by all that was measured and its doubt: −108.9 dBFS/Hz ± 2.5 with
// full scale at −50 dBm are 17.6 dB at the most.
func TestCeilings(t *testing.T) {
	rough := noise(10, 8, -50)
	rough.Density, rough.Sigma = -108.9, 2.5
	told := []*survey.Calibration{run(0, ref(9.65e6, 10, -50), ref(9.65e6, 30, -70))}
	all := []survey.SelfNoise{rough, noise(30, 8, -70), noise(35, 8, -75)}
	got := Ceilings(nil, all, rate, told, evening)
	if len(got) != 1 || got[0].Gain != 10 {
		t.Fatalf("%+v", got)
	}
	near(t, "ceiling", float64(got[0].Figure), -108.9+2.5-50+173.975, 1e-6)
	if known := Figures(nil, all, rate, told, evening); len(known) != 1 || known[0].Gain != 30 {
		t.Errorf("%+v", known)
	}
}

// Noise of so few codes that they flip between two values is measured wrong by up to 2.5 dB. What the step from a
// higher gain makes of it is right to 0.3 dB, with a noise figure that is alike at both, and with one that rises
// by what benches found it stays within what is stated.
func TestComputed(t *testing.T) {
	for _, rise := range []float64{0, 0.5} { // dB a dB
		random := rand.New(rand.NewPCG(1, 2))
		full := func(gain survey.DB) survey.DBm { return -40 - survey.DBm(gain) }
		figure := func(gain survey.DB) survey.DB { return 8 + survey.DB(rise)*(30-gain) }
		var levels []survey.LevelReference
		var all, truth []survey.SelfNoise
		for gain := survey.DB(0); gain <= 30; gain += 3 {
			l := ref(9.65e6, gain, full(gain)+survey.DBm(0.02*random.NormFloat64()))
			l.Sigma = 0.02
			levels = append(levels, l)
			n := noise(gain, figure(gain), full(gain))
			truth = append(truth, n)
			if n.Density.Linear() < 2*Rounding(rate)+1.0/2/(128*128)/float64(rate) { // under some half a code
				n.Density, n.Sigma = survey.DensityOf(4*Rounding(rate)), 2.5
			} else {
				n.Density += survey.DBFSPerHz(0.05 * random.NormFloat64())
			}
			all = append(all, n)
		}
		runs := []*survey.Calibration{run(-time.Hour, levels...)}
		computed := 0
		for i, n := range all {
			if !n.Rough() {
				continue
			}
			computed++
			c, ok := Computed(n, all, rate, runs)
			off := math.Abs(float64(c.Density.Over(truth[i].Density)))
			if !ok || rise == 0 && off > 0.3 || off > 2*float64(c.Sigma) {
				t.Errorf("a figure that rises by %v dB a dB, at %v dB: %+v, %.2f dB off (%v)", rise, n.Gain, c, off, ok)
			}
		}
		if computed < 3 {
			t.Errorf("%d gains were rough", computed)
		}
		// Without a level at the gain, or with none measured, the guess stays.
		for _, runs := range [][]*survey.Calibration{nil, {run(0, levels[0])}, {run(0, levels[1:]...)}} {
			if c, ok := Computed(all[0], all, rate, runs); ok {
				t.Errorf("%+v of %+v", c, runs)
			}
		}
	}
}
