package capture

import (
	"math"
	"testing"
	"time"

	"nightfloor/dsp/comb"
)

var dusk = time.Date(2026, 11, 3, 20, 0, 0, 0, time.UTC)

func after(seconds float64) time.Time {
	return dusk.Add(time.Duration(seconds * float64(time.Second)))
}

// spacingsOf lists what is missing.
func spacingsOf(combs []comb.Comb) (out []float64) {
	for _, c := range combs {
		out = append(out, c.Spacing)
	}
	return out
}

func combs(spacings ...float64) (out []comb.Comb) {
	for _, s := range spacings {
		out = append(out, comb.Comb{Spacing: s, Sigma: 0.03, Strength: 4})
	}
	return out
}

// A comb that was found is asked of everything that did not find it, for as many rounds
// as carriers are, whatever was measured by force; 0.2 % of 65 kHz are 130 Hz.
func TestCombWatch(t *testing.T) {
	w := combWatch{}
	w.note(combs(65012, 71300), 1, dusk)
	for _, test := range []struct {
		known []float64
		want  int
	}{{nil, 2}, {[]float64{65012}, 1}, {[]float64{65130, 71200}, 0}, {[]float64{65200, 71300}, 1}, {[]float64{130024}, 2}} {
		if got := w.missing(combs(test.known...), 2, after(30)); len(got) != test.want {
			t.Errorf("with %v known, %v are missing, want %d", test.known, spacingsOf(got), test.want)
		}
	}
	w.note(combs(71310), 3, after(60))
	w.forget(5)
	if got := spacingsOf(w.missing(nil, 5, after(90))); len(got) != 1 || math.Abs(got[0]-71310) > 25 {
		t.Errorf("four rounds later %v are missing, want that of 71.31 kHz, found two rounds ago", got)
	}
	w.forget(7)
	if got := w.missing(nil, 7, after(100)); got != nil {
		t.Errorf("unheard for 4 rounds and still watched: %v", got)
	}
}

// Two supplies whose spacings are as near as one's may drift are two where both are
// heard at once; each follows its own.
func TestTwoCombsAlike(t *testing.T) {
	w := combWatch{}
	for i := range 10 {
		at, drift := after(30*float64(i)), float64(i)
		found := combs(65000-drift, 65040+drift)
		if i%2 == 1 { // in either order
			found[0], found[1] = found[1], found[0]
		}
		w.note(found, i, at)
	}
	got := spacingsOf(w.missing(combs(64991), 9, after(270)))
	if len(w.tracks) != 2 || len(got) != 1 || got[0] != 65049 {
		t.Errorf("%d tracks, missing %v; want two, 65.049 kHz", len(w.tracks), got)
	}
}

// A supply that warms by 6 Hz a minute is where its drift takes it: at 9.7 MHz (line
// 149) the 3 Hz of half a minute are 447 Hz, out of any line's reach. Between two
// sightings it lies between them, and two sightings that differ by no more than their
// errors tell of no drift.
func TestCombFollowsDrift(t *testing.T) {
	w := combWatch{}
	for i := range 4 {
		at := 30 * float64(i)
		w.note(combs(65000-0.1*at), 1, after(at))
	}
	for _, test := range []struct{ at, want float64 }{
		{-30, 65003}, {0, 65000}, {15, 64998.5}, {75, 64992.5}, {90, 64991}, {120, 64988}, {90 + 600, 64991 - 12}, // trusted for two minutes
	} {
		got := w.missing(nil, 1, after(test.at))
		if len(got) != 1 || math.Abs(got[0].Spacing-test.want) > 0.01 {
			t.Errorf("after %v s: %v, want %v", test.at, spacingsOf(got), test.want)
		}
	}
	still := combWatch{}
	still.note(combs(65000), 1, dusk)
	still.note(combs(65000.1), 1, after(30)) // 3·√2·0.03 = 0.13
	if got := still.missing(nil, 1, after(60))[0].Spacing; got != 65000.1 {
		t.Errorf("drifts to %v", got)
	}
	if got := still.missing(nil, 1, after(30))[0].Spacing; got != 65000.1 {
		t.Errorf("at the second sighting %v", got)
	}
}

// What is compared is measured over one width: the one seen where the lines are strongest.
func TestCombsAreMeasuredOverOneWidth(t *testing.T) {
	w := combWatch{}
	w.note([]comb.Comb{{Spacing: 65000, Width: 0.4, Strength: 1}}, 1, dusk)
	w.note([]comb.Comb{{Spacing: 65000, Width: 1.6, Strength: 30}}, 1, after(10))
	w.note([]comb.Comb{{Spacing: 65001, Width: 0.5, Strength: 2}}, 1, after(20))
	if got := w.missing(nil, 1, after(20))[0]; got.Width != 1.6 || got.Spacing != 65001 {
		t.Errorf("%+v, want the last spacing and the width of the strongest", got)
	}
	fresh := []comb.Comb{{Spacing: 65002, Width: 0.3, Strength: 2}, {Spacing: 99e3, Width: 0.3, Strength: 2}}
	w.note(fresh, 1, after(30))
	if got := fresh[0]; got.Width != 1.6 || got.Spacing != 65002 {
		t.Errorf("%+v, want its own spacing and the width of the strongest", got)
	}
	if got := fresh[1]; got.Width != 0.3 {
		t.Errorf("one that was not on the list is widened to %v", got.Width)
	}
}

// What a comb's lines showed at one moment is no evidence of another, at which it was
// measured by force.
func TestBeatIsOfItsMoment(t *testing.T) {
	w := combWatch{}
	w.note([]comb.Comb{{Spacing: 65000, Strength: 30, Modulation: comb.Modulation{Sought: true, Mains: 50, Envelope: 100, Depth: 0.8}}}, 1, dusk)
	if got := w.missing(nil, 1, after(10)); len(got) != 1 || got[0].Modulation != (comb.Modulation{}) {
		t.Errorf("%+v", got)
	}
}
