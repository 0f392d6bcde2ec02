package reports

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/floor"
	"nightfloor/reports/input"
	"nightfloor/reports/quality"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/text"
	"nightfloor/reports/waterfall"
	"nightfloor/survey"
)

// ownNoise is what a setup is doubted for whose floors are the receiver's own.
const ownNoise = "most floors through it or the reference are the receiver's own noise, or its amplifier's: its floor ranks nobody, and its SNR says as much of these as of the antenna"

const dongle = "rtlsdr:serial=00000042, direct sampling Q, 2.4 MS/s"

// of makes a calibration of the dongle so long before the evening begins.
func of(kind string, before time.Duration) survey.Calibration {
	return survey.Calibration{Kind: kind, Receiver: dongle, At: gainStart.Add(-before)}
}

// noiseRun is the self-noise in the segment at a gain of 30 dB.
func noiseRun(before time.Duration, density survey.DBFSPerHz) survey.Calibration {
	c := of(survey.CalibrateNoise, before)
	c.Noise = []survey.SelfNoise{{Segment: gainSegment, Gain: 30, Density: density, Sigma: 0.1}}
	return c
}

// levelRun says what full scale stands for at gains of 20 and 30 dB.
func levelRun(basis string, at20, at30 survey.DBm) survey.Calibration {
	c := of(survey.CalibrateLevel, time.Hour)
	c.Levels = []survey.LevelReference{{Frequency: 9.65e6, Gain: 20, FullScale: at20, Sigma: 0.3, Basis: basis},
		{Frequency: 9.65e6, Gain: 30, FullScale: at30, Sigma: 0.4, Basis: basis}}
	return c
}

// receiverNoise is what the receiver of noisyHouse adds, at its input.
const receiverNoise = -150.0 // dBm/Hz

var outside = []float64{-135, -146, -155} // dBm/Hz, what each antenna of noisyHouse delivers

// noisyHouse is three setups that hear noise from outside on top of the receiver's
// own, with full scale at −20 dBm: self-noise stands at −130 dBFS/Hz.
func noisyHouse() input.Input {
	w := reporttest.Still()
	w.Start = gainStart
	w.Gain = []float64{0, 2, -3}
	for k, dBm := range outside {
		w.Floor[k] = stats.Decibel(stats.FromDecibel(dBm)+stats.FromDecibel(receiverNoise)) + 20
	}
	w.Gains = []survey.Gain{label(30), label(30), label(30)}
	in := w.Input()
	in.Surveys[0].Receiver = dongle
	in.Calibrations = []survey.Calibration{noiseRun(2*time.Hour, receiverNoise+20), levelRun(survey.BasisGenerator, -10, -20)}
	return in
}

