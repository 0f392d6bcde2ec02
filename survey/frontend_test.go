package survey

import "testing"

// About 14.4 MHz direct sampling cannot tell 22 m from 19 m (PHYSICS.md 7.5);
// a filter there settles it on its own side.
func TestAmbiguous(t *testing.T) {
	at := func(low, high Hz) Segment { return Segment{Low: low * 1e6, High: high * 1e6} }
	for _, c := range []struct {
		way, filter string
		segment     Segment
		want        bool
	}{
		{WayDirectQ, "", at(13.57, 13.87), true}, {WayDirectI, "", at(15.1, 15.8), true},
		{WayDirectQ, "", at(12.9, 13.1), true}, {WayDirectQ, "", at(9.4, 9.9), false}, {WayDirectQ, "", at(15.8, 16), false},
		{WayDirectQ, FilterLowPass, at(13.57, 13.87), false}, {WayDirectQ, FilterLowPass, at(15.1, 15.8), true},
		{WayDirectQ, FilterHighPass, at(15.1, 15.8), false}, {WayDirectQ, FilterHighPass, at(14.3, 14.5), true},
		{WayUp, "", at(15.1, 15.8), false}, {WayBuiltIn, "", at(13.57, 13.87), false},
	} {
		if got := (FrontEnd{Way: c.way, Filter: c.filter}).Ambiguous(c.segment); got != c.want {
			t.Errorf("%s, filter %q, %v: %v, want %v", c.way, c.filter, c.segment, got, c.want)
		}
	}
}

// Direct sampling hears nothing over the converter's 28.8 MHz, so not the amateurs of 10 m;
// a tuner, whose lowest oscillator is 27.66 MHz, 3.57 MHz over what it hears, nothing under
// 24.1 MHz (PHYSICS.md 7.6).
func TestReach(t *testing.T) {
	for _, c := range []struct {
		way       string
		low, high Hz
		right     bool
	}{
		{WayDirectQ, 28e6, 28.7e6, true}, {WayDirectI, 21e6, 21.45e6, true}, {WayDirectQ, 28e6, 29.7e6, false},
		{WayTuner, 27.66e6 - 3.57e6 + 50e3, 25e6, true}, {WayTuner, 27.66e6 - 3.57e6 - 50e3, 25e6, false}, {"", 21e6, 21.45e6, false},
		{WayUp, 9.4e6, 9.9e6, true}, {WayBuiltIn, 9.4e6, 9.9e6, true},
	} {
		if err := (FrontEnd{Way: c.way}).Reach(Segment{Low: c.low, High: c.high}); (err == nil) != c.right {
			t.Errorf("%q from %v to %v: %v", c.way, c.low, c.high, err)
		}
	}
}

// The chip's two ranges, at and beside their ends (PHYSICS.md 7.1).
func TestDongleRate(t *testing.T) {
	for rate, right := range map[Hz]bool{225000: false, 225001: true, 300e3: true, 300001: false, 900e3: false, 900001: true, 2.4e6: true, 3.2e6: true, 3200001: false} {
		if err := DongleRate(rate); (err == nil) != right {
			t.Errorf("%v: %v", rate, err)
		}
	}
}
