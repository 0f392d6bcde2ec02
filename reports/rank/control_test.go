package rank

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"nightfloor/reports/floor"
	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// controlled makes a world of a whip, a loop and a terminator, whose stations come
// by leak dB under the whip's and whose noise stands floor dB under it. SNR through
// it is the difference of both.
func controlledWorld(leak, floor float64) input.Input {
	w := reporttest.NewWorld(11)
	w.Gain, w.Floor = []float64{0, 6, leak - floor}, []float64{-98, -101, -98 + floor}
	w.Fade, w.FloorSD, w.Common = 0.5, 0.1, 1
	in := w.Input()
	in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna C\"\nkind = \"terminator\"\n"
	return in
}

// A control tells by how much noise and stations come without an antenna.
func TestControls(t *testing.T) {
	s := mustRank(t, controlledWorld(-13, -14), input.Options{}).Segments[0]
	if len(s.Controls) != 2 {
		t.Fatalf("%+v, want the terminator against two antennas", s.Controls)
	}
	for _, c := range s.Controls {
		// The loop's floor is 3 dB under the whip's, its stations 3 dB over.
		floor, carriers := -14.0, -13.0
		if c.Against.Antenna == "antenna B" {
			floor, carriers = -11, -16
		}
		if c.Antenna != "antenna C" || c.Rounds != 24 || c.Bound || math.Abs(float64(*c.Floor)-floor) > 0.2 || math.Abs(float64(*c.Carriers)-carriers) > 0.6 {
			t.Errorf("%+v: floor %.2f, carriers %.2f; want %v and %v", c, *c.Floor, *c.Carriers, floor, carriers)
		}
	}
	if !reporttest.HasDoubt(s, "stations come 16.") || reporttest.HasDoubt(s, "at least") || reporttest.HasDoubt(s, "part of that floor") {
		t.Errorf("%q", s.Doubts)
	}
}

// Where most of it comes by the feed line, that is said of each antenna; where
// nothing comes, only a bound can be given.
func TestControlsAtTheirEnds(t *testing.T) {
	near := mustRank(t, controlledWorld(-5, -4), input.Options{}).Segments[0]
	if !reporttest.HasDoubt(near, "is only 1.1 dB under that through antenna B@attic (1.1 to 4.0 dB over 2 setups): ") || !reporttest.HasDoubt(near, "part of that floor is not the antenna's") || !reporttest.HasDoubt(near, "weaker than through antenna A@attic (") {
		t.Errorf("%q", near.Doubts)
	}
	// 60 dB under the whip's: under the noise of 72 readings.
	far := mustRank(t, controlledWorld(-60, -14), input.Options{}).Segments[0]
	if reporttest.HasDoubt(far, "it hears none") { // as it should
		t.Errorf("%q", far.Doubts)
	}
	if c := far.Controls[0]; !c.Bound || *c.Carriers > -25 || *c.Carriers < -55 || !reporttest.HasDoubt(far, "at least") {
		t.Errorf("%+v, %v, %q", c, *c.Carriers, far.Doubts)
	}
	w := reporttest.NewWorld(3)
	w.Gain, w.Floor, w.Gains = []float64{0, 6}, []float64{-98, -101}, []survey.Gain{{DB: 20, Known: true}, {DB: 30, Known: true}}
	in := w.Input()
	in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna B\"\nkind = \"terminator\"\n"
	if s := mustRank(t, in, input.Options{}).Segments[0]; s.Controls[0].Floor != nil || !reporttest.HasDoubt(s, "no round in common at gains that compare") {
		t.Errorf("%+v, %q", s.Controls, s.Doubts)
	}
	if s := mustRank(t, reporttest.NewWorld(3).Input(), input.Options{}).Segments[0]; len(s.Controls) != 0 {
		t.Errorf("%+v without a terminator", s.Controls)
	}
}