func TestReceiverMargin(t *testing.T) {
	in := noisyHouse()
	// What is over the receiver's own noise by 15, 4 and −5 dB stands, with it, over it
	// by 10·log(1 + 10^1.5) = 15.14, 10·log(1 + 10^0.4) = 5.46 and 1.19 dB.
	margin := []float64{15.14, 5.46, 1.19}
	w := reporttest.NewWorld(0)
	table := floor.Of(reporttest.Selected(in, input.Options{}))
	if len(table.Rows) == 0 {
		t.Fatal("no rows")
	}
	limited := 0
	for _, r := range table.Rows {
		k := slices.IndexFunc([]int{0, 1, 2}, func(k int) bool { return w.Setup(k) == r.Setup })
		reporttest.Near(t, "margin", r.Margin, margin[k], 0.01)
		if r.DBmHz == nil || r.DBmSigma == nil || r.Fa != nil {
			t.Fatalf("%+v", r)
		}
		want, bound := outside[k], k == 2
		if bound {
			want, limited = receiverNoise+margin[2], limited+r.Readings // nothing subtracted
		}
		if q := *r.DBmHz; math.Abs(q.P10-want) > 0.01 || math.Abs(q.P50-want) > 0.01 || math.Abs(q.P90-want) > 0.01 {
			t.Errorf("%v: %+v dBm/Hz, want %.2f", r.Setup, q, want)
		}
		if (r.Limited == r.Readings) != bound || r.Limited != 0 && !bound {
			t.Errorf("%v: %d of %d limited", r.Setup, r.Limited, r.Readings)
		}
		// With r = 10^0.546 = 3.51 the error gain is 3.51/2.51 = 1.40. The level reference's
		// 0.4, 0.40 times the self-noise's 0.1 and 1.40·√(π/2)/√n of the reading's 0.05; beside them 1 dB of the
		// generator's, 0.5 of mismatch and 0.3 of drift (PHYSICS.md 7.11).
		if k == 1 {
			noise := math.Sqrt(0.4*0.4 + 0.04*0.04 + 1.40*1.40*math.Pi/2*0.05*0.05/float64(r.Readings))
			reporttest.Near(t, "sigma", r.DBmSigma, math.Sqrt(1+0.25+0.09+noise*noise), 0.002)
			if b := r.DBmBudget; b.Basis != survey.BasisGenerator || b.Source != 1 || b.Mismatch != 0.5 || math.Abs(float64(b.Drift)-0.3) > 0.01 || b.Frequency != 0 || math.Abs(float64(b.Noise)-noise) > 0.002 {
				t.Errorf("%+v", b)
			}
		}
	}
	said := fmt.Sprint(table.Doubts)
	for _, part := range []string{"show the receiver's own noise, or an amplifier's, in most readings", "stand 3 to 10 dB over"} {
		if strings.Count(said, part) != 1 {
			t.Errorf("doubts %q, want once %q", table.Doubts, part)
		}
	}
	if got := quality.Of(reporttest.Selected(in, input.Options{})).Surveys[0].Flagged[survey.FlagReceiverLimited]; got != limited || got == 0 {
		t.Errorf("quality counts %d limited, want %d", got, limited)
	}
	for _, s := range in.Sweeps {
		if r := s.Readings[0]; len(r.Quality.Flags) != 0 || r.Gain != label(30) {
			t.Fatalf("what was handed in was changed: %+v", r)
		}
	}
	var shown bytes.Buffer
	if err := result.WriteJSON(&shown, table); err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{`"floor_dbm_hz": {`, `"mismatch_db": 0.5`, `"receiver_margin_db": 15.13`, `"fa_db": null`} {
		if !strings.Contains(shown.String(), part) {
			t.Errorf("JSON without %s", part)
		}
	}
	shown.Reset()
	if err := text.WriteTable(&shown, table, time.UTC, text.Width); err != nil || !strings.Contains(shown.String(), "≤ −149") || !strings.Contains(shown.String(), "  −146\n") || !strings.Contains(shown.String(), "dBm/Hz ± 2.4 dB (95 %); standard uncertainties: generator 1.0, mismatch 0.5, drift 0.3, noise\n    0.4 dB") {
		t.Errorf("%v\n%s", err, shown.String())
	}
	for line := range strings.Lines(shown.String()) {
		if n := len([]rune(strings.TrimRight(line, "\n"))); n > 100 {
			t.Errorf("%d characters: %s", n, line)
		}
	}
}

// An antenna under the receiver's own noise is ranked by SNR, not by its floor; the
// others keep their figures.
func TestRankUnderReceiverNoise(t *testing.T) {
	in := noisyHouse()
	w := reporttest.NewWorld(0)
	s := ranked(t, in, input.Options{}).Segments[0]
	b, c := reporttest.Find(t, s, w.Setup(1)), reporttest.Find(t, s, w.Setup(2))
	reporttest.Near(t, "advantage", b.SNRAdvantage, 2, 0.02)
	reporttest.Near(t, "floor change", b.FloorChange, 5.46-15.14, 0.02) // of the floors as they are
	reporttest.Near(t, "signal change", b.SignalChange, 2+5.46-15.14, 0.03)
	reporttest.Near(t, "advantage", c.SNRAdvantage, -3, 0.02)
	if c.FloorChange != nil || c.SignalChange != nil || !slices.Equal(c.Flags, []string{survey.FlagReceiverLimited}) || len(b.Flags) != 0 {
		t.Errorf("%+v\n%+v", b, c)
	}
	if !reporttest.HasDoubt(s, "antenna C@attic: "+ownNoise) || reporttest.HasDoubt(s, "antenna B@attic: ") {
		t.Errorf("doubts %q", s.Doubts)
	}
	// Against the deaf one no floor compares.
	s = ranked(t, in, input.Options{Reference: "antenna C"}).Segments[0]
	if a := reporttest.Find(t, s, w.Setup(0)); a.FloorChange != nil || a.SNRAdvantage == nil || !reporttest.HasDoubt(s, ownNoise) {
		t.Errorf("%+v, doubts %q", a, s.Doubts)
	}
	// One round in which the receiver is heard takes that round from the change only.
	for _, sweep := range in.Sweeps {
		if sweep.Round == 5 && sweep.Setup == w.Setup(1) {
			sweep.Readings[0].Floor = &survey.Floor{Density: receiverNoise + 20 + 1}
		}
	}
	s = ranked(t, in, input.Options{}).Segments[0]
	b = reporttest.Find(t, s, w.Setup(1))
	reporttest.Near(t, "floor change", b.FloorChange, 5.46-15.14, 0.02)
	if b.SignalChange != nil || !slices.Equal(b.Flags, []string{survey.FlagReceiverLimited}) || !reporttest.HasDoubt(s, "in 1 round only the receiver's own noise") {
		t.Errorf("%+v, doubts %q", b, s.Doubts)
	}
}

