package plan

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"nightfloor/survey"
)

// planWith gives a plan with these lines in [receiver] and four segments.
func planWith(receiver string) []byte {
	return []byte("[receiver]\n" + receiver + `
[[setup]]
antenna = "loop"
placement = "loft"
[[segment]]
band = "49 m"
[[segment]]
band = "41 m"
[[segment]]
band = "31 m"
[[segment]]
band = "25 m"
`)
}

// Each mistake of the front end is named in its own line, and once.
func TestReceiverMistakes(t *testing.T) {
	const dongle = "uri = \"rtlsdr:\"\n"
	for _, test := range []struct {
		receiver string
		want     []string
	}{
		{"front_end = \"up-converter\"\noffset = \"125 MHz\"\nfilter = \"hi-pass\"\nclock_error = \"500 ppm\"", []string{"line 4: receiver.filter: filter \"hi-pass\" is not known", "line 5: receiver.clock_error: a clock error of 500 ppm"}},
		{"offset = \"much\"\nfront_end = \"up-converter\"\nclock_error = \"1\"", []string{"line 2: receiver.offset: frequency \"much\"", "line 4: receiver.clock_error"}},
		{"front_end = \"tuner\"\noffset = \"125 MHz\"", []string{"line 3: receiver.offset: offset is that of an up-converter"}},
		{"front_end = \"up-converter\"\n", []string{"line 2: receiver.front_end: an up-converter needs"}},
		{"front_end = \"up-converter\"\noffset = \"1 MHz\"", []string{"line 3: receiver.offset: segment 49 m: 5.9 MHz above an offset of 1 MHz is 6.9 MHz, and a dongle's tuner begins at 24.1 MHz"}},
		{"front_end = \"up-converter\"\noffset = \"125 MHz\"\nfilter = \"low-pass\"", []string{"line 4: receiver.filter: it settles what direct sampling hears twice"}},
		{dongle + "front_end = \"tuner\"", []string{"line 3: receiver.front_end: segment 49 m: a dongle's tuner begins at 24.1 MHz"}},
		{dongle, []string{"line 1: receiver: segment 49 m: a dongle's tuner begins at 24.1 MHz"}},
		{dongle + "front_end = \"direct\"", []string{"line 3: receiver.front_end: front end \"direct\" is not known"}},
		{dongle + "front_end = \"direct sampling Q\"\nsample_rate = \"10 MHz\"", []string{"line 4: receiver.sample_rate: a dongle does not run at 10 MHz"}},
		{dongle + "front_end = \"direct sampling Q\"\nsample_rate = \"800 kHz\"", []string{"line 4: receiver.sample_rate: a dongle does not run at 800 kHz"}},
	} {
		_, err := Parse(planWith(test.receiver))
		sameMistakes(t, err, test.want)
	}
	_, err := Parse(planWith("front_end = \"tuner\"\nuri = \"rtlsdr:\""))
	if err == nil || strings.Count(err.Error(), "24.1 MHz") != 1 || !strings.Contains(err.Error(), "(likewise 41 m, 31 m, 25 m)") {
		t.Errorf("%v", err)
	}
	for _, right := range []string{"uri = \"scene:house\"\nsample_rate = \"800 kHz\"", dongle + "front_end = \"up-converter\"\noffset = \"50 MHz\"", dongle + "front_end = \"direct sampling Q\"\nfilter = \"low-pass\""} {
		if _, err := Parse(planWith(right)); err != nil {
			t.Errorf("%s: %v", right, err)
		}
	}
}

// A segment without one edge, or both, is one mistake each.
func TestSegmentsWithoutEdges(t *testing.T) {
	_, err := Parse([]byte("[[setup]]\nantenna=\"a\"\nplacement=\"b\"\n[[segment]]\nlow=\"9 MHz\"\n[[segment]]\nhigh=\"9 MHz\"\n[[segment]]\nname=\"x\"\n"))
	sameMistakes(t, err, []string{"line 4: segment 1: low and no high", "line 6: segment 2: high and no low", "line 8: segment 3: neither a band nor edges"})
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
		_, err := Parse([]byte("[receiver]\n" + receiver + "\n" + rest))
		if want == "" && err != nil || want != "" && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("%s: %v, want %q", receiver, err, want)
		}
	}
}

