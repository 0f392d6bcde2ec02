package survey

import (
	"strings"
	"testing"
)

// Direct sampling hears 28.8 MHz − f everywhere; only a filter that was measured to take 30 dB off there clears a
// segment, and only on its own side. Nine poles at 14.4 MHz take 8 dB off at 14.93 MHz, which lies on 13.87
// (PHYSICS.md 7.5).
func TestImages(t *testing.T) {
	at := func(low, high Hz) Segment { return Segment{Low: low * 1e6, High: high * 1e6} }
	m22 := at(13.57, 13.87)
	m22.Name = "22 m"
	for _, c := range []struct {
		way, filter string
		rejection   map[string]DB
		segment     Segment
		want        string // "" for no images
	}{
		{WayDirectQ, "", nil, at(7.2, 7.45), "put in a low-pass"}, {WayDirectI, "", nil, at(3.5, 3.8), "put in a low-pass"},
		{WayDirectQ, "", nil, at(15.1, 15.8), "put in a high-pass"}, {WayDirectQ, "", nil, at(28, 28.7), "put in a high-pass"},
		{WayDirectQ, FilterLowPass, nil, at(7.2, 7.45), "is not known"}, {WayDirectQ, FilterLowPass, map[string]DB{"22 m": 40}, at(7.2, 7.45), "is not known"},
		{WayDirectQ, FilterLowPass, map[string]DB{"": 30}, at(7.2, 7.45), ""}, {WayDirectQ, FilterLowPass, map[string]DB{"": 29.9}, at(7.2, 7.45), "only 29.9 dB off"},
		{WayDirectQ, FilterLowPass, map[string]DB{"": 50}, m22, ""}, {WayDirectQ, FilterLowPass, map[string]DB{"": 50, "22 m": 8}, m22, "only 8 dB off"},
		{WayDirectQ, FilterLowPass, map[string]DB{"": 50}, at(15.1, 15.8), "takes away what is to be measured"},
		{WayDirectQ, FilterHighPass, map[string]DB{"": 50}, at(15.1, 15.8), ""}, {WayDirectQ, FilterHighPass, map[string]DB{"": 50}, at(7.2, 7.45), "takes away"},
		{WayDirectQ, FilterLowPass, map[string]DB{"": 80}, at(14.3, 14.5), "reaches over 14.4 MHz"}, {WayDirectQ, "", nil, at(14.3, 14.5), "reaches over 14.4 MHz"},
		{WayDirectQ, FilterLowPass, map[string]DB{"": 80}, at(14, 14.4), ""},
		{WayUp, "", nil, at(15.1, 15.8), ""}, {WayBuiltIn, "", nil, at(13.57, 13.87), ""}, {WayTuner, "", nil, at(25, 26), ""},
	} {
		err := FrontEnd{Way: c.way, Filter: c.filter, Rejection: c.rejection}.Images(c.segment)
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s, filter %q of %v, %v: %v, want %q", c.way, c.filter, c.rejection, c.segment, err, c.want)
		}
	}
}

// FM of 87.5 to 108 MHz folds into 1.1 to 21.6 MHz (less 86.4 MHz) and into 7.2 to 27.7 MHz (from 115.2 MHz down).
func TestFoldsFM(t *testing.T) {
	for _, c := range []struct {
		way, filter string
		low, high   Hz
		want        bool
	}{
		{WayDirectQ, "", 1e6, 1.2e6, true}, {WayDirectQ, "", 0.5e6, 1.09e6, false}, {WayDirectQ, "", 7.2e6, 7.45e6, true},
		{WayDirectI, "", 27.6e6, 28e6, true}, {WayDirectI, "", 27.8e6, 28e6, false}, {WayDirectQ, FilterHighPass, 15.1e6, 15.8e6, true},
		{WayDirectQ, FilterLowPass, 7.2e6, 7.45e6, false}, {WayUp, "", 7.2e6, 7.45e6, false},
	} {
		if got := (FrontEnd{Way: c.way, Filter: c.filter}).FoldsFM(Segment{Low: c.low, High: c.high}); got != c.want {
			t.Errorf("%s, filter %q, %v to %v: %v", c.way, c.filter, c.low, c.high, got)
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