// errorGain is how many times the error of a floor counts once its own noise, none of it a terminator's, is out of it.
func errorGain(margin float64) float64 {
	gain, _ := (&input.OwnNoise{}).Errors(margin)
	return gain
}

// Between the policy's bounds: 3 and 10 dB over the receiver's own noise.
func TestMarginPolicy(t *testing.T) {
	for _, test := range []struct {
		margin             float64
		correction         float64 // STATISTICS.md 5.2
		limited, corrected bool
	}{{0, 0, true, false}, {2.99, 0, true, false}, {3, -3.02, false, true}, {6, -1.26, false, true}, {9.99, -0.46, false, true}, {10, -0.46, false, false}, {20, -0.04, false, false}} {
		in := ofWhip(atGain(whip, 0, label(30), survey.DBFSPerHz(-130+test.margin)))
		in.Surveys[0].Receiver = dongle
		in.Calibrations = []survey.Calibration{noiseRun(time.Hour, -130), levelRun(survey.BasisFigure, 0, 0)} // 44 dB over kT0
		table := floor.Of(reporttest.Selected(in, input.Options{}))
		r, doubts := table.Rows[0], fmt.Sprint(table.Doubts)
		if got := r.DBmHz.P50 - (-130 + test.margin); math.Abs(got-test.correction) > 0.01 {
			t.Errorf("margin %v: corrected by %.2f dB, want %.2f", test.margin, got, test.correction)
		}
		if (r.Limited == 1) != test.limited || strings.Contains(doubts, "stand 3 to 10 dB") != test.corrected {
			t.Errorf("margin %v: %d limited, doubts %q", test.margin, r.Limited, table.Doubts)
		}
		if !strings.Contains(doubts, "assumed noise figure") {
			t.Errorf("doubts %q", table.Doubts)
		}
	}
	for margin, want := range map[float64]float64{3: 2.0, 6: 1.34, 8: 1.19, 10: 1.11} { // STATISTICS.md 5.2
		if got := errorGain(margin); math.Abs(got-want) > 0.01 {
			t.Errorf("error gain at %v dB: %.3f, want %.2f", margin, got, want)
		}
	}
	// A floor more than 1 dB under the receiver's own is no floor of that receiver.
	for under, want := range map[survey.DBFSPerHz]bool{0.8: false, 1.2: true, 3: true} {
		in := ofWhip(atGain(whip, 0, label(30), -130-under))
		in.Surveys[0].Receiver = dongle
		in.Calibrations = []survey.Calibration{noiseRun(time.Hour, -130)}
		if table := floor.Of(reporttest.Selected(in, input.Options{})); strings.Contains(fmt.Sprint(table.Doubts), "calibrate again") != want || table.Rows[0].DBmHz != nil {
			t.Errorf("%v dB under it: %+v", under, table)
		}
	}
}

// Levels that a generator told before a night and after it tell the drift between: 1.5 dB, where the first run alone
// would have it known to some tenths. Far from its frequency a level is doubted, between two it is not.
func TestDriftThroughTheNight(t *testing.T) {
	levels := func(after time.Duration, frequency survey.Hz, full survey.DBm) survey.Calibration {
		c := of(survey.CalibrateLevel, -after)
		c.Levels = []survey.LevelReference{{Frequency: frequency, Gain: 30, FullScale: full, Sigma: 0.01, Basis: survey.BasisGenerator, Uncertainty: new(survey.DB(0.2))}}
		return c
	}
	before, middle := levels(-time.Hour, 9.65e6, -40), (gainSegment.Low+gainSegment.High)/2
	for _, test := range []struct {
		name   string
		all    []survey.Calibration
		dBm    float64
		sigma  float64
		doubts string
	}{
		{"one run", []survey.Calibration{before}, -140, math.Sqrt(0.04 + 0.25 + 0.09), ""},
		{"one after it, too", []survey.Calibration{before, levels(12*time.Hour, 9.65e6, -41.5)}, -140, math.Sqrt(0.04 + 0.25 + 1.5*1.5), "moved by up to 1.5 dB between two calibrations"},
		{"which agrees", []survey.Calibration{before, levels(12*time.Hour, 9.65e6, -40.4)}, -140, math.Sqrt(0.04 + 0.25 + 0.16), ""},
		{"which differs by a little more", []survey.Calibration{before, levels(12*time.Hour, 9.65e6, -40.6)}, -140, math.Sqrt(0.04 + 0.25 + 0.36), "moved by up to 0.6 dB"},
		{"an octave away", []survey.Calibration{levels(-time.Hour, middle/2, -40)}, -140, math.Sqrt(0.04 + 0.25 + 0.09 + 3), "over 10 % away in frequency"},
		{"between two", []survey.Calibration{levels(-time.Hour, middle/2, -40), levels(-2*time.Hour, middle*2, -46)}, -143, math.Sqrt(0.04 + 0.25 + 0.09 + 1.5), ""},
	} {
		in := ofWhip(atGain(whip, 10, label(30), -100))
		in.Surveys[0].Receiver = dongle
		in.Calibrations = append(test.all, noiseRun(time.Hour, -170)) // far under it
		table := floor.Of(reporttest.Selected(in, input.Options{}))
		r := table.Rows[0]
		if r.DBmHz == nil || math.Abs(r.DBmHz.P50-test.dBm) > 1e-6 {
			t.Errorf("%s: %+v, want %v dBm/Hz", test.name, r.DBmHz, test.dBm)
		}
		reporttest.Near(t, test.name, r.DBmSigma, test.sigma, 0.01)
		if said := fmt.Sprint(table.Doubts); (test.doubts == "") != (len(table.Doubts) == 0) || !strings.Contains(said, test.doubts) {
			t.Errorf("%s: doubts %q, want %q", test.name, table.Doubts, test.doubts)
		}
	}
}