// Numbers are read as people write them, and the example in an error is of what is asked for.
func TestNumbersOfPlans(t *testing.T) {
	p, err := Parse(append(planWith("uri = \"rtlsdr:\"\nfront_end = \"direct sampling Q\"\nsample_rate = \"2.4 MS/s\""),
		"[turns]\nevery = \"5 min\"\ndwell = \"1 s\"\n[[gain]]\ngain = \"20.7\"\n[[gain]]\ngain = \"20.7dB\"\n[[antenna]]\nname = \"loop\"\ncable_loss = \"0.5\"\n"...))
	if err != nil || p.SampleRate != 2.4e6 || p.Every != 5*time.Minute || p.Dwell != time.Second || p.Gains[0].Gain != 20.7 || p.Gains[1].Gain != 20.7 || p.Antennas[0].CableLoss != 0.5 {
		t.Errorf("%v: %+v", err, p)
	}
	_, err = Parse(append(planWith("sample_rate = \"2.4 Mbit\"\noffset = \"125\"\nfront_end = \"up-converter\"\nclock_error = \"1,5 ppm\""),
		"[site]\nmains = \"230 V\"\n[turns]\nevery = \"5 minutes\"\ndwell = \"0,5 s\"\n[[gain]]\ngain = \"20 V\"\n[[antenna]]\nname = \"loop\"\namplifier = \"-3 dB\"\n"...))
	sameMistakes(t, err, []string{
		`line 2: receiver.sample_rate: sample rate "2.4 Mbit": not a number with a unit; write it as 2.4MHz`, `line 3: receiver.offset: frequency "125": no unit`,
		`line 5: receiver.clock_error: "1,5 ppm": not a number; write 1.5 with a point`,
		`line 18: site.mains: frequency "230 V": not a number with a unit; write it as "50 Hz"`,
		`line 20: turns.every: "5 minutes": not a length of time; write it as 500ms, 90s, 5m or 1h30m`, `line 21: turns.dwell: "0,5 s": not a number; write 0.5 with a point`,
		`line 23: gain 1, gain: "20 V": not a number with the unit dB; write it as "20.7 dB"`, `line 26: antenna 1, amplifier: "-3 dB": a loss or a gain below 0 dB`,
	})
}

// What follows from a value that could not be read is not told as a mistake of its own.
func TestUnreadValuesHaveNoConsequences(t *testing.T) {
	for _, receiver := range []string{"sample_rate = \"1.6\"", "sample_rate = \"1,6 MHz\"", "sample_rate = 1.6", "sample_rate = \"0 Hz\"", "uri = \"rtlsdr:\"\nfront_end = \"direct sampling Q\"\nsample_rate = \"1 Hz\"", "sampel_rate = \"1.6 MHz\""} {
		p, before := Parse(planWith(receiver))
		after := p.AddMistake(before, "segment[0]", errWide, "receiver.sample_rate")
		if before == nil || strings.Contains(before.Error(), "\n") || after == nil || after.Error() != before.Error() {
			t.Errorf("%s: %v\nand then %v", receiver, before, after)
		}
	}
	p, err := Parse(append(planWith(""), "[[segment]]\nname = \"beacons\"\nlow = \"10,1 MHz\"\nhigh = \"10.15 MHz\"\n[[segment]]\nband = \"32 m\"\n"+
		"[[gain]]\nsegment = \"beacons\"\ngain = \"many\"\n[[gain]]\nsegment = \"32 m\"\nantenna = \"a:b\"\ngain = \"3 dB\"\n"+
		"[[setup]]\nantenna = \"a:b\"\nplacement = \"loft\"\n[[antenna]]\nname = \"loop\"\ntuned = \"10MHz-10.2MHz\"\n"...))
	err = p.AddMistake(err, "gain[0].gain", errWide)
	err = p.AddMistake(err, "segment[0]", errWide, "receiver.sample_rate")
	sameMistakes(t, err, []string{"line 6: segment 1: too wide", `line 14: segment 5: frequency "10,1 MHz": not a number; write 10.1 with a point`,
		`line 19: segment 6, band: band "32 m": not known`, "line 22: gain 1, gain: \"many\"", "line 27: setup 2: a name must not hold"})
}

// planOfConditions has a whip alone, one with a dummy for its element, and a terminator at
// each end of the feed line.
const planOfConditions = `[[setup]]
antenna = "loop"
placement = "loft"
[[setup]]
antenna = "loop alone"
placement = "loft"
[[setup]]
antenna = "whip"
placement = "loft"
[[setup]]
antenna = "whip dummy"
placement = "loft"
[[setup]]
antenna = "50 ohm"
placement = "loft"
[[segment]]
band = "49 m"
[[antenna]]
name = "loop alone"
kind = "loop"
of = "loop"
removed = ["whip"]
[[antenna]]
name = "whip"
kind = "whip"
antenna_factor = "12.5 dB"
active = true
[[antenna]]
name = "whip dummy"
kind = "element replaced"
of = "whip"
[[antenna]]
name = "50 ohm"
kind = "terminator"
at = "receiver"
`