// A terminator with no noise but the receiver's, into which stations leak 13 dB down, has the best SNR of all.
// It keeps its row, and is no antenna: it is not the best, nor in a tie, nor the one that another is ahead of,
// and no setup's chance to be first is less for it.
func TestControlIsNoCandidate(t *testing.T) {
	r := mustRank(t, controlledWorld(-13, -30), input.Options{})
	s := r.Segments[0]
	loop, whip, dummy := s.Setups[0], s.Setups[1], s.Setups[2]
	if dummy.Antenna != "antenna C" || !dummy.Apart || dummy.Rank != 0 || dummy.MayBeBest || dummy.BestShare != nil {
		t.Errorf("%+v last, want the terminator, apart", dummy)
	}
	reporttest.Near(t, "advantage through the terminator", dummy.SNRAdvantage, 17, 0.6)
	if loop.Antenna != "antenna B" || loop.Apart || loop.Rank != 1 || !loop.MayBeBest || *loop.BestShare < 0.9 || whip.Rank != 2 || whip.MayBeBest {
		t.Errorf("%+v, %+v", loop, whip)
	}
	if v := s.Verdict; v.Kind != result.VerdictBest || len(v.Setups) != 1 || v.Setups[0] != loop.Setup || math.Abs(float64(*v.Lead)-6) > 0.6 {
		t.Errorf("%+v, want the loop, 6 dB ahead of the whip", v)
	}

	// The first setup of a plan may be the terminator; levels are against an antenna all the same.
	in := controlledWorld(-13, -30)
	in.Surveys[0].First = survey.Setup{Antenna: "antenna C", Placement: "attic"}
	if ref := mustRank(t, in, input.Options{}).Reference; ref.Antenna == "antenna C" {
		t.Errorf("the reference is the terminator")
	}
	// Asked for, it is the reference, and none of the others is less a candidate.
	s = mustRank(t, in, input.Options{Reference: "antenna C"}).Segments[0]
	if v := s.Verdict; v.Kind != result.VerdictBest || v.Setups[0].Antenna != "antenna B" || len(v.Setups) != 1 || s.Setups[2].Rank != 0 {
		t.Errorf("against the terminator: %+v, %+v", v, s.Setups)
	}
	// One antenna beside a terminator has no other to be compared with.
	in.Sweeps = slices.DeleteFunc(in.Sweeps, func(w *survey.Sweep) bool { return w.Setup.Antenna == "antenna B" })
	if s = mustRank(t, in, input.Options{}).Segments[0]; s.Verdict != nil {
		t.Errorf("one antenna and a terminator: %+v", s.Verdict)
	}
}

// leaking is a world in which a loop hears stations 5 dB better than a whip does, and what the terminator hears, so many
// dB under that, leaks into the loop by voltage, with a phase for each carrier. The terminator's floor stands so many
// dB under the loop's.
func leaking(isolation, floor float64, phase func(carrier int) float64) input.Input {
	w := reporttest.Still()
	w.Gain, w.Floor = []float64{0, 5, 5 - isolation + floor}, []float64{-98, -104, -104 - floor}
	in := w.Input()
	in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna C\"\nkind = \"terminator\"\n"
	leak := math.Pow(10, -isolation/20)
	for _, s := range in.Sweeps {
		for c := range s.Readings[0].Carriers {
			if s.Setup == w.Setup(1) && phase != nil {
				sin, cos := math.Sincos(phase(c))
				s.Readings[0].Carriers[c].Power *= math.Pow(math.Hypot(1+leak*cos, leak*sin), 2)
			}
		}
	}
	return in
}

