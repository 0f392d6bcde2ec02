package reports

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/floor"
	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/quality"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/text"
	"nightfloor/survey"
)

const kT0 = -173.975 // dBm/Hz, of 290 K

// over gives the sum of two power densities, dB.
func over(a, b float64) float64 { return stats.Decibel(stats.FromDecibel(a) + stats.FromDecibel(b)) }

// A terminator delivers kT0 of its own, which an antenna does not: subtracting what was measured
// into it takes kT0 too much, and −163.0 dBm/Hz reads −163.4 with a noise figure of 8 dB.
func TestThermalNoiseOfTheTerminator(t *testing.T) {
	const figure, outside, fullScale = 8.0, -163.0, -20.0
	own := kT0 + figure
	added := stats.Decibel(stats.FromDecibel(own) - stats.FromDecibel(kT0)) // the receiver's, without the terminator's
	reading := over(outside, added)
	in := ofWhip(atGain(whip, 0, label(30), survey.DBFSPerHz(reading-fullScale)))
	in.Surveys[0].Receiver = dongle
	in.Calibrations = []survey.Calibration{noiseRun(time.Hour, survey.DBFSPerHz(own-fullScale)), levelRun(survey.BasisGenerator, 0, fullScale)}
	r := floor.Of(reporttest.Selected(in, input.Options{})).Rows[0]
	if r.DBmHz == nil || math.Abs(r.DBmHz.P50-outside) > 0.005 {
		t.Fatalf("%+v, want %v dBm/Hz", r.DBmHz, outside)
	}
	// Against full scale the same is taken out, where full scale is known; else what was measured.
	cell := func() float64 {
		s := reporttest.Selected(in, input.Options{})
		return stats.Decibel(matrix.New(s.Input, gainSegment).Cells[0][0].External.Floor) + fullScale
	}
	if got := cell(); math.Abs(got-outside) > 0.005 {
		t.Errorf("%.3f dBm/Hz, want %v", got, outside)
	}
	in.Calibrations = in.Calibrations[:1]
	if got, want := cell(), -163.36; math.Abs(got-want) > 0.005 {
		t.Errorf("%.3f dBm/Hz without full scale, want %v", got, want)
	}
	// Less noise than kT0 no receiver has: the calibration is wrong, and nothing is added to the floor.
	in.Calibrations = []survey.Calibration{noiseRun(time.Hour, kT0-1-fullScale), levelRun(survey.BasisGenerator, 0, fullScale)}
	if got := cell(); math.Abs(got-reading) > 0.005 {
		t.Errorf("%.3f dBm/Hz, want %.3f", got, reading)
	}
}

// A feed line that takes 3 dB off makes as much thermal noise as kT0 at the antenna's terminals: −165.9 dBm/Hz, a bare loop under
// residential noise, read −165.3 with it. An amplifier stands before the line, and its noise is its own.
func TestThermalNoiseOfTheFeedLine(t *testing.T) {
	const figure, outside, loss, fullScale = 2.0, -165.9, 3.0, -20.0
	share := stats.FromDecibel(-loss)
	reading := over(over(outside-loss, kT0+stats.Decibel(1-share)), kT0+stats.Decibel(stats.FromDecibel(figure)-1))
	in := ofWhip(atGain(whip, 0, label(30), survey.DBFSPerHz(reading-fullScale)))
	in.Surveys[0].Receiver = dongle
	in.Calibrations = []survey.Calibration{noiseRun(time.Hour, survey.DBFSPerHz(kT0+figure-fullScale)), levelRun(survey.BasisGenerator, 0, fullScale)}
	for more, want := range map[string]float64{"": outside, "active = true\n": over(outside, kT0+stats.Decibel(1/share-1))} {
		in.Surveys[0].Plan = "[[antenna]]\nname = \"whip\"\ncable_loss = \"3 dB\"\n" + more
		r := floor.Of(reporttest.Selected(in, input.Options{})).Rows[0]
		if r.DBmHz == nil || math.Abs(r.DBmHz.P50-want) > 0.005 {
			t.Errorf("%q: %+v, want %.2f dBm/Hz", more, r.DBmHz, want)
		}
	}
}

