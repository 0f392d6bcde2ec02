package main

import (
	"math"
	"slices"
	"strings"
	"testing"

	"nightfloor/survey"
)

// decimation gives what the stand-in's decimation filter takes off at an offset, dB: a·x^b through
// the points of its README.
func decimation(offset float64) float64 {
	x := math.Abs(offset) / 1e6
	if x <= 0.5 {
		return -0.06 * math.Pow(x/0.5, 4)
	}
	if x <= 0.8 {
		return -0.06 * math.Pow(x/0.5, math.Log(10)/math.Log(1.6))
	}
	return -0.6 * math.Pow(x/0.8, math.Log(2.5)/math.Log(1.25))
}

// A tuner whose filter is 1.6 MHz wide takes 1.3 dB off 0.7 MHz from the centre and 1.9 dB
// at 0.74, beside the decimation filter, of which the program knows. Once a terminator's noise
// has told of it, floors and carriers at the edge read true to 0.1 dB, and were wrong before.
func TestCalibratedPassband(t *testing.T) {
	notInShort(t)
	t.Parallel()
	segments := func(plan string) string {
		head, _, _ := strings.Cut(upconverted(plan), "[[segment]]")
		return strings.Replace(head, "rounds = 6", "rounds = 1", 1) + "[[segment]]\nname = \"low\"\nlow = \"9.40 MHz\"\nhigh = \"9.50 MHz\"\n\n[[segment]]\nname = \"high\"\nlow = \"10.05 MHz\"\nhigh = \"10.15 MHz\"\n"
	}
	b := newCalibrationBench(t, segments, "droop 1", "if_width 1600000", "noise -130", "gain_error 0", "carrier 9450000 -75", "carrier 10130000 -75")
	// off gives how far floors and carriers of the newest survey are off, the mean over sweeps.
	off := func() (floors, carriers map[string]float64) {
		floors, carriers = map[string]float64{}, map[string]float64{}
		n := map[string]float64{}
		sweeps, surveys, _ := b.sweeps(t)
		for _, s := range sweeps {
			if s.Survey != surveys[len(surveys)-1].ID || s.Setup.Antenna != "whip" {
				continue
			}
			for _, r := range s.Readings {
				gain, name := float64(r.Gain.DB)-benchFull, r.Segment.Name
				n[name]++
				floors[name] += float64(r.Floor.Density) - density(-130, benchFigure, gain, 2.4e6)
				for _, c := range r.Carriers {
					if level, _ := survey.LevelOf(c.Power); c.Detected {
						carriers[name] += float64(level) - (-75 + gain)
					}
				}
			}
		}
		for name := range n {
			floors[name] /= n[name]
			carriers[name] /= n[name]
		}
		return floors, carriers
	}
	b.record(t)
	floors, carriers := off()
	t.Logf("before: floors off by %v dB, carriers by %v", floors, carriers)
	if floors["high"] > -1 || carriers["high"] > -1.2 {
		t.Errorf("there is nothing to be mended: floors off by %v dB, carriers by %v", floors, carriers)
	}
	if err := b.command("record", "--plan", b.plan, "--db", b.database, "--new", "--for", "1ms").Run(); err == nil { // a survey that has just begun
		t.Error("a survey was carried out in a millisecond")
	}
	b.set(t, "terminated", "1")
	d := b.calibrate(t, "noise")
	if len(d.Droop) != 35 || !strings.Contains(d.Note, "passband measured, ") {
		t.Fatalf("%d points: %s", len(d.Droop), d.Note)
	}
	for _, point := range d.Droop {
		share := float64(point.Offset) / 0.8e6
		want := -10*math.Log10(1+math.Pow(share, 8)) + decimation(float64(point.Offset))
		if math.Abs(float64(point.Response)-want) > 0.15 || point.Sigma > 0.1 {
			t.Errorf("%v from the centre: %.2f ± %.2f dB, want %.2f", point.Offset, point.Response, point.Sigma, want)
		}
	}
	// What the filters take off is taken out of own noise at once: the mean over some 15 gains is known to 0.03 dB.
	off15, n := map[string]float64{}, map[string]float64{}
	for _, own := range d.Noise {
		if want := density(-173.975, benchFigure, float64(own.Gain)-benchFull, 2.4e6); own.Sigma < 0.5 && want > -103 {
			off15[own.Segment.Name] += float64(own.Density) - want
			n[own.Segment.Name]++
		}
	}
	for name, sum := range off15 {
		if math.Abs(sum/n[name]) > 0.1 || n[name] < 12 {
			t.Errorf("own noise of %s is off by %.2f dB, the mean over %.0f gains", name, sum/n[name], n[name])
		}
	}
	b.set(t, "terminated", "0")
	// A survey that goes on keeps what was known when it was begun.
	if said := b.record(t); strings.Contains(said, "the passband is corrected") || !strings.Contains(said, "goes on") {
		t.Errorf("%s", said)
	}
	said := b.record(t, "--new")
	if !strings.Contains(said, "the passband is corrected as calibration 1 measured it") {
		t.Errorf("%s", said)
	}
	floors, carriers = off()
	t.Logf("after: floors off by %v dB, carriers by %v", floors, carriers)
	for _, name := range []string{"low", "high"} {
		if math.Abs(floors[name]) > 0.15 || math.Abs(carriers[name]) > 0.15 {
			t.Errorf("%s: floors off by %.2f dB, carriers by %.2f", name, floors[name], carriers[name])
		}
	}
	for _, args := range [][]string{{"calibrate", "list"}, {"report", "quality"}} {
		json := map[string][]string{"calibrate": {"--json"}, "report": {"--format", "json"}}[args[0]]
		said, err := b.command(append(args, "--db", b.database)...).CombinedOutput()
		if plain := strings.Join(strings.Fields(string(said)), " "); err != nil || !strings.Contains(plain, "passband measured, −") {
			t.Errorf("%v: %v, %s", args, err, said)
		}
		said, err = b.command(append(append(args, "--db", b.database), json...)...).CombinedOutput()
		if err != nil || !strings.Contains(string(said), `"droop": true`) || !strings.Contains(string(said), `"droop_calibration": 1`) {
			t.Errorf("%v: %v, %s", args, err, said)
		}
	}
	// A survey that goes on after the calibration was removed keeps its curve; a new one has none.
	if err := b.command("record", "--plan", b.plan, "--db", b.database, "--new", "--for", "1ms").Run(); err == nil {
		t.Error("a survey was carried out in a millisecond")
	}
	removed, err := b.command("calibrate", "remove", "1", "--db", b.database, "--yes").CombinedOutput()
	if plain := strings.Join(strings.Fields(string(removed)), " "); err != nil || !strings.Contains(plain, "of calibration 1 the passband's curve is kept: it is taken out of what survey 3 and survey 4 measured") {
		t.Errorf("%v: %s", err, removed)
	}
	if said = b.record(t); !strings.Contains(said, "the passband is corrected as calibration 1 measured it, which was removed: its curve was kept for this survey, and --new begins one without it") {
		t.Errorf("%s", said)
	}
	if floors, carriers = off(); math.Abs(floors["high"]) > 0.15 || math.Abs(carriers["high"]) > 0.15 {
		t.Errorf("gone on without the calibration: floors off by %v dB, carriers by %v", floors, carriers)
	}
	if again, err := b.command("calibrate", "remove", "1", "--db", b.database, "--yes").CombinedOutput(); err == nil || !strings.Contains(string(again), "calibration 1: only the passband's curve is left of it, which is taken out of what survey 3 and survey 4 measured; it goes with the last of them") {
		t.Errorf("%v: %s", err, again)
	}
	if said := b.record(t, "--new"); strings.Contains(said, "the passband is corrected") {
		t.Errorf("%s", said)
	}
	_, surveys, _ := b.sweeps(t)
	var curves []int64
	for _, s := range surveys {
		curves = append(curves, s.DroopCalibration)
	}
	if left := b.calibrations(t); !slices.Equal(curves, []int64{0, 0, 1, 1, 0}) || len(left) != 1 || left[0].Kind != survey.CalibratePassband || len(left[0].Droop) != 35 {
		t.Errorf("surveys with the curves of %v; %+v", curves, left)
	}
}