// Own noise at a gain at which too few codes moved is computed from that at 30 dB, where levels are known at both:
// −130 dBFS/Hz less the step of 13 dB, and what rounding adds at 2.4 MS/s, −113.7.
func TestOwnNoiseUnderTheSteps(t *testing.T) {
	own := noiseRun(time.Hour, -105)
	own.Noise = append(own.Noise, survey.SelfNoise{Segment: gainSegment, Gain: 20, Density: -109, Sigma: 2.5})
	at := atGain(whip, 10, label(20), -100)
	at.Readings[0].SampleRate = 2.4e6
	in := ofWhip(at)
	in.Surveys[0].Receiver = dongle
	rounding := stats.FromDecibel(-113.73)
	measured := stats.Decibel(stats.FromDecibel(-105-13) - rounding*stats.FromDecibel(-13) + rounding)
	for _, test := range []struct {
		levels survey.Calibration
		want   float64
	}{{of(survey.CalibrateLevel, time.Hour), -109}, {levelRun(survey.BasisGenerator, -27, -40), measured}, {levelRun(survey.BasisFigure, -27, -40), -109}} {
		in.Calibrations = []survey.Calibration{own, test.levels}
		r := floor.Of(reporttest.Selected(in, input.Options{})).Rows[0]
		reporttest.Near(t, "margin", r.Margin, -100-test.want, 0.02)
	}
}

// Which calibration serves a reading: the newest before it, else the newest of all, of
// the same receiver, segment and gain.
func TestWhichCalibration(t *testing.T) {
	other := func(change func(*survey.Calibration)) survey.Calibration {
		c := noiseRun(time.Minute, -110)
		change(&c)
		return c
	}
	wide := gainSegment
	wide.Low -= 10e3
	apart := survey.Segment{Name: gainSegment.Name, Low: 9.8e6, High: 10.2e6}
	later := func(minutes time.Duration, d survey.DBFSPerHz) survey.Calibration {
		return noiseRun(-minutes*time.Minute, d)
	}
	for name, test := range map[string]struct {
		all  []survey.Calibration
		want float64 // self-noise, dBFS/Hz; 0: none
	}{
		"the newest before":    {[]survey.Calibration{noiseRun(time.Hour, -125), later(20, -121), noiseRun(48*time.Hour, -130)}, -125},
		"none before":          {[]survey.Calibration{later(20, -121), later(60, -122)}, -122},
		"without what is due":  {[]survey.Calibration{noiseRun(time.Hour, -125), of(survey.CalibrateLines, time.Minute)}, -125},
		"another receiver":     {[]survey.Calibration{other(func(c *survey.Calibration) { c.Receiver += " " })}, 0},
		"another gain":         {[]survey.Calibration{other(func(c *survey.Calibration) { c.Noise[0].Gain = 29.7 })}, 0},
		"the gain rounded":     {[]survey.Calibration{other(func(c *survey.Calibration) { c.Noise[0].Gain = 30.000001 })}, -110},
		"another segment":      {[]survey.Calibration{other(func(c *survey.Calibration) { c.Noise[0].Segment.Name = "25 m" })}, 0},
		"the segment cut":      {[]survey.Calibration{other(func(c *survey.Calibration) { c.Noise[0].Segment = wide })}, -110},
		"little of it covered": {[]survey.Calibration{other(func(c *survey.Calibration) { c.Noise[0].Segment = apart })}, 0},
	} {
		in := ofWhip(atGain(whip, 10, label(30), -100))
		in.Surveys[0].Receiver = dongle
		in.Calibrations = test.all
		r := floor.Of(reporttest.Selected(in, input.Options{})).Rows[0]
		switch {
		case test.want == 0 && r.Margin != nil:
			t.Errorf("%s: margin %v, want none", name, *r.Margin)
		case test.want != 0:
			reporttest.Near(t, name, r.Margin, -100-test.want, 1e-9)
		}
	}
	// A receiver without a name is no receiver; names that differ are told.
	in := ofWhip(atGain(whip, 10, label(30), -100))
	in.Calibrations = []survey.Calibration{other(func(c *survey.Calibration) { c.Receiver = "" })}
	if r := floor.Of(reporttest.Selected(in, input.Options{})).Rows[0]; r.Margin != nil {
		t.Errorf("margin %v of a receiver without a name", *r.Margin)
	}
	in.Surveys[0].Receiver = dongle + "."
	r, _, err := reportOf(in, input.Options{})
	if err != nil || !strings.Contains(fmt.Sprint(r.Doubts), "no calibration is of its receiver, "+dongle+".") {
		t.Errorf("%v, doubts %q", err, r.Doubts)
	}
}