func TestConditionsOfAntennas(t *testing.T) {
	p, err := Parse([]byte(planOfConditions))
	want := []survey.Antenna{{Name: "loop alone", Kind: survey.KindLoop, Of: "loop", Removed: []string{"whip"}}, {Name: "whip", Kind: "whip", Factor: new(survey.DB(12.5)), Active: true},
		{Name: "whip dummy", Kind: survey.KindReplaced, Of: "whip"}, {Name: "50 ohm", Kind: survey.KindTerminator, At: survey.AtReceiver}}
	if err != nil || !reflect.DeepEqual(p.Antennas, want) {
		t.Fatalf("%v\n got %+v\nwant %+v", err, p.Antennas, want)
	}
	if p.Antenna("whip").Control() || !p.Antenna("whip dummy").Control() || !p.Antenna("50 ohm").Control() || !p.Antenna("whip").HasAmplifier() || p.Antenna("loop").HasAmplifier() {
		t.Error("controls, or amplifiers, are told wrongly")
	}
	for _, test := range []struct{ line, wrong, want string }{
		{`of = "loop"`, `of = "lop"`, `line 21: antenna 1, of: the plan has no setup with lop`},
		{`of = "loop"`, `of = "loop alone"`, `line 21: antenna 1, of: loop alone cannot be another condition of itself`},
		{`removed = ["whip"]`, `removed = ["wip"]`, `line 22: antenna 1, removed: the plan has no setup with wip`},
		{`removed = ["whip"]`, `removed = ["loop alone"]`, `line 22: antenna 1, removed: loop alone is what is measured`},
		{`removed = ["whip"]`, `removed = ["loop"]`, `line 22: antenna 1, removed: loop is what is measured`},
		{`removed = ["whip"]`, `removed = ["whip", "whip"]`, `line 22: antenna 1, removed: whip stands in it twice`},
		{`removed = ["whip"]`, `removed = "whip"`, `line 22: antenna 1, removed: a text stands there; write a list of texts`},
		{`of = "whip"`, ``, `line 30: antenna 3, kind: element replaced needs the antenna whose amplifier is measured; write of = "whip"`},
		{`at = "receiver"`, `at = "middle"`, `line 35: antenna 4, at: "middle" is not known; choose antenna or receiver`},
		{`antenna_factor = "12.5 dB"`, `antenna_factor = "12.5 dBi"`, `line 26: antenna 2, antenna_factor: "12.5 dBi": not a number with the unit dB`},
		{`active = true`, `at = "receiver"`, `line 27: antenna 2, at: it says at which end of the feed line a terminator is`},
	} {
		_, err := Parse([]byte(strings.Replace(planOfConditions, test.line, test.wrong, 1)))
		sameMistakes(t, err, []string{test.want})
	}
	// A setup that could not be read may be the one that was meant.
	_, err = Parse([]byte(strings.Replace(planOfConditions, `antenna = "whip"`, `antenna = 7`, 1)))
	sameMistakes(t, err, []string{"line 8: setup 3, antenna: a whole number stands there"})
}