// What leaks of a station adds by voltage: by the phase the loop's level comes out as far off as isolation tells, and
// the report says by how much under 25 dB. With 10 dB of isolation an advantage of 5 dB reads 1.7 to 7.4.
func TestLeakageOfStations(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 5))
	phases := map[string]func(int) float64{"against": func(int) float64 { return math.Pi }, "with": func(int) float64 { return 0 },
		"any": func(int) float64 { return 2 * math.Pi * random.Float64() }}
	for _, test := range []struct {
		isolation, low, high float64
		says                 string // "": nothing
	}{{10, -3.30, 2.39, "by −3.3 to +2.4 dB"}, {20, -0.92, 0.83, "by −0.9 to +0.8 dB"}, {24, -0.57, 0.53, "by −0.6 to +0.5 dB"}, {26, -0.45, 0.42, ""}} {
		for name, phase := range phases {
			s := mustRank(t, leaking(test.isolation, 20, phase), input.Options{}).Segments[0]
			advantage := float64(*reporttest.Find(t, s, survey.Setup{Antenna: "antenna B", Placement: "attic"}).SNRAdvantage) - 5
			want := map[string]float64{"against": test.low, "with": test.high, "any": advantage}[name]
			if math.Abs(advantage-want) > 0.02 || advantage < test.low-0.02 || advantage > test.high+0.02 {
				t.Errorf("%.0f dB, %s: errs by %.2f dB, want %.2f of %.2f to %.2f", test.isolation, name, advantage, want, test.low, test.high)
			}
		}
		s := mustRank(t, leaking(test.isolation, 20, nil), input.Options{}).Segments[0]
		c := s.Controls[slices.IndexFunc(s.Controls, func(c result.Control) bool { return c.Against.Antenna == "antenna B" })]
		reporttest.Near(t, "isolation", c.Isolation.DB, test.isolation, 0.02)
		reporttest.Near(t, "lowest error", c.Isolation.Low, test.low, 0.01)
		reporttest.Near(t, "highest error", c.Isolation.High, test.high, 0.01)
		said := reporttest.HasDoubt(s, "4 carriers heard through antenna C@attic only "+wording.Number(test.isolation, 1)+" dB weaker than through antenna B@attic (")
		if said != (test.says != "") || said && (!reporttest.HasDoubt(s, test.says) || c.Poor != 4) || !said && c.Poor != 0 {
			t.Errorf("%.0f dB: said %t, %d carriers, %q", test.isolation, said, c.Poor, s.Doubts)
		}
	}
	// As strong as through the antenna itself: nothing can be told of it.
	s := mustRank(t, leaking(-2, 20, nil), input.Options{}).Segments[0]
	if !reporttest.HasDoubt(s, "what of it is the antenna's cannot be told") {
		t.Errorf("%q", s.Doubts)
	}
}

// What a control hears is told once, against the setup under which it hears stations the least, with the range over all;
// and so is with which setups it does not compare.
func TestControlIsToldOnce(t *testing.T) {
	w := reporttest.NewWorld(11)
	w.Gain, w.Floor = []float64{0, 6, 3, 6}, []float64{-98, -98, -98, -118} // stations through C, the terminator, come 14, 20 and 17 dB weaker
	w.Fade, w.FloorSD, w.Common = 0.5, 0.1, 1
	in := w.Input()
	in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna D\"\nkind = \"terminator\"\n"
	s := mustRank(t, in, input.Options{}).Segments[0]
	texts := doubtsWith(s, "heard through")
	if len(texts) != 1 || !strings.Contains(texts[0], "only 14.") || !strings.Contains(texts[0], "weaker than through antenna A@attic (14.") || !strings.Contains(texts[0], "to 20.") || !strings.Contains(texts[0], "dB over 3 setups): by") {
		t.Errorf("%q", texts)
	}
	w.Floor[3] = -104 // 6 dB under all
	in = w.Input()
	in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna D\"\nkind = \"terminator\"\n"
	if texts = doubtsWith(mustRank(t, in, input.Options{}).Segments[0], "part of that floor"); len(texts) != 1 || !strings.Contains(texts[0], " dB over 3 setups): part") {
		t.Errorf("%q", texts)
	}
	w.Gains = []survey.Gain{{DB: 20, Known: true}, {DB: 20, Known: true}, {DB: 20, Known: true}, {DB: 30, Known: true}}
	in = w.Input()
	in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna D\"\nkind = \"terminator\"\n"
	s = mustRank(t, in, input.Options{}).Segments[0]
	if texts = doubtsWith(s, ": no round in common at gains that compare with antenna D@attic"); len(texts) != 1 || strings.Count(texts[0], "@attic") != 4 {
		t.Errorf("%q, want one of three antennas", texts)
	}
}

