package capture_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// A supply's lines at multiples of 37.31 kHz, 18 in each passband of 683 kHz, over noise
// of −120 dBm/Hz: in the 94 Hz that 0.1 s resolve, 15 dB over it.
const (
	switching survey.Hz  = 37310
	lineLevel survey.DBm = -85.3
)

// supply is a sky with the supply's lines about some frequencies, heard through one
// antenna.
func supply(through string, around ...survey.Hz) capturetest.Sky {
	sky := capturetest.Sky{Floor: -120, Rate: 1.024e6}
	for _, f := range around {
		for n := math.Ceil(float64((f - 400e3) / switching)); survey.Hz(n)*switching < f+400e3; n++ {
			sky.Carriers = append(sky.Carriers, capturetest.Carrier{At: survey.Hz(n) * switching, Level: lineLevel, Through: through})
		}
	}
	return sky
}

// combOf gives the one comb of a reading.
func combOf(t *testing.T, r survey.Reading) survey.Finding {
	t.Helper()
	var found []survey.Finding
	for _, f := range r.Findings {
		if f.Kind == survey.FindingComb {
			found = append(found, f)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d combs in %s, want 1: %+v", len(found), r.Segment.Name, r.Findings)
	}
	return found[0]
}

// checkComb wants the supply's comb in every reading of a sweep: found through the loop,
// by force and within its error of nothing through the others.
func checkComb(t *testing.T, s survey.Sweep) {
	t.Helper()
	for _, r := range s.Readings {
		f := combOf(t, r)
		// Of 36 lines with 12 dB in 125 Hz columns at 10 MHz the spacing is good to 0.1 Hz and better.
		if f.Detected() != (s.Setup == loop) || math.Abs(float64(f.Spacing-switching)) > 0.2 || f.Lines < 16 || f.Lines > 19 {
			t.Errorf("%v, %s: %+v", s.Setup, r.Segment.Name, f)
		}
		if low, high := capture.UsablePassband(r.Centre, r.SampleRate); f.Low != low || f.High != high {
			t.Errorf("%v–%v, want the passband %v–%v", f.Low, f.High, low, high)
		}
		sky := capturetest.Sky{}
		want := sky.Power(capturetest.Carrier{Level: lineLevel, Through: "loop"}, s.Setup.Antenna, r.Gain.DB)
		// Some 24 powers by force: 4.5 sigma; 5 % for a line's place between columns.
		if !(f.Sigma > 0) || math.Abs(f.Power-want) > 4.5*f.Sigma+0.05*want {
			t.Errorf("%v, %s: power %.3g ± %.2g, want %.3g", s.Setup, r.Segment.Name, f.Power, f.Sigma, want)
		}
		if want := overFloor(r); f.Detected() && math.Abs(float64(f.Strength-want)) > 0.5 {
			t.Errorf("%s: %.2f dB over the floor, want %.2f", r.Segment.Name, f.Strength, want)
		}
	}
}

// overFloor is how far the lines stand over the noise in the reading's resolution.
func overFloor(r survey.Reading) survey.DB {
	return survey.DB(lineLevel) + 120 - survey.DB(10*math.Log10(float64(r.Resolution)))
}

// combPlan has two tunings, far apart, and a segment that shares one.
func combPlan() plan.Plan {
	p := smallPlan()
	p.Rounds, p.Sweeps, p.Segments = 1, 1, []survey.Segment{lower, higher, {Name: "beside", Low: 9.6e6, High: 9.65e6}}
	return p
}

// A comb is sought in all tunings of a sweep together and stands in every reading;
// through the setups that do not hear it, it is measured by force: at once where their
// turn comes after, else afterwards in the last sweep of their visit.
func TestCombsOfARound(t *testing.T) {
	late, first := 0, 0
	for seed := range uint64(3) {
		sky := supply("loop", 6.03e6, 9.5e6)
		p := combPlan()
		p.Seed, p.Sweeps, sky.Seed = seed, 2, seed
		r, _, m := recorderOf(sky, p)
		run(t, r)
		late += m.lateCombs
		heard := false
		for i, s := range m.sweeps {
			heard = heard || s.Setup == loop
			if !heard && i%2 == 0 {
				first++
				if n := len(s.Readings[0].Findings); n > 0 && s.Readings[0].Findings[n-1].Kind == survey.FindingComb {
					t.Errorf("%v: a comb in the first sweep of a visit before it was heard", s.Setup)
				}
				continue
			}
			checkComb(t, s)
			if a, b := combOf(t, s.Readings[1]), combOf(t, s.Readings[2]); a.Power != b.Power || a.Low != b.Low {
				t.Errorf("readings of one tuning differ: %+v, %+v", a, b)
			}
		}
	}
	if late != 3*first || late == 0 || first == 6 { // three readings of the visit's other sweep
		t.Errorf("%d combs measured afterwards in %d visits, want some and not all", late, first)
	}
}

// Lines that one tuning shows by half the chance at best, two together show as a rule:
// 36 lines are as good as 18 that are 1.5 dB stronger.
func TestCombAcrossTunings(t *testing.T) {
	if testing.Short() {
		t.Skip("long arithmetic, which TestCombsOfARound runs through as well; it runs without -short")
	}
	alone, together := 0, 0
	for seed := range uint64(6) {
		sky := supply("", 6.03e6, 9.5e6)
		sky.Seed = seed
		for i := range sky.Carriers {
			sky.Carriers[i].Level -= 17.5 // 2.5 dB under the noise in one resolution
		}
		p := combPlan()
		p.Setups = []survey.Setup{whip}
		r, _, m := recorderOf(sky, p)
		run(t, r)
		together += combsFound(m.sweeps[0].Readings[0])
		readings, err := capture.Measure(t.Context(), record(sky, whip, 5.985e6, 30, time.Unix(0, 0), 102_400), []survey.Segment{lower}, 1)
		if err != nil {
			t.Fatal(err)
		}
		alone += combsFound(readings[0])
	}
	if together < alone+2 {
		t.Errorf("found in %d of 6 sweeps, and in %d of 6 recordings of one tuning", together, alone)
	}
}

func combsFound(r survey.Reading) (n int) {
	for _, f := range r.Findings {
		if f.Kind == survey.FindingComb && f.Detected() {
			n++
		}
	}
	return n
}

// A survey that goes on knows the combs that it had found.
func TestResumedSurveyKnowsItsCombs(t *testing.T) {
	p := combPlan()
	heard := survey.Finding{Kind: survey.FindingComb, Spacing: switching, Lines: 18, Strength: 12, Confidence: 0.9999}
	r, fake, m := recorderOf(capturetest.Sky{Floor: -120, Rate: 1.024e6}, p)
	before := &survey.Sweep{ID: 1, Survey: 7, Round: 1, Visit: 1, Setup: whip, Start: fake.Now().Add(-time.Minute),
		Readings: []survey.Reading{{ID: 99, Segment: lower, Start: fake.Now().Add(-time.Minute), Findings: []survey.Finding{heard}}}}
	r.Resume = &survey.Progress{Survey: survey.Survey{ID: 7, Receiver: capture.Describe(fake.Info(), p.FrontEnd)}, Round: 1, Visit: 1,
		Made: map[survey.Setup]int{whip: 1}, Last: before.Start.Add(time.Second), Recent: []*survey.Sweep{before}}
	run(t, r)
	if len(m.sweeps) != 2 {
		t.Fatalf("%d sweeps, want the two that were left", len(m.sweeps))
	}
	for _, s := range m.sweeps {
		if f := combOf(t, s.Readings[0]); f.Detected() || f.Spacing != switching || math.Abs(f.Power) > 4.5*f.Sigma {
			t.Errorf("%+v", f)
		}
	}
}

// A recording that is measured alone has its findings in every segment, strongest
// evidence first, and none that nothing speaks for but what is measured always.
func TestFindingsOfARecording(t *testing.T) {
	source := record(supply("", 6.03e6), whip, 5.985e6, 30, time.Unix(0, 0), 102_400)
	readings, err := capture.Measure(t.Context(), source, []survey.Segment{lower, {Name: "beside", Low: 6.1e6, High: 6.2e6}}, 1)
	if err != nil {
		t.Fatal(err)
	}
	if len(readings) != 2 || !slices.Equal(readings[0].Findings, readings[1].Findings) {
		t.Fatalf("%+v", readings)
	}
	f := combOf(t, readings[0])
	if !f.Detected() || math.Abs(float64(f.Spacing-switching)) > 0.5 || f.Lines != 18 || math.Abs(float64(f.Strength-overFloor(readings[0]))) > 0.5 {
		t.Errorf("%+v", f)
	}
	for _, f := range readings[0].Findings {
		if !f.Detected() && f.Kind != survey.FindingMains {
			t.Errorf("%+v is no finding", f)
		}
	}
}

// An import measures by force, through every setup, the combs that any recording of
// the same rounds has, once, whatever came first.
func TestImportedCombs(t *testing.T) {
	db := openStore(t)
	var sources []capture.Source
	for i, setup := range []survey.Setup{whip, loop, wire} {
		sky := supply("loop", 6.03e6)
		sky.Seed = uint64(i)
		sources = append(sources, record(sky, setup, 5.985e6, 30, time.Unix(1e9+60*int64(i), 0), 102_400))
	}
	im := &capture.Importer{Store: db, Segments: []survey.Segment{lower}, Region: 1, Version: "test"}
	importAll(t, im, sources...)
	importAll(t, im, sources...)
	for _, s := range stored(t, db) {
		checkComb(t, s)
	}
}