// twoGains is a survey whose second setup is better by 5 dB of SNR: 1 dB less signal
// and 6 dB less noise. It was heard with labels of 20 and 30 dB, of which the step is
// 8.3 dB: its levels against full scale stand 8.3 dB higher than at 20 dB.
func twoGains() (reporttest.World, input.Input) {
	const step = 8.3
	w := reporttest.Still()
	w.Start = gainStart
	w.Gain, w.Floor = []float64{0, 5}, []float64{-98, -98 - 6 + step}
	w.Gains = []survey.Gain{label(20), label(30)}
	in := w.Input()
	in.Surveys[0].Receiver = dongle
	return w, in
}

func TestMeasuredStepsOfGain(t *testing.T) {
	w, in := twoGains()
	change := func(what string, all ...survey.Calibration) (result.RankSetup, result.RankSegment) {
		in.Calibrations = all
		s := ranked(t, in, input.Options{}).Segments[0]
		x := reporttest.Find(t, s, w.Setup(1))
		reporttest.Near(t, what+": advantage", x.SNRAdvantage, 5, 0.02) // whatever the gain
		return x, s
	}
	x, s := change("generator", levelRun(survey.BasisGenerator, -10, -18.3))
	reporttest.Near(t, "floor change", x.FloorChange, -6, 0.02)
	reporttest.Near(t, "signal change", x.SignalChange, -1, 0.03)
	if !reporttest.HasDoubt(s, "known to ± 1.0 dB") { // 1.96 · √(0.3² + 0.4²)
		t.Errorf("doubts %q", s.Doubts)
	}
	// Floors by the hour stand at the reference's gain and compare.
	table := floor.Of(reporttest.Selected(in, input.Options{}))
	for _, r := range table.Rows {
		want := -98.0
		if r.Setup == w.Setup(1) {
			want = -104
		}
		if r.Gain == nil || math.Abs(float64(*r.Gain)-20) > 1e-9 || math.Abs(r.DBFSHz.P50-want) > 0.01 || math.Abs(r.DBmHz.P50-(want-10)) > 0.01 || r.Margin != nil {
			t.Errorf("%v: gain %v, %+v, %+v, margin %v; want 20 dB and %v", r.Setup, r.Gain, r.DBFSHz, r.DBmHz, r.Margin, want)
		}
	}
	// A noise figure makes no step, nor do references far apart in frequency, nor one alone.
	far := levelRun(survey.BasisGenerator, -10, -18.3)
	far.Levels[1].Frequency = 6e6
	alone := levelRun(survey.BasisGenerator, -10, -18.3)
	alone.Levels = alone.Levels[:1]
	for name, c := range map[string]survey.Calibration{"figure": levelRun(survey.BasisFigure, -10, -18.3), "far": far, "alone": alone} {
		if x, s := change(name, c); x.FloorChange != nil || x.SignalChange != nil || !reporttest.HasDoubt(s, "its gain is not known against the reference's") {
			t.Errorf("%s: %+v, doubts %q", name, x, s.Doubts)
		}
	}
	// A wrong figure after the survey is mended by a right one after that, at another
	// frequency of the band, too.
	wrong, right := levelRun(survey.BasisGenerator, -10, -30), levelRun(survey.BasisGenerator, -10, -18.3)
	wrong.At, right.At = gainStart.Add(20*time.Hour), gainStart.Add(21*time.Hour)
	right.Levels[0].Frequency, right.Levels[1].Frequency = 9.7e6, 9.7e6
	x, _ = change("mended", wrong, right)
	reporttest.Near(t, "mended: floor change", x.FloorChange, -6, 0.02)
	// Two runs, each of one gain, do as well; of equally near ones the newest counts.
	old := levelRun(survey.BasisGenerator, -1, -1)
	old.At = old.At.Add(-time.Hour)
	at20, at30 := levelRun(survey.BasisGenerator, -10, 0), levelRun(survey.BasisGenerator, 0, -18.3)
	at20.Levels, at30.Levels = at20.Levels[:1], at30.Levels[1:]
	x, _ = change("two runs", at30, old, at20)
	reporttest.Near(t, "two runs: floor change", x.FloorChange, -6, 0.02)
}