// doubtsWith gives the doubts of a segment that hold some words.
func doubtsWith(s result.RankSegment, words string) (texts []string) {
	for _, d := range s.Doubts {
		if text := d.String(); strings.Contains(text, words) {
			texts = append(texts, text)
		}
	}
	return texts
}

// Independent noise adds by power: a floor 10 dB under the antenna's does no harm, whatever stations need.
func TestLeakageOfNoise(t *testing.T) {
	for floor, said := range map[float64]bool{10.1: false, 9.9: true} {
		s := mustRank(t, leaking(30, floor, nil), input.Options{}).Segments[0]
		if reporttest.HasDoubt(s, "part of that floor is not the antenna's") != said || reporttest.HasDoubt(s, "Voltages add") {
			t.Errorf("floor %.1f dB under: %q", floor, s.Doubts)
		}
	}
}

// The floor from outside rises by 10 dB over the night, through all antennas alike, and a terminator's stays: that
// says nothing of how floors of antennas drift against each other, and takes no interval away.
func TestControlUnderARisingFloor(t *testing.T) {
	for seed := range uint64(10) {
		w := reporttest.NewWorld(seed)
		w.Gain, w.Floor = []float64{0, 6, -20}, []float64{-98, -101, -115}
		w.Fade, w.FloorSD, w.Common = 0.5, 0.1, 1
		in := w.Input()
		for _, s := range in.Sweeps {
			if s.Setup != w.Setup(2) {
				rise := survey.DBFSPerHz(5 - 5*math.Cos(2*math.Pi*float64(s.Round)/float64(w.Rounds)))
				s.Readings[0].Floor.Density += rise
				s.Readings[0].Floor.Quiet += rise
			}
		}
		without := in
		without.Sweeps = slices.DeleteFunc(slices.Clone(in.Sweeps), func(s *survey.Sweep) bool { return s.Setup == w.Setup(2) })
		in.Surveys = slices.Clone(in.Surveys)
		in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna C\"\nkind = \"terminator\"\n"
		s, alone := mustRank(t, in, input.Options{}).Segments[0], mustRank(t, without, input.Options{}).Segments[0]
		loop, same := s.Setups[0], alone.Setups[0]
		if s.Verdict.Kind != result.VerdictBest || loop.Low == nil {
			t.Errorf("seed %d: %s, %q", seed, s.Verdict.Kind, s.Doubts)
			continue
		}
		// The middle of a round counts its visits: without the terminator's it is another, and so is the correlation by a little.
		reporttest.Near(t, "advantage", loop.SNRAdvantage, float64(*same.SNRAdvantage), 0.02)
		reporttest.Near(t, "width", result.DB(float64(*loop.High-*loop.Low)), float64(*same.High-*same.Low), 0.06)
	}
}

// Nor is a floor that steps up through all antennas alike, past a terminator's, a state in which they differ.
func TestControlShowsNoState(t *testing.T) {
	w := reporttest.NewWorld(1)
	w.Rounds = 40
	w.Gain, w.Floor = []float64{0, 6, -20}, []float64{-98, -101, -115}
	w.Fade, w.FloorSD, w.Common = 0.5, 0.1, 1
	in := w.Input()
	in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna C\"\nkind = \"terminator\"\n"
	for _, s := range in.Sweeps {
		if s.Setup != w.Setup(2) && s.Round >= 10 && s.Round < 22 {
			s.Readings[0].Floor.Density += 6
			s.Readings[0].Floor.Quiet += 6
		}
	}
	for _, s := range mustRank(t, in, input.Options{}).Segments {
		if s.State != nil {
			t.Errorf("state %q", *s.State)
		}
	}
	// A step of one antenna's alone is one.
	for _, s := range in.Sweeps {
		if s.Setup == w.Setup(1) && s.Round >= 10 && s.Round < 22 {
			s.Readings[0].Floor.Density += 6
		}
	}
	if segments := mustRank(t, in, input.Options{}).Segments; !slices.ContainsFunc(segments, func(s result.RankSegment) bool { return s.State != nil }) {
		t.Error("no state of a step that one antenna shows")
	}
}