// A row of which own noise is known for less than half has no margin, and levels of the whole floor, not of some readings without
// own noise and of others with it: self-noise was measured at a gain of 30 dB, and most readings are at 20.
func TestOwnNoiseOfSomeReadings(t *testing.T) {
	in := ofWhip()
	for i, gain := range []survey.DB{30, 30, 20, 20, 20} {
		in.Sweeps = append(in.Sweeps, atGain(whip, i, label(gain), survey.DBFSPerHz(-140+20+float64(gain-30)))) // −140 dBm/Hz at either
	}
	in.Surveys[0].Receiver = dongle
	in.Calibrations = []survey.Calibration{noiseRun(time.Hour, -124), levelRun(survey.BasisGenerator, -10, -20)}
	r := floor.Of(reporttest.Selected(in, input.Options{})).Rows[0]
	if r.Margin != nil || r.DBmHz == nil || r.DBmBound == nil || !*r.DBmBound || r.DBmHz.P90-r.DBmHz.P10 > 1e-9 || math.Abs(r.DBmHz.P50+140) > 1e-9 {
		t.Errorf("margin %v, %+v; want −140 dBm/Hz throughout", r.Margin, r.DBmHz)
	}
}

// Levels without own noise are upper bounds, and are said and marked to be: −163.0 dBm/Hz beside own noise of −166.8 reads −161.5.
func TestLevelsWithoutOwnNoise(t *testing.T) {
	const outside, own, fullScale = -163.0, -166.8, -20.0
	in := ofWhip(atGain(whip, 0, label(30), survey.DBFSPerHz(over(outside, own)-fullScale)), atGain(loop, 1, label(30), -150-fullScale))
	in.Surveys[0].Receiver = dongle
	in.Calibrations = []survey.Calibration{levelRun(survey.BasisGenerator, 0, fullScale)}
	table := floor.Of(reporttest.Selected(in, input.Options{}))
	const doubted = "in 2 of 2 rows of floors by the hour own noise is not known: levels in dBm are upper bounds"
	r := table.Rows[0]
	if math.Abs(r.DBmHz.P50+161.5) > 0.05 || r.DBmBound == nil || !*r.DBmBound || text.AtInput(r) != "≤ −161" || !strings.Contains(fmt.Sprint(table.Doubts), doubted) {
		t.Errorf("%+v, %s, %v", r, text.AtInput(r), table.Doubts)
	}
	// A control is not doubted for it, whose own noise nobody subtracts.
	in.Surveys[0].Plan = "[[antenna]]\nname = \"loop\"\nkind = \"terminator\"\n"
	if doubts := fmt.Sprint(floor.Of(reporttest.Selected(in, input.Options{})).Doubts); !strings.Contains(doubts, "in 1 of 2 rows") {
		t.Errorf("with a terminator: %s", doubts)
	}
	in.Calibrations = append(in.Calibrations, noiseRun(time.Hour, own-fullScale))
	table = floor.Of(reporttest.Selected(in, input.Options{}))
	if r = table.Rows[0]; *r.DBmBound || strings.HasPrefix(text.AtInput(r), "≤") || strings.Contains(fmt.Sprint(table.Doubts), "upper bounds") {
		t.Errorf("with own noise: %+v, %v", r, table.Doubts)
	}
	in.Calibrations = in.Calibrations[1:]
	if r = floor.Of(reporttest.Selected(in, input.Options{})).Rows[0]; r.DBmHz != nil || r.DBmBound != nil {
		t.Errorf("without a level: %+v", r)
	}
}

// A dummy in place of the element has the feed line's thermal noise in what it shows: it is not taken out twice, though
// the plan does not say that there is an amplifier.
func TestFeedLineBehindADummy(t *testing.T) {
	n := night{outside: -161, figure: 8, plan: "[[antenna]]\nname = \"whip\"\ncable_loss = \"20 dB\"\n" + whipDummy, more: map[string]func() bool{"whip dummy": always}}
	n.outside += 20 // at the terminals
	in := n.input(-170)
	for _, s := range in.Sweeps {
		if s.Setup == whip {
			s.Readings[0].Floor.Density = survey.DBFSPerHz(over(over(n.outside-20, -170), n.drifted(float64(s.Start.Sub(gainStart).Minutes())/720)) - nightFull)
		}
	}
	if worst, _ := n.worst(t, in); math.Abs(worst) > 0.1 {
		t.Errorf("levels err by up to %.2f dB", worst)
	}
}