// Pictures follow the same gain.
func TestPicturesAtMeasuredGain(t *testing.T) {
	in := ofWhip(atGain(whip, 0, label(20), -120), atGain(loop, 1, label(30), -111.7))
	in.Surveys[0].Receiver = dongle
	in.Calibrations = []survey.Calibration{levelRun(survey.BasisGenerator, -10, -18.3)}
	p := waterfall.NewPictures(reporttest.Selected(in, input.Options{}))
	p.Add(0, flat(-120))
	p.Add(1, flat(-111.7))
	pictures, doubts := p.Made()
	if len(pictures) != 2 || len(doubts) != 0 {
		t.Fatalf("%d pictures, doubts %q", len(pictures), doubts)
	}
	for _, w := range pictures {
		if w.Gain == nil || math.Abs(float64(w.DBFSHz[0])+120) > 0.01 {
			t.Errorf("%v: gain %v, %v, want −120", w.Setup, w.Gain, w.DBFSHz[0])
		}
	}
}

// A line of the receiver's own stands there at one level through whatever antenna: it
// flatters the one with the lower floor, here by (6 − 5)/4 dB.
func TestOwnLinesDoNotRank(t *testing.T) {
	w := reporttest.Still()
	w.Start = gainStart
	in := w.Input()
	in.Surveys[0].Receiver = dongle
	for _, s := range in.Sweeps {
		s.Readings[0].Carriers[1].Power = 1e-6
	}
	const stands = 9.435e6 // the second carrier
	var more []survey.Calibration
	rank := func(lines ...survey.Hz) (result.RankSetup, result.RankSegment) {
		c := of(survey.CalibrateLines, time.Hour)
		for _, f := range lines {
			c.Lines = append(c.Lines, survey.OwnLine{Frequency: f, Gain: 40, Level: -20}) // −60 dBFS at a gain of 0
		}
		in.Calibrations = append([]survey.Calibration{c}, more...)
		s := ranked(t, in, input.Options{}).Segments[0]
		return reporttest.Find(t, s, w.Setup(1)), s
	}
	// Readings have 110 Hz of resolution: 330 Hz to either side are not told apart.
	for _, lines := range [][]survey.Hz{{stands}, {stands + 320}, {stands - 320, stands + 320}} {
		x, s := rank(lines...)
		reporttest.Near(t, "without it", x.SNRAdvantage, 5, 0.02)
		if x.Carriers != 3 || !reporttest.HasDoubt(s, "1 line left out: the receiver's own") {
			t.Errorf("%v: %d carriers, doubts %q", lines, x.Carriers, s.Doubts)
		}
	}
	for _, lines := range [][]survey.Hz{nil, {stands + 340}, {stands + 5e3}, {6e6}} {
		x, s := rank(lines...)
		reporttest.Near(t, "with it", x.SNRAdvantage, 5.25, 0.02)
		if x.Carriers != 4 || reporttest.HasDoubt(s, "the receiver's own") {
			t.Errorf("%v: %d carriers, doubts %q", lines, x.Carriers, s.Doubts)
		}
	}
	// A later run that finds none is the answer; one of another kind is none.
	more = []survey.Calibration{of(survey.CalibrateNoise, time.Minute)}
	if x, _ := rank(stands); x.Carriers != 3 {
		t.Errorf("%d carriers: own noise measured later brought a line back", x.Carriers)
	}
	more = append(more, of(survey.CalibrateLines, 2*time.Minute))
	if x, _ := rank(stands); x.Carriers != 4 {
		t.Errorf("%d carriers: a line left out that a later run did not find", x.Carriers)
	}
	more = nil
	in.Surveys[0].Receiver = "another"
	if x, _ := rank(stands); x.Carriers != 4 {
		t.Errorf("%d carriers: another receiver's line was left out", x.Carriers)
	}
}