// ownNoise makes a world of a whip, a loop, a terminator at the antenna's end of the feed line, one at the receiver's
// input, whose noise the feed line's stands so many dB under, and a dummy for the whip's element 6 dB under the whip.
func ownNoise(ingress float64) input.Input {
	w := reporttest.Still()
	w.Gain = []float64{0, 5, -40, -40, -40}
	w.Floor = []float64{-98, -104, -110 + stats.Decibel(1+stats.FromDecibel(ingress)), -110, -104}
	in := w.Input()
	in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna C\"\nkind = \"terminator\"\n[[antenna]]\nname = \"antenna D\"\nkind = \"terminator\"\nat = \"receiver\"\n" +
		"[[antenna]]\nname = \"antenna E\"\nkind = \"element replaced\"\nof = \"antenna A\"\n"
	return in
}

// The feed line's noise is what comes through a terminator at its far end, less what comes through one at the
// receiver's, which is no feed line's and compared with no antenna. A dummy says nothing of another antenna's noise.
func TestFeedLineAndAmplifier(t *testing.T) {
	for _, test := range []struct {
		ingress, under float64 // against the receiver's noise, and the whip's
		bound          bool
	}{{-3, -13.74, false}, {6, -4.74, false}, {-60, -30, true}} { // of the whip's −98 dB −104 are its amplifier's: 1.26 less
		s := mustRank(t, ownNoise(test.ingress), input.Options{}).Segments[0]
		if len(s.Controls) != 3 {
			t.Fatalf("%+v, want the terminator against two antennas, the dummy against one", s.Controls)
		}
		for _, c := range s.Controls {
			switch {
			case c.Antenna == "antenna E" && (c.Against.Antenna != "antenna A" || c.Ingress != nil):
				t.Errorf("%+v", c)
			case c.Antenna == "antenna C" && c.Against.Antenna == "antenna A":
				if c.Ingress == nil || c.IngressBound != test.bound || math.Abs(float64(*c.Ingress)-test.under) > 0.05 && !test.bound || float64(*c.Ingress) > test.under+1 && test.bound {
					t.Errorf("%+v, want %v", c, test)
				}
			case c.Antenna == "antenna C" && !test.bound: // of the loop's −104 dB −110 are the receiver's: 1.26 less
				reporttest.Near(t, "ingress under the loop", c.Ingress, test.under+6, 0.05)
			}
		}
		at := "the feed line to antenna C@attic brings noise "
		if test.bound {
			at += "at least "
		}
		if !reporttest.HasDoubt(s, at) || !reporttest.HasDoubt(s, "dB under that through antenna B@attic, own noise taken out of both") {
			t.Errorf("%q", s.Doubts)
		}
		if !reporttest.HasDoubt(s, "noise through antenna E@attic, whose element is replaced, is only 6.0 dB under that through antenna A@attic: part of that floor is its amplifier's") {
			t.Errorf("%q", s.Doubts)
		}
	}
	// Without a terminator at the receiver what the feed line brings is not told from its noise, not by a calibration either,
	// from which that drifts.
	in := ownNoise(-3)
	in.Surveys[0].Receiver = "dongle"
	in.Calibrations = []survey.Calibration{{Kind: survey.CalibrateNoise, Receiver: "dongle", At: in.Surveys[0].Start,
		Noise: []survey.SelfNoise{{Segment: in.Sweeps[0].Readings[0].Segment, Density: -110.5, Sigma: 0.05}}}}
	in.Sweeps = slices.DeleteFunc(in.Sweeps, func(s *survey.Sweep) bool { return s.Setup.Antenna == "antenna D" })
	if s := mustRank(t, in, input.Options{}).Segments[0]; s.Controls[0].Ingress != nil || reporttest.HasDoubt(s, "the feed line to") {
		t.Errorf("%+v, %q", s.Controls, s.Doubts)
	}
}