// An antenna that brings next to nothing takes kT0 off what a terminator shows: with a noise figure of 5 dB its floor stands
// 10·log(1 − 10^−0.5) = −1.65 dB over that. No calibration is off for it, where full scale is known.
func TestAntennaUnderTheTerminator(t *testing.T) {
	const figure, fullScale = 5.0, -20.0
	own := kT0 + figure
	in := ofWhip(atGain(whip, 0, label(30), survey.DBFSPerHz(over(-190, own+stats.Decibel(1-stats.FromDecibel(-figure)))-fullScale)))
	in.Surveys[0].Receiver = dongle
	in.Calibrations = []survey.Calibration{noiseRun(time.Hour, survey.DBFSPerHz(own-fullScale)), levelRun(survey.BasisGenerator, 0, fullScale)}
	says := func() (misfit, limited bool) {
		doubts := fmt.Sprint(floor.Of(reporttest.Selected(in, input.Options{})).Doubts)
		return strings.Contains(doubts, "calibrate again"), strings.Contains(doubts, "the floor from outside is lower")
	}
	if misfit, limited := says(); misfit || !limited {
		t.Errorf("misfit %v, limited %v", misfit, limited)
	}
	in.Calibrations[0].Noise[0].Density += 0.6 // now 0.86 dB under what is left without kT0
	if misfit, _ := says(); misfit {
		t.Error("within a dB")
	}
	in.Calibrations[0].Noise[0].Density += 0.4 // 1.39 dB
	if misfit, _ := says(); !misfit {
		t.Error("over a dB, and not doubted")
	}
	in.Calibrations = in.Calibrations[:1]
	if misfit, _ := says(); !misfit {
		t.Error("without full scale, 2.65 dB under what a calibration found and not doubted")
	}
	if doubts := fmt.Sprint(floor.Of(reporttest.Selected(in, input.Options{})).Doubts); !strings.Contains(doubts, "whip@attic: 1 of 1 row of floors by the hour stand more than 1 dB under") {
		t.Error(doubts)
	}
	// What is known to 2.5 dB only, since few codes moved, is not contradicted by as much.
	for sigma, want := range map[survey.DB]bool{1.3: true, 1.4: false, 2.5: false, survey.DB(math.NaN()): false} {
		in.Calibrations[0].Noise[0].Sigma = sigma
		if misfit, _ := says(); misfit != want {
			t.Errorf("2.65 dB under own noise known to %.1f dB: doubted %v", sigma, misfit)
		}
	}
}

// A night is twelve hours of rounds of ten minutes, in which a whip hears noise from outside while
// the receiver's own rises by 1.5 dB, calibrated before it. Levels are of a receiver
// with full scale at −20 dBm.
type night struct {
	outside, figure float64                // dBm/Hz, and the receiver's noise figure at its beginning, dB
	plan            string                 // of the antennas
	more            map[string]func() bool // by antenna: whether a control is measured in a round
}

const nightFull = -20.0 // dBm

const receiverTerminator = "[[antenna]]\nname = \"50 ohm\"\nkind = \"terminator\"\nat = \"receiver\"\n"

// drifted is the receiver's noise of its own at a share of the night, without a terminator's kT0.
func (n night) drifted(share float64) float64 {
	return stats.Decibel(stats.FromDecibel(kT0+n.figure+1.5*share) - stats.FromDecibel(kT0))
}

// input makes the night; amplifier is what the whip's adds at the receiver, dBm/Hz.
func (n night) input(amplifier float64) input.Input {
	random := rand.New(rand.NewPCG(11, 7))
	in := ofWhip()
	in.Surveys[0].Receiver, in.Surveys[0].Plan = dongle, n.plan
	in.Calibrations = []survey.Calibration{noiseRun(time.Hour, survey.DBFSPerHz(kT0+n.figure-nightFull)), levelRun(survey.BasisGenerator, -10, nightFull)}
	of := map[string]func(own float64) float64{
		"whip":       func(own float64) float64 { return over(over(n.outside, amplifier), own) },
		"whip dummy": func(own float64) float64 { return over(amplifier, own) },
		"50 ohm":     func(own float64) float64 { return over(kT0, own) },
	}
	visit := 0
	for round := range 72 {
		for i, antenna := range []string{"whip", "whip dummy", "50 ohm"} {
			if measured := n.more[antenna]; antenna != "whip" && (measured == nil || !measured()) {
				continue
			}
			visit++
			for k := range 3 {
				minute := 10*round + 3*i + k
				s := atGain(survey.Setup{Antenna: antenna, Placement: "attic"}, minute, label(30),
					survey.DBFSPerHz(of[antenna](n.drifted(float64(minute)/720))-nightFull+0.05*random.NormFloat64()))
				s.Round, s.Visit, s.Readings[0].Floor.Sigma = round+1, visit, 0.05
				in.Sweeps = append(in.Sweeps, s)
			}
		}
	}
	return in
}