// A line of the receiver's own throws no station out that is stronger than it by more
// than 10 dB at the same gain, through one antenna or the other.
func TestStationsOverOwnLines(t *testing.T) {
	const stands = 9.435e6
	for _, test := range []struct {
		name     string
		gain     survey.Gain
		line     survey.DBFS // at a gain of 40 dB
		carriers int
	}{
		// The station stands at −60 dBFS.
		{"38 dB under it", label(40), -98, 4},
		{"11 dB under it", label(40), -71, 4},
		{"9 dB under it", label(40), -69, 3},
		{"stronger than it", label(40), -50, 3},
		{"as strong, at a gain 38 dB lower", label(2), -60, 4}, // the line stands at −98 dBFS there
		{"60 dB under it, at a gain 58 dB higher", label(98), -120, 3},
		{"gain not known", survey.Gain{}, -61, 3},
	} {
		w := reporttest.Still()
		w.Gains = []survey.Gain{test.gain, test.gain, test.gain}
		in := w.Input()
		in.Surveys[0].Receiver = dongle
		for _, s := range in.Sweeps {
			s.Readings[0].Carriers[1].Power = 1e-6
		}
		c := of(survey.CalibrateLines, time.Hour)
		c.Lines = []survey.OwnLine{{Frequency: stands, Gain: 40, Level: test.line}}
		in.Calibrations = []survey.Calibration{c}
		if x := reporttest.Find(t, ranked(t, in, input.Options{}).Segments[0], w.Setup(1)); x.Carriers != test.carriers {
			t.Errorf("%s: %d carriers, want %d", test.name, x.Carriers, test.carriers)
		}
	}
}

// The calibrations that served are listed with what speaks against them, and no others.
func TestCalibrationsThatServed(t *testing.T) {
	in := noisyHouse()
	// Off by 2.5 dB where few codes move, by 0.6 dB at 0.4 codes; at half a code by 0.1 dB, and its own error.
	in.Calibrations[0].Noise[0].Sigma = 2.5
	for i, sigma := range []survey.DB{0.6, 0.2} {
		in.Calibrations[0].Noise = append(in.Calibrations[0].Noise, survey.SelfNoise{Segment: gainSegment, Gain: survey.DB(i), Sigma: sigma})
	}
	in.Calibrations[0].Note, in.Calibrations[1].Note = "terminator at the receiver's input", "generator, -60 dBm at 9.65 MHz"
	older, foreign := noiseRun(3*time.Hour, -100), noiseRun(time.Hour, -100)
	foreign.Receiver = "another"
	straight := of(survey.CalibrateLinearity, -24*time.Hour) // after the survey
	straight.Linearity = []survey.Linearity{{Segment: gainSegment, Gain: 30, Attenuation: 10, FloorDrop: new(survey.DB(9.5)), Carriers: 0, Verdict: survey.VerdictExternal},
		{Segment: survey.Segment{Name: "49 m", Low: 5.9e6, High: 6.2e6}, Gain: 20, Attenuation: 10, Verdict: survey.VerdictProducts}}
	in.Calibrations = append(in.Calibrations, older, foreign, straight, of(survey.CalibrateClock, time.Hour), of(survey.CalibrateLines, time.Minute))
	for i := range in.Calibrations {
		in.Calibrations[i].ID = int64(i + 1)
	}
	q := quality.Of(reporttest.Selected(in, input.Options{}))
	readings := 0
	for _, s := range in.Sweeps {
		readings += len(s.Readings)
	}
	want := []struct {
		number int64
		doubts []string
	}{{1, []string{"2 of 3 figures rest on too few codes"}}, {2, nil}, {7, nil},
		{5, []string{fmt.Sprintf("%d of %d readings that it serves were taken before it", readings, readings), "1 of 2 segments held intermodulation"}}}
	if b := q.Calibrations[1].Level; b == nil || math.Abs(float64(b.Total())-math.Sqrt(1+0.25+0.16)) > 1e-6 || q.Calibrations[0].Level != nil {
		t.Errorf("full scale known by %+v and %+v", q.Calibrations[0].Level, b)
	}
	if len(q.Calibrations) != len(want) {
		t.Fatalf("%+v", q.Calibrations)
	}
	for i, w := range want {
		c := q.Calibrations[i]
		if c.Calibration != w.number || c.Receiver != dongle || !slices.Equal(c.Surveys, []int64{1}) || len(c.Doubts) != len(w.doubts) {
			t.Errorf("%+v, want number %d and doubts %q", c, w.number, w.doubts)
			continue
		}
		for j, part := range w.doubts {
			if !strings.Contains(c.Doubts[j].String(), part) {
				t.Errorf("%q, want %q", c.Doubts[j], part)
			}
		}
	}
	var table, document bytes.Buffer
	if err := text.WriteTable(&table, q, time.UTC, text.Width); err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{"calibrations that served", "1: noise, ", "    terminator at the receiver's input\n", "31 m at 30.0 dB: external; 49 m at 20.0 dB: intermodulation", "2: level, "} {
		if !strings.Contains(table.String(), part) {
			t.Errorf("%q is not in\n%s", part, table.String())
		}
	}
	if err := result.WriteJSON(&document, q); err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{`"calibrations": [`, `"note": "generator, -60 dBm at 9.65 MHz"`, `"verdict": "external"`, `"floor_drop_db": 9.5`, `"linearity": []`} {
		if !strings.Contains(document.String(), part) {
			t.Errorf("%q is not in\n%s", part, document.String())
		}
	}
	in.Calibrations = nil
	document.Reset()
	if err := result.WriteJSON(&document, quality.Of(reporttest.Selected(in, input.Options{}))); err != nil || !strings.Contains(document.String(), `"calibrations": []`) {
		t.Errorf("%v\n%s", err, document.String())
	}
}

