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

// The chip's two ranges, at and beside their ends (PHYSICS.md 7.1).
func TestDongleRate(t *testing.T) {
	for rate, right := range map[Hz]bool{225000: false, 225001: true, 300e3: true, 300001: false, 900e3: false, 900001: true, 2.4e6: true, 3.2e6: true, 3200001: false} {
		if err := DongleRate(rate); (err == nil) != right {
			t.Errorf("%v: %v", rate, err)
		}
	}
}