func always() bool { return true }

// worst gives by how much the whip's median level of an hour errs at most.
func (n night) worst(t *testing.T, in input.Input) (worst float64, table result.FloorTable) {
	t.Helper()
	table = floor.Of(reporttest.Selected(in, input.Options{}))
	for _, r := range table.Rows {
		if r.Setup != whip {
			continue
		}
		if r.DBmHz == nil {
			t.Fatalf("%+v", r)
		}
		if e := r.DBmHz.P50 - n.outside; math.Abs(e) > math.Abs(worst) {
			worst = e
		}
	}
	return worst, table
}

// none is an amplifier that adds nothing.
const none = -300

// A terminator at the receiver's input in each round follows the receiver through the night.
func TestTerminatorFollowsDrift(t *testing.T) {
	n := night{outside: -162, figure: 8, plan: receiverTerminator}
	if worst, _ := n.worst(t, n.input(none)); worst < 0.5 {
		t.Errorf("the stored calibration errs by %.2f dB, and should by what drifted", worst)
	}
	n.more = map[string]func() bool{"50 ohm": always}
	worst, table := n.worst(t, n.input(none))
	if math.Abs(worst) > 0.1 {
		t.Errorf("levels err by up to %.2f dB", worst)
	}
	for _, r := range table.Rows {
		if r.Setup == whip && (r.MarginOver == nil || *r.MarginOver != "terminator") {
			t.Errorf("%+v", r)
		}
	}
	// Measured in every sixth round only, the hours between lie on a line.
	round := 0
	n.more["50 ohm"] = func() bool { round++; return round%6 == 1 }
	if worst, _ := n.worst(t, n.input(none)); math.Abs(worst) > 0.1 {
		t.Errorf("levels err by up to %.2f dB with a terminator an hour", worst)
	}
	// A visit in which somebody may have changed the setup does not count.
	n.more["50 ohm"] = always
	doubtful := n.input(none)
	for _, s := range doubtful.Sweeps {
		if s.Setup.Antenna == "50 ohm" && s.Round%2 == 0 {
			s.Readings[0].Floor.Density += 3
			s.Readings[0].Quality.Flags = []string{survey.FlagSetupDoubt}
		}
	}
	if worst, _ := n.worst(t, doubtful); math.Abs(worst) > 0.1 {
		t.Errorf("levels err by up to %.2f dB with visits in doubt", worst)
	}
	// At another gain it serves nothing, nor where hardly a code moves.
	in := n.input(none)
	for _, s := range in.Sweeps {
		if s.Setup.Antenna == "50 ohm" {
			s.Readings[0].Quality.Flags = []string{survey.FlagLowDrive}
		}
	}
	if worst, _ := n.worst(t, in); worst < 0.5 {
		t.Errorf("a terminator under low drive served: %.2f dB", worst)
	}
	in = n.input(none)
	for _, s := range in.Sweeps {
		if s.Setup.Antenna == "50 ohm" {
			s.Readings[0].Gain = label(20)
		}
	}
	if worst, _ := n.worst(t, in); worst < 0.5 {
		t.Errorf("a terminator at another gain served: %.2f dB", worst)
	}
	// What it shows itself is no doubt, though the calibration is 2 dB off.
	n.more["50 ohm"] = always
	in = n.input(none)
	in.Calibrations[0].Noise[0].Density += 2
	if _, table = n.worst(t, in); len(table.Doubts) != 1 || !strings.Contains(fmt.Sprint(table.Doubts), "stand 3 to 10 dB over") {
		t.Errorf("doubts %q", table.Doubts)
	}
	// At the antenna's end it hears the feed line, too, and serves nothing.
	n.plan = strings.Replace(receiverTerminator, "receiver", "antenna", 1)
	if worst, _ := n.worst(t, n.input(none)); worst < 0.5 {
		t.Errorf("a terminator at the antenna's end served: %.2f dB", worst)
	}
	// There it tells a calibration that is off.
	in = n.input(none)
	in.Calibrations[0].Noise[0].Density += 2
	if _, table = n.worst(t, in); !strings.Contains(fmt.Sprint(table.Doubts), "calibrate again") {
		t.Errorf("doubts %q", table.Doubts)
	}
}