// What is asked for in part is calibrated like the whole.
func TestCalibratedPart(t *testing.T) {
	in := noisyHouse()
	for _, s := range in.Sweeps { // a second segment, without a calibration
		r := s.Readings[0]
		r.Segment = survey.Segment{Name: "25 m", Low: 11.6e6, High: 12.1e6}
		s.Readings = append(s.Readings, r)
	}
	r, _, err := reportOf(in, input.Options{Segment: "31 m", Survey: 1})
	if err != nil {
		t.Fatal(err)
	}
	whole, _, err := reportOf(in, input.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range r.Floor.Rows {
		i := slices.IndexFunc(whole.Floor.Rows, func(x result.FloorRow) bool {
			return x.Segment == row.Segment && x.Setup == row.Setup && x.From.Equal(row.From)
		})
		if i < 0 || row.Margin == nil || *whole.Floor.Rows[i].Margin != *row.Margin || whole.Floor.Rows[i].Limited != row.Limited {
			t.Errorf("%+v", row)
		}
	}
	for _, row := range whole.Floor.Rows {
		if row.Segment == "25 m" && (row.Margin != nil || row.Limited != 0) {
			t.Errorf("a margin without self-noise: %+v", row)
		}
	}
}

// A recorder asks for the receiver's own noise at a gain: the newest that was measured, of that receiver and at that gain.
func TestSelfNoiseForARecorder(t *testing.T) {
	all := []survey.Calibration{noiseRun(time.Hour, -125), noiseRun(48*time.Hour, -130), of(survey.CalibrateLines, time.Minute)}
	own := input.SelfNoise(all, dongle, 2.4e6)
	gain := all[0].Noise[0].Gain
	if d, known := own(gainSegment, gain); !known || d != -125 {
		t.Errorf("%v, %v; want -125", d, known)
	}
	if _, known := own(gainSegment, gain+0.9); known {
		t.Error("known at a gain that was not measured")
	}
	if _, known := own(survey.Segment{Name: "49 m", Low: 5.9e6, High: 6.2e6}, gain); known {
		t.Error("known in a segment that was not measured")
	}
	if _, known := input.SelfNoise(all, dongle+" ", 2.4e6)(gainSegment, gain); known {
		t.Error("known of another receiver")
	}
}

// A terminator's first visit may be at the gain of a trial: its own noise at 30 dB, put beside that at 20, stands 8 dB lower
// there, and the report says so, whether a calibration knows own noise or not. What is from outside follows the gain.
func TestOwnNoiseOfATrialsGain(t *testing.T) {
	own := survey.Setup{Antenna: "50 ohm", Placement: "attic"}
	for _, noise := range []bool{false, true} {
		in := ofWhip(atGain(whip, 0, label(20), -100), atGain(own, 1, label(30), -118), atGain(whip, 60, label(30), -90), atGain(own, 61, label(20), -120))
		in.Surveys[0].Receiver = dongle
		in.Surveys[0].Plan = "[[antenna]]\nname = \"50 ohm\"\nkind = \"terminator\"\n"
		in.Calibrations = []survey.Calibration{levelRun(survey.BasisGenerator, -10, -20)}
		if noise {
			in.Calibrations = append(in.Calibrations, noiseRun(time.Hour, -118))
		}
		const says = "50 ohm@attic: in 1 of 4 rows of floors by the hour own noise was taken at another gain"
		if table := floor.Of(reporttest.Selected(in, input.Options{})); math.Abs(table.Rows[2].DBFSHz.P50+128) > 1e-9 || !strings.Contains(fmt.Sprint(table.Doubts), says) {
			t.Errorf("%+v, %q", table.Rows[2], table.Doubts)
		}
	}
}