// A terminator at the receiver's input hears no station: no SNR is told of it, which noise alone would make, nor against it.
func TestNoSNROfTheReceiver(t *testing.T) {
	in := ownNoise(-3)
	for _, reference := range []string{"", "antenna D"} {
		s := mustRank(t, in, input.Options{Reference: reference}).Segments[0]
		for _, x := range s.Setups {
			own := x.Antenna == "antenna D"
			if told := x.SNRAdvantage != nil && x.Antenna != reference; told == own && reference == "" || told && reference != "" || x.SignalChange != nil && own && reference == "" {
				t.Errorf("against %q: %+v", reference, x)
			}
			if x.FloorChange == nil && x.Antenna != "antenna C" { // which is own noise in most readings
				t.Errorf("against %q: no floor of %+v", reference, x)
			}
		}
		if v := s.Verdict; reference != "" && (v == nil || v.Lead != nil || v.Kind == result.VerdictBest || v.Kind == result.VerdictTie) {
			t.Errorf("against %q: %+v", reference, v)
		}
	}
}

// A feed line that brings nothing is heard by chance in a few per cent of short surveys, however few their rounds are.
func TestIngressOfFewRounds(t *testing.T) {
	const surveys = 300
	for _, rounds := range []int{2, 3, 6} {
		heard := 0
		for seed := range uint64(surveys) {
			w := reporttest.NewWorld(seed)
			w.Rounds, w.Sweeps, w.FloorSD, w.Lag1 = rounds, 1, 0.05, 0
			w.Gain, w.Floor = []float64{0, -40, -40}, []float64{-98, -110, -110}
			in := w.Input()
			in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna B\"\nkind = \"terminator\"\n[[antenna]]\nname = \"antenna C\"\nkind = \"terminator\"\nat = \"receiver\"\n"
			for _, s := range in.Sweeps {
				s.Readings[0].Floor.Sigma = 0.001 // the scatter alone tells
			}
			m := matrix.New(reporttest.Selected(in, input.Options{}).Input, w.Segment)
			if _, bound := ingress(m, slices.Index(m.Setups, w.Setup(1)), slices.Index(m.Setups, w.Setup(0)), []int{0, 1, 2, 3, 4, 5}[:rounds]); !bound {
				heard++
			}
		}
		// One side of 95 % by Student's t is 2.5 %, some more since rounds share visits of the terminator at the receiver's input.
		if share := float64(heard) / surveys; share > 0.06 {
			t.Errorf("%d rounds: heard in %.3f of surveys", rounds, share)
		}
	}
}

// Of a whip with an amplifier whose noise was not measured it is said that its floor need not be from outside.
func TestUnmeasuredAmplifier(t *testing.T) {
	for more, said := range map[string]bool{"active = true\n": true, "amplifier = \"12 dB\"\n": true, "": false} {
		in := ownNoise(-3)
		in.Surveys[0].Plan += "[[antenna]]\nname = \"antenna B\"\n" + more
		s := mustRank(t, in, input.Options{}).Segments[0]
		if reporttest.HasDoubt(s, "antenna B@attic: the amplifier's own noise is not known") != said || reporttest.HasDoubt(s, "antenna A@attic: the amp") {
			t.Errorf("%q: %q", more, s.Doubts)
		}
		// Nor where nothing tells any own noise: no terminator, no dummy and no calibration.
		own := map[string]bool{"antenna C": true, "antenna D": true, "antenna E": true}
		in.Sweeps = slices.DeleteFunc(in.Sweeps, func(s *survey.Sweep) bool { return own[s.Setup.Antenna] })
		in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna B\"\n" + more
		for what, doubts := range map[string]string{"rank": fmt.Sprint(mustRank(t, in, input.Options{}).Segments[0].Doubts),
			"floor": fmt.Sprint(floor.Of(reporttest.Selected(in, input.Options{})).Doubts)} {
			if strings.Contains(doubts, "antenna B@attic: the amplifier's own noise is not known") != said || strings.Contains(doubts, "antenna A@attic: the amp") {
				t.Errorf("%q without controls, %s: %s", more, what, doubts)
			}
		}
	}
}