// A dummy tells of its antenna in another condition, too, and in other surveys of the same receiver.
func TestWhomADummyServes(t *testing.T) {
	n := night{outside: -140, figure: 8, plan: activeWhip + whipDummy + "[[antenna]]\nname = \"whip alone\"\nof = \"whip\"\nremoved = [\"loop\"]\n",
		more: map[string]func() bool{"whip dummy": always}}
	for receiver, served := range map[string]bool{dongle: true, "another": false, "": false} {
		in := n.input(-142)
		later := in.Surveys[0]
		later.ID, later.Receiver = 2, receiver
		in.Surveys = append(in.Surveys, later)
		alone := survey.Setup{Antenna: "whip alone", Placement: "garden"}
		for i, s := range []*survey.Sweep{atGain(alone, 800, label(30), -118), atGain(whip, 1500, label(30), -118), atGain(loop, 1501, label(30), -118)} {
			s.Survey = int64(min(2, i+1))
			in.Sweeps = append(in.Sweeps, s)
		}
		rows := floor.Of(reporttest.Selected(in, input.Options{})).Rows
		over := func(setup survey.Setup) string { // in the last hour
			for _, r := range slices.Backward(rows) {
				if r.Setup == setup && r.MarginOver != nil {
					return *r.MarginOver
				}
			}
			return ""
		}
		last := rows[slices.IndexFunc(rows, func(r result.FloorRow) bool { return r.From.Equal(gainStart.Add(25*time.Hour)) && r.Setup == whip })]
		if over(alone) != survey.KindReplaced || over(loop) == survey.KindReplaced || (last.MarginOver != nil && *last.MarginOver == survey.KindReplaced) != served {
			t.Errorf("%q: %q, %q, %+v", receiver, over(alone), over(loop), last)
		}
	}
}

const activeWhip = "[[antenna]]\nname = \"whip\"\nkind = \"whip\"\nactive = true\n"
const whipDummy = "[[antenna]]\nname = \"whip dummy\"\nkind = \"element replaced\"\nof = \"whip\"\n"

// An amplifier's noise, 2 dB under what comes from outside, is taken out where it was measured; where
// it was not, what stands over the receiver's noise is not known to be from outside.
func TestAmplifiersNoise(t *testing.T) {
	const unknown = "the amplifier's own noise is not known"
	n := night{outside: -140, figure: 8, plan: activeWhip}
	worst, table := n.worst(t, n.input(-142))
	if worst < 2 || !strings.Contains(fmt.Sprint(table.Doubts), "whip@attic: "+unknown) {
		t.Errorf("%.2f dB, doubts %q", worst, table.Doubts)
	}
	n.plan += whipDummy
	n.more = map[string]func() bool{"whip dummy": always}
	worst, table = n.worst(t, n.input(-142))
	if math.Abs(worst) > 0.1 || strings.Contains(fmt.Sprint(table.Doubts), unknown) {
		t.Errorf("%.2f dB, doubts %q", worst, table.Doubts)
	}
	for _, r := range table.Rows {
		if r.Setup == whip {
			reporttest.Near(t, "margin", r.Margin, 4.12, 0.05) // 10·log(1 + 10^0.2)
			if r.MarginOver == nil || *r.MarginOver != survey.KindReplaced || r.Limited != 0 {
				t.Errorf("%+v", r)
			}
		}
	}
	// Once in the night does, too.
	first := true
	n.more["whip dummy"] = func() bool { defer func() { first = false }(); return first }
	if worst, _ = n.worst(t, n.input(-142)); math.Abs(worst) > 0.1 {
		t.Errorf("%.2f dB with one visit", worst)
	}
	// A floor of which 2 dB stand over the amplifier's noise ranks nobody.
	n.more["whip dummy"] = always
	_, table = n.worst(t, n.input(-140+2.33)) // 10·log(1 + 10^−0.233) = 2.0
	if !strings.Contains(fmt.Sprint(table.Doubts), "show the receiver's own noise, or an amplifier's, in most readings") {
		t.Errorf("doubts %q", table.Doubts)
	}
	for _, r := range table.Rows {
		if r.Setup == whip && r.Limited != r.Readings {
			t.Errorf("%d of %d limited at a margin of %.2f dB", r.Limited, r.Readings, *r.Margin)
		}
	}
	// A dummy over the floor hears something itself.
	dirty := n.input(-142)
	for _, s := range dirty.Sweeps {
		if s.Setup.Antenna == "whip dummy" {
			s.Readings[0].Floor.Density += 6
		}
	}
	if _, table = n.worst(t, dirty); !strings.Contains(fmt.Sprint(table.Doubts), "under the own noise that a control showed") || strings.Contains(fmt.Sprint(table.Doubts), "calibrate again") {
		t.Errorf("doubts %q", table.Doubts)
	}
	// Without any calibration the dummy alone tells the margin.
	in := n.input(-142)
	in.Calibrations = nil
	for _, r := range floor.Of(reporttest.Selected(in, input.Options{})).Rows {
		if r.Setup == whip {
			reporttest.Near(t, "margin", r.Margin, 4.12, 0.05)
		}
	}
}