// What is doubtful of a front end is said once, with the names of the segments or antennas that it holds for.
func TestReceiverDoubts(t *testing.T) {
	const (
		directQ  = "uri = \"rtlsdr:\"\nfront_end = \"direct sampling Q\"\n"
		mirrored = "49 m, 41 m, 31 m, 25 m: direct sampling hears 28.8 MHz − f at f, mirrored; put in a low-pass of 14.4 MHz, then say filter = \"low-pass\" and filter_rejection; readings are flagged nyquist-image"
		fm       = "49 m, 41 m, 31 m, 25 m: FM broadcasters fold in"
		medium   = "nothing keeps medium wave out"
		steps    = "loop: without an amplifier an antenna gives less than the rounding to 8 bits, −113.7 dBFS/Hz at 2.4 MHz"
	)
	for _, test := range []struct {
		receiver, more string
		want           []string
	}{
		{directQ, "", []string{mirrored, fm, medium, steps}},
		{directQ + "sample_rate = \"1.024 MHz\"\nhigh_pass = \"2 MHz\"", "", []string{mirrored, fm, "8 bits, −110.0 dBFS/Hz at 1.024 MHz"}},
		{directQ + "high_pass = \"1.6 MHz\"\nfilter = \"low-pass\"", "[[antenna]]\nname = \"loop\"\namplifier = \"20 dB\"\n",
			[]string{"49 m, 41 m, 31 m, 25 m: what the low-pass leaves of 28.8 MHz − f is not known; measure it", medium}},
		{directQ + "high_pass = \"2 MHz\"\nfilter = \"low-pass\"\nfilter_rejection = \"34 dB\"", "[[antenna]]\nname = \"loop\"\namplifier = \"20 dB\"\n", nil},
		// Nine poles at 14.4 MHz take 8 dB off at 14.93 MHz.
		{directQ + "high_pass = \"2 MHz\"\nfilter = \"low-pass\"\nfilter_rejection = \"34 dB\"", "[[antenna]]\nname = \"loop\"\namplifier = \"20 dB\"\n[[segment]]\nband = \"22 m\"\nfilter_rejection = \"8 dB\"\n[[segment]]\nname = \"fold\"\nlow = \"14.3 MHz\"\nhigh = \"14.5 MHz\"\n",
			[]string{"22 m: the low-pass takes only 8 dB off at 28.8 MHz − f, and 30 dB keep images out", "fold: it reaches over 14.4 MHz"}},
		{directQ + "high_pass = \"7 MHz\"\nfilter = \"high-pass\"\nfilter_rejection = \"40 dB\"", "[[antenna]]\nname = \"loop\"\namplifier = \"20 dB\"\n[[segment]]\nband = \"19 m\"\n",
			[]string{"49 m, 41 m, 31 m, 25 m: a high-pass of 14.4 MHz takes away", "49 m, 41 m, 31 m, 25 m, 19 m: FM broadcasters of 86.4 MHz + f and 115.2 MHz − f come through the high-pass", "49 m: a high-pass of 7 MHz takes away"}},
		// One of 14.4 MHz keeps medium wave out, too.
		{directQ + "filter = \"high-pass\"\nfilter_rejection = \"40 dB\"", "[[antenna]]\nname = \"loop\"\namplifier = \"20 dB\"\n[[segment]]\nband = \"19 m\"\n",
			[]string{"49 m, 41 m, 31 m, 25 m: a high-pass of 14.4 MHz takes away", "49 m, 41 m, 31 m, 25 m, 19 m: FM broadcasters of 86.4 MHz + f and 115.2 MHz − f come through the high-pass"}},
		// 49 m and 41 m stand at 105.9 to 107.45 MHz.
		{"front_end = \"up-converter\"\noffset = \"100 MHz\"", "", []string{"49 m, 41 m: an up-converter of 100 MHz puts it among FM broadcasters of 87.5 MHz to 108 MHz", medium}},
		{"front_end = \"up-converter\"\noffset = \"125 MHz\"", "", []string{medium}},
		{"front_end = \"up-converter\"\noffset = \"125 MHz\"\nhigh_pass = \"2 MHz\"", "", nil},
		{"front_end = \"up-converter\"\noffset = \"125 MHz\"", "[[segment]]\nname = \"medium wave\"\nlow = \"1 MHz\"\nhigh = \"1.3 MHz\"\n", nil},
		{"front_end = \"built-in up-converter\"", "", nil},
	} {
		p, err := Parse(append(planWith(test.receiver), test.more...))
		if err != nil {
			t.Errorf("%s: %v", test.receiver, err)
			continue
		}
		d := doubtList{plan: p}
		d.images()
		d.overload()
		d.steps()
		if len(d.found) != len(test.want) {
			t.Errorf("%s: %d doubts, want %d:\n%s", test.receiver, len(d.found), len(test.want), strings.Join(d.found, "\n"))
			continue
		}
		for i, want := range test.want {
			if !strings.Contains(d.found[i], want) {
				t.Errorf("%s: got  %s\nwant %s", test.receiver, d.found[i], want)
			}
		}
	}
}

// A rejection needs a filter and is an amount of decibels; a corner is a frequency.
func TestFilterMistakes(t *testing.T) {
	const directQ = "front_end = \"direct sampling Q\"\n"
	for _, test := range []struct {
		receiver string
		want     []string
	}{
		{directQ + "filter_rejection = \"34 dB\"", []string{"line 3: receiver.filter_rejection: of which filter?"}},
		{directQ + "filter = \"low-pass\"\nfilter_rejection = \"34 V\"", []string{"line 4: receiver.filter_rejection: \"34 V\": not a number with the unit dB"}},
		{directQ + "filter = \"low-pass\"\nfilter_rejection = \"-34 dB\"", []string{"line 4: receiver.filter_rejection: \"-34 dB\": a loss or a gain below 0 dB"}},
		{directQ + "high_pass = \"2\"", []string{"line 3: receiver.high_pass: frequency \"2\": no unit"}},
	} {
		_, err := Parse(planWith(test.receiver))
		sameMistakes(t, err, test.want)
	}
	_, err := Parse(append(planWith(directQ), "[[segment]]\nband = \"22 m\"\nfilter_rejection = \"8 dB\"\n"...))
	sameMistakes(t, err, []string{"line 17: segment 5, filter_rejection: of which filter?"})
}