// twoGains is a whip at one gain, a loop at 36.4 dB and a terminator at the whip's gain, whose noise is the receiver's
// own: less the gain it falls from −136.2 dBFS/Hz to −141.9. The feed line brings so many dB against it.
func twoGains(whip, ingress float64) input.Input {
	const low, high = 29.7, 36.4
	w := reporttest.Still()
	w.Gain, w.Floor = []float64{0, 5, -40, -40, -40}, []float64{-90, -141.9 + high + 14.4, -136.2 + low + stats.Decibel(1+stats.FromDecibel(ingress)), -136.2 + low, -141.9 + high}
	for _, gain := range []float64{whip, high, low, low, high} {
		w.Gains = append(w.Gains, survey.Gain{DB: survey.DB(gain), Known: true, Exact: true})
	}
	in := w.Input()
	in.Surveys[0].Receiver = "dongle"
	in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna C\"\nkind = \"terminator\"\n[[antenna]]\nname = \"antenna D\"\nkind = \"terminator\"\nat = \"receiver\"\n" +
		"[[antenna]]\nname = \"antenna E\"\nkind = \"terminator\"\nat = \"receiver\"\n"
	return in
}

// A receiver's own noise does not rise with the gain: what a terminator shows is compared with an antenna at its own gain
// only, or with own noise known at both gains and put in place of what it shows; else it is said to be not known.
// Referred to the loop's gain by its full scale it would stand 8.7 dB under, and not the receiver's 14.4.
func TestTerminatorAtAnotherGain(t *testing.T) {
	isOwn := func(s *survey.Sweep) bool { return s.Setup.Antenna == "antenna D" || s.Setup.Antenna == "antenna E" }
	calibrated := func(in *input.Input, sigma survey.DB) {
		segment := in.Sweeps[0].Readings[0].Segment
		in.Calibrations = []survey.Calibration{{Kind: survey.CalibrateNoise, Receiver: "dongle", At: in.Surveys[0].Start, Noise: []survey.SelfNoise{
			{Segment: segment, Gain: 29.7, Density: -136.2 + 29.7, Sigma: sigma}, {Segment: segment, Gain: 36.4, Density: -141.9 + 36.4, Sigma: sigma}}}}
	}
	for name, test := range map[string]struct {
		ingress      float64
		own          bool // terminators at the receiver in turns
		calibrated   bool
		sigma, under survey.DB // 0: not known
		blamed       bool
	}{
		"calibrated":               {-60, false, true, 0.05, 14.4, false},
		"terminators in turns":     {-60, true, false, 0, 14.4, false},
		"neither":                  {-60, false, false, 0, 0, false},
		"calibrated roughly":       {-60, false, true, 2.5, 0, false},
		"noise by the feed line":   {6, false, true, 0.05, 2.43, true},
		"noise not told from none": {6, false, false, 0, 0, false},
	} {
		in := twoGains(29.7, test.ingress)
		if test.calibrated {
			calibrated(&in, test.sigma)
		}
		if !test.own {
			in.Sweeps = slices.DeleteFunc(in.Sweeps, isOwn)
		}
		s := mustRank(t, in, input.Options{}).Segments[0]
		c := s.Controls[slices.IndexFunc(s.Controls, func(c result.Control) bool { return c.Against.Antenna == "antenna B" })]
		if known := c.Floor != nil; known != (test.under != 0) || known && math.Abs(float64(*c.Floor+test.under)) > 0.1 {
			t.Errorf("%s: %+v, want %v dB under", name, wording.Figure(c.Floor, 2), test.under)
		}
		if (reporttest.HasDoubt(s, "through antenna B@attic: part of that floor") ||
			reporttest.HasDoubt(s, "is only 2.4 dB under that through antenna B@attic (2.4 to 9.5 dB over 2 setups): part of that floor")) != test.blamed {
			t.Errorf("%s: blamed: %q", name, s.Doubts)
		}
		if reporttest.HasDoubt(s, "antenna C@attic was not measured at the gain of antenna B@attic") != (test.under == 0) || reporttest.HasDoubt(s, "antenna A@attic, and own noise does not follow") {
			t.Errorf("%s: %q", name, s.Doubts)
		}
	}
	// Half a dB of gain is half a dB of own noise at most, and no other gain.
	for whip, told := range map[float64]bool{30.1: true, 30.3: false} {
		in := twoGains(whip, -60)
		in.Sweeps = slices.DeleteFunc(in.Sweeps, isOwn)
		if s := mustRank(t, in, input.Options{}).Segments[0]; reporttest.HasDoubt(s, "antenna A@attic, and own noise does not follow") == told {
			t.Errorf("whip at %v dB: %q", whip, s.Doubts)
		}
	}
}