// The drift of own noise is told where a control shows it: 1.5 dB through a night, and over means of three of 72
// visits 1.5·69/72 = 1.44 dB.
func TestOwnNoiseOfANight(t *testing.T) {
	n := night{outside: -140, figure: 8, plan: activeWhip + whipDummy + receiverTerminator,
		more: map[string]func() bool{"50 ohm": always, "whip dummy": always}}
	in := n.input(-160)
	q := quality.Of(reporttest.Selected(in, input.Options{}))
	if len(q.Surveys[0].OwnNoise) != 2 {
		t.Fatalf("%+v", q.Surveys[0].OwnNoise)
	}
	dummy, own := q.Surveys[0].OwnNoise[0], q.Surveys[0].OwnNoise[1]
	if own.Of != nil || own.Visits != 72 || own.Gain != 30 || own.Segment != "31 m" || dummy.Of == nil || *dummy.Of != "whip" {
		t.Errorf("%+v, %+v", dummy, own)
	}
	reporttest.Near(t, "drift", own.Drift, 1.44, 0.08)
	var shown bytes.Buffer
	if err := text.WriteTable(&shown, q, time.UTC, text.Width); err != nil {
		t.Fatal(err)
	}
	flat := strings.Join(strings.Fields(shown.String()), " ")
	for _, want := range []string{"the receiver's own noise drifted by 1.", "(through 50 ohm@attic)", "noise of the amplifier of whip and the receiver drifted by 0."} {
		if !strings.Contains(flat, want) {
			t.Errorf("%q is not in\n%s", want, flat)
		}
	}
	// Rising by 0.3 dB a visit, the last three of nine stand 6·0.3 dB over the first three. Five visits are too few.
	for visits, want := range map[int]float64{9: 1.8, 6: 0.9, 5: 0} {
		steady := ofWhip()
		steady.Surveys[0].Plan = receiverTerminator
		for v := range visits {
			s := atGain(survey.Setup{Antenna: "50 ohm", Placement: "attic"}, v, label(30), survey.DBFSPerHz(-130+0.3*float64(v)))
			s.Visit = v
			steady.Sweeps = append(steady.Sweeps, s)
		}
		own = quality.Of(reporttest.Selected(steady, input.Options{})).Surveys[0].OwnNoise[0]
		if own.Visits != visits || (own.Drift == nil) != (want == 0) || own.Drift != nil && math.Abs(float64(*own.Drift)-want) > 1e-9 {
			t.Errorf("%d visits: %+v, want %v", visits, own, want)
		}
	}
	// A receiver without a calibration has a margin all the same.
	in.Calibrations[0].Receiver, in.Calibrations[1].Receiver = "another", "another"
	r, _, err := reportOf(in, input.Options{})
	if err != nil || strings.Contains(fmt.Sprint(r.Doubts), "its receiver margin is not known") {
		t.Errorf("%v, %q", err, r.Doubts)
	}
}

// A relay that sticks leaves an antenna on in place of the terminator: what it shows is not the receiver's.
func TestTerminatorThatIsNotInPlace(t *testing.T) {
	n := night{outside: -162, figure: 8, plan: receiverTerminator, more: map[string]func() bool{"50 ohm": always}}
	for over, said := range map[survey.DBFSPerHz]bool{0: false, 1.2: false, 1.9: true} { // over what drifted by 1.45 dB towards the night's end
		in := n.input(none)
		last := slices.DeleteFunc(slices.Clone(in.Sweeps), func(s *survey.Sweep) bool { return s.Setup == whip || s.Round < 70 })
		for _, s := range last {
			s.Readings[0].Floor.Density += over
		}
		r, _, err := reportOf(in, input.Options{})
		if err != nil || strings.Contains(fmt.Sprint(r.Doubts), fmt.Sprintf("survey 1: in %d of 216 readings noise through 50 ohm@attic stands 3 dB", len(last))) != said {
			t.Errorf("%v dB: %v, %q", over, err, r.Doubts)
		}
	}
}
