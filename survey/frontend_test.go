package survey

import (
	"strings"
	"testing"
)

// About 14.4 MHz direct sampling cannot tell 22 m from 19 m (trade notes, 7.2);
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

// Each mistake of a front end is named, and what mends it.
func TestFrontEndMistakes(t *testing.T) {
	const rest = "[[setup]]\nantenna=\"a\"\nplacement=\"p\"\n[[segment]]\nband=\"31 m\"\n"
	for receiver, want := range map[string]string{
		"uri=\"rtlsdr:\"":                                      "line 1: receiver: segment 31 m: a dongle's tuner begins at 24.1 MHz; say by front_end",
		"front_end=\"tuner\"\nuri=\"rtlsdr:\"":                 "a dongle's tuner begins at 24.1 MHz",
		"front_end=\"direct\"":                                 "line 2: receiver.front_end: front end \"direct\" is not known; choose one of direct sampling I",
		"front_end=\"up-converter\"":                           "needs its oscillator's frequency; write offset = \"125 MHz\"",
		"front_end=\"direct sampling Q\"\noffset=\"125 MHz\"":  "offset is that of an up-converter",
		"front_end=\"direct sampling Q\"\nfilter=\"band\"":     "filter \"band\" is not known; choose low-pass or high-pass",
		"clock_error=\"3\"":                                    "line 2: receiver.clock_error: \"3\": not a number with the unit ppm",
		"clock_error=\"900 ppm\"":                              "more than any crystal has",
		"front_end=\"up-converter\"\noffset=\"125\"":           "line 3: receiver.offset: frequency \"125\": no unit",
		"uri=\"rtlsdr:\"\nfront_end=\"built-in up-converter\"": "",
	} {
		_, err := ParsePlan([]byte("[receiver]\n" + receiver + "\n" + rest))
		if want == "" && err != nil || want != "" && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("%s: %v, want %q", receiver, err, want)
		}
	}
}