// Of a terminator that shows nothing but the receiver's own noise it is said by how much at least what comes by its feed
// line stands under each antenna; of one that is warned of, that alone.
func TestTerminatorOfOwnNoise(t *testing.T) {
	for _, test := range []struct {
		own, loop survey.DBFSPerHz
		says, not string
	}{
		{-110, -104 + 9, "noise through antenna C@attic is own noise in most readings: what comes by its feed line or the switch stands at least 12.0 dB under that through antenna A@attic and 15.0 dB under that through antenna B@attic", "is only"},
		{-110, -104, "stands at least 12.0 dB under that through antenna A@attic", "at least 6.0"}, // 6 dB under the loop
		{-116, -104, "is only 6.0 dB under", "at least 12.0"},                                      // over own noise
	} {
		in := ownNoise(-60)
		in.Surveys[0].Receiver = "dongle"
		in.Calibrations = []survey.Calibration{{Kind: survey.CalibrateNoise, Receiver: "dongle", At: in.Surveys[0].Start,
			Noise: []survey.SelfNoise{{Segment: in.Sweeps[0].Readings[0].Segment, Density: test.own, Sigma: 0.05}}}}
		in.Sweeps = slices.DeleteFunc(in.Sweeps, func(s *survey.Sweep) bool { return s.Setup.Antenna >= "antenna D" })
		for _, s := range in.Sweeps {
			if s.Setup.Antenna == "antenna B" {
				s.Readings[0].Floor.Density = test.loop
			}
		}
		s := mustRank(t, in, input.Options{}).Segments[0]
		if !reporttest.HasDoubt(s, test.says) || reporttest.HasDoubt(s, test.not) {
			t.Errorf("%+v: %q", test, s.Doubts)
		}
		if c := s.Controls[0]; c.FloorBound != (test.own == -110) {
			t.Errorf("%+v: %+v", test, c)
		}
	}
	// A terminator at the receiver's input tells more closely.
	if s := mustRank(t, ownNoise(-60), input.Options{}).Segments[0]; reporttest.HasDoubt(s, "is own noise in most readings") || !s.Controls[0].FloorBound {
		t.Errorf("%q", s.Doubts)
	}
	// Of many antennas the one that it is nearest to is named.
	var many []result.Control
	for i, floor := range []float64{-14, -13, -11, -12} {
		many = append(many, result.Control{Setup: survey.Setup{Antenna: "50 ohm"}, Against: survey.Setup{Antenna: string(rune('a' + i))}, Rounds: 6, Floor: result.DB(floor), FloorBound: true})
	}
	if got := fmt.Sprint(controlDoubts(many)); !strings.Contains(got, "at least 11.0 dB under that through c and more under that through 3 others") {
		t.Error(got)
	}
}
