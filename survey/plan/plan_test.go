package plan

import (
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/survey"
)

const wholePlan = `title = "attic or garden"
[site]
name = "the house"
locator = "JN58td"
mains = "50 Hz"
surroundings = "quiet rural"
region = 2
[receiver]
uri = "rtlsdr:"
sample_rate = "2.4 MHz"
front_end = "up-converter"
offset = "125 MHz"
clock_error = "-1.5 ppm"
[change]
by = "command"
command = ["/usr/local/bin/relay", "--board", "1"]
[[antenna]]
name = "loop"
kind = "loop"
cable_loss = "1.2 dB"
amplifier = "20 dB"
[[gain]]
gain = "20.7 dB"
[[gain]]
antenna = "loop"
segment = "31 m"
gain = "8.7 dB"
[turns]
dwell = "250 ms"
sweeps = 4
rounds = 12
every = "10m"
seed = 20261103
[[setup]]
antenna = "loop"
placement = "attic"
bearings = [0, 45.5]
[[setup]]
antenna = "whip"
placement = "garden"
[[segment]]
band = "60 m"
[[segment]]
band = "41 m"
[[segment]]
low = "9.4 MHz"
high = "9900kHz"
[[segment]]
name = "quiet"
low = "10.01 MHz"
high = "10.06 MHz"
`

func TestWholePlan(t *testing.T) {
	p, err := Parse([]byte(wholePlan))
	if err != nil {
		t.Fatal(err)
	}
	if want := (survey.Site{Name: "the house", Locator: "JN58td", MainsHz: 50, Surroundings: "quiet rural"}); p.Site != want || p.Title != "attic or garden" || p.Text != wholePlan {
		t.Errorf("site %+v, title %q", p.Site, p.Title)
	}
	if p.Receiver != "rtlsdr:" || p.SampleRate != 2.4e6 || p.Dwell != 250*time.Millisecond || p.Sweeps != 4 || p.Rounds != 12 || p.Every != 10*time.Minute || p.Seed != 20261103 {
		t.Errorf("%+v", p)
	}
	setups := []survey.Setup{{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(0)}, {Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(45.5)}, {Antenna: "whip", Placement: "garden"}}
	if !slices.Equal(p.Setups, setups) {
		t.Errorf("setups %v, want %v", p.Setups, setups)
	}
	if want := (survey.FrontEnd{Way: survey.WayUp, Offset: 125e6, PPM: -1.5}); !reflect.DeepEqual(p.FrontEnd, want) {
		t.Errorf("front end %+v, want %+v", p.FrontEnd, want)
	}
	if p.Change.By != ByCommand || len(p.Change.Command) != 3 || p.Change.TimeOut != 10*time.Second || !reflect.DeepEqual(p.Antennas, []survey.Antenna{{Name: "loop", Kind: survey.KindLoop, CableLoss: 1.2, Amplifier: 20}}) {
		t.Errorf("%+v, %+v", p.Change, p.Antennas)
	}
	for _, c := range []struct {
		setup   survey.Setup
		segment string
		want    survey.DB
	}{{setups[0], "31 m", 8.7}, {setups[0], "41 m", 20.7}, {setups[2], "31 m", 20.7}} {
		if got, ok := p.FixedGain(c.setup, c.segment); !ok || got != c.want {
			t.Errorf("gain of %v on %s: %v, %v, want %v", c.setup, c.segment, got, ok, c.want)
		}
	}
	segments := []survey.Segment{{Name: "60 m lower", Low: 4.75e6, High: 4.995e6}, {Name: "60 m upper", Low: 5.005e6, High: 5.06e6}, {Name: "41 m", Low: 7.3e6, High: 7.4e6}, // region 2
		{Name: "31 m", Low: 9.4e6, High: 9.9e6}, {Name: "quiet", Low: 10.01e6, High: 10.06e6}}
	if !slices.Equal(p.Segments, segments) || p.Region != 2 {
		t.Errorf("region %d, segments %v, want %v", p.Region, p.Segments, segments)
	}
}

func TestPlanDefaults(t *testing.T) {
	p, err := Parse([]byte("[[setup]]\nantenna=\"loop\"\nplacement=\"attic\"\n[[segment]]\nband=\"41 m\"\n"))
	if err != nil {
		t.Fatal(err)
	}
	// Half a second, three sweeps, until stopped, at once, region 1.
	if p.Dwell != 500*time.Millisecond || p.Sweeps != 3 || p.Rounds != 0 || p.Every != 0 || p.SampleRate != 0 || p.Site.MainsHz != 0 || p.Segments[0].High != 7.45e6 || p.Region != 1 {
		t.Errorf("%+v", p)
	}
}

// Two setups, two segments: 0.55 s a reading, and so 27 sweeps in half a minute.
func TestSweepsOfAVisit(t *testing.T) {
	const text = "[[setup]]\nantenna=\"loop\"\nplacement=\"attic\"\nbearings=[0, 90]\n[[segment]]\nband=\"41 m\"\n[[segment]]\nband=\"49 m\"\n"
	p, err := Parse([]byte(text))
	if err != nil || p.Sweeps != 27 {
		t.Errorf("%d sweeps, %v", p.Sweeps, err)
	}
	if p, err = Parse([]byte("[turns]\nsweeps = 4\n" + text)); err != nil || p.Sweeps != 4 {
		t.Errorf("%d sweeps, %v", p.Sweeps, err)
	}
}

const turningPlan = `
[site]
declination = 4.5
[change]
by = "person"
patience = "3m"
[rotator]
address = "127.0.0.1:4533"
antennas = ["loop"]
range = [-180, 180]
zero = 12
tolerance = 2.5
time_out = "90s"
[turns]
order = "ABBA"
[[antenna]]
name = "loop"
kind = "loop"
[[antenna]]
name = "peaked"
kind = "loop"
tuned = "5.9MHz-6.2MHz"
[[setup]]
antenna = "loop"
placement = "loft"
bearings = [0, 60]
magnetic_bearings = [115.5]
[[setup]]
antenna = "peaked"
placement = "loft"
[[segment]]
band = "49 m"
[[segment]]
band = "31 m"
`

func TestPlanOfTurning(t *testing.T) {
	p, err := Parse([]byte(turningPlan))
	if err != nil {
		t.Fatal(err)
	}
	want := Rotator{"127.0.0.1:4533", []string{"loop"}, -180, 180, 12, 2.5, 90 * time.Second}
	if r := p.Change.Rotator; !reflect.DeepEqual(*r, want) || !r.Turns("loop") || r.Turns("peaked") {
		t.Errorf("%+v, want %+v", *r, want)
	}
	if p.Change.By != ByPerson || p.Change.Patience != 3*time.Minute || p.Change.Remind != time.Minute || p.Order != OrderABBA {
		t.Errorf("%+v, order %q", p.Change, p.Order)
	}
	// By the compass 115.5°, and 4.5° more from true north.
	if p.Setups[2].Bearing != survey.BearingOf(120) {
		t.Errorf("%v", p.Setups)
	}
	peaked := p.Antenna("peaked")
	if !peaked.Measures(p.Segments[0]) || peaked.Measures(p.Segments[1]) || !p.Antenna("loop").Measures(p.Segments[1]) {
		t.Errorf("%+v measures what it is not tuned to, or not what it is", peaked)
	}
	if !p.HalfTurn()("loop") || p.HalfTurn()("whip") {
		t.Error("half a turn serves a loop, and no antenna of which no kind is said")
	}
	p.Setups = append(p.Setups, survey.Setup{Antenna: "loop", Placement: "loft", Bearing: survey.BearingOf(180)})
	if p.HalfTurn()("loop") {
		t.Error("a bearing and its opposite are asked for, and half a turn would not tell them apart")
	}
	if p.Antenna(survey.KindTerminator).Kind != survey.KindTerminator {
		t.Error("a terminator is not known by its name")
	}
}

func TestMistakesOfTurning(t *testing.T) {
	_, err := Parse([]byte(`[change]
by = "robot"
confirm = ["x"]
remind = "1m"
time_out = "soon"
[rotator]
address = "4533"
antennas = ["yagi"]
range = [10, 5]
zero = 400
tolerance = 0
[turns]
order = "alphabetical"
[[antenna]]
name = "loop"
tuned = "1MHz-2MHz"
[[setup]]
antenna = "loop"
placement = "loft"
magnetic_bearings = [10]
[[segment]]
band = "31 m"
`))
	for _, want := range []string{`line 2: change.by: "robot" is not known`, "line 5: change.time_out", "line 7: rotator.address", "line 8: rotator.antennas: no setup uses yagi",
		"line 9: rotator.range", "line 10: rotator.zero", "line 11: rotator.tolerance", "line 13: turns.order", "line 16: antenna 1, tuned: no segment", "line 20: setup 1, magnetic_bearings: they need declination"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("the error does not say %q:\n%v", want, err)
		}
	}
	for text, want := range map[string]string{
		"[change]\nby=\"none\"\nconfirm=[\"x\"]": "confirms what a command did",
		"[change]\nby=\"none\"\npatience=\"1m\"": "are for a person",
		"[rotator]\naddress=\"x:1\"":             "no antennas; name those",
	} {
		if _, err := Parse([]byte(text + "\n[[setup]]\nantenna=\"loop\"\nplacement=\"loft\"\n[[segment]]\nband=\"31 m\"\n")); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

// A segment lists beacons and time signals; each mistake is told with its line.
func TestListed(t *testing.T) {
	const setup = "[[setup]]\nantenna=\"loop\"\nplacement=\"loft\"\n"
	p, err := Parse([]byte(setup + `[[segment]]
band = "20 m amateur"
listed = ["14.1 MHz", "14.0995MHz"]
[[segment]]
band = "60 m"
listed = ["5010 kHz", "4.8 MHz"]
[[segment]]
band = "31 m"
[[segment]]
name = "time"
low = "9.99 MHz"
high = "10.01 MHz"
listed = ["9996 kHz"]
`))
	want := map[string][]survey.Hz{"20 m amateur": {14.0995e6, 14.1e6}, "60 m lower": {4.8e6}, "60 m upper": {5.01e6}, "time": {9.996e6}}
	if err != nil || !reflect.DeepEqual(p.Listed, want) {
		t.Errorf("%v, %v, want %v", p.Listed, err, want)
	}
	if said := p.Describe(p.Outlook(4, 0), 4, 0, nil); !strings.Contains(said, "20 m amateur is ranked by its 2 listed lines,") || strings.Contains(said, "31 m") {
		t.Error(said)
	}
	many := strings.Repeat(`"14.1 MHz", `, mostListed+1)
	_, err = Parse([]byte(setup + `[[segment]]
band = "20 m amateur"
listed = ["14.4 MHz", "14.1 MHz", "14100200 Hz", "14100 kHz", "14.2"]
[[segment]]
name = "time"
low = "9.99 MHz"
high = "10.01 MHz"
listed = [` + many + `]
[[segment]]
band = "33 m"
listed = ["9.4 MHz"]
`))
	for _, want := range []string{"line 6: segment 1, listed: 14.4 MHz lies outside 20 m amateur; list it with a segment that holds it",
		"line 6: segment 1, listed: 14.1 MHz and 14.1002 MHz are less than 300 Hz apart", "line 6: segment 1, listed: 14.1 MHz is named twice; list it once", `line 6: segment 1, listed: frequency "14.2"`, "line 11: segment 2, listed: 51 frequencies", "line 13: segment 3"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("the error does not say %q:\n%v", want, err)
		}
	}
	if err != nil && strings.Contains(err.Error(), "line 14") {
		t.Errorf("what only follows from an unknown band is told:\n%v", err)
	}
}

// What no list of frequencies is gets an example of one, and a band that only radio amateurs have its name.
func TestFrequenciesAsked(t *testing.T) {
	const rest = "[[setup]]\nantenna=\"loop\"\nplacement=\"loft\"\nbearings=[0, 90, 180]\n[[segment]]\nband=\"20 m amateur\"\n"
	for _, listed := range []string{"[14.1]", `"14.1 MHz"`} {
		_, err := Parse([]byte(rest + "listed = " + listed + "\n"))
		if err == nil || !strings.Contains(err.Error(), `a list of frequencies, as ["14.1 MHz"]`) {
			t.Errorf("%s: %v", listed, err)
		}
	}
	const want = `line 6: segment 1, band: band "20 m": no broadcasting band of region 1; for that of radio amateurs write "20 m amateur"`
	if _, err := Parse([]byte(strings.Replace(rest, " amateur", "", 1))); err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
	p, err := Parse([]byte(rest))
	if err != nil {
		t.Fatal(err)
	}
	if said := strings.Join(p.Doubts(p.Outlook(1, 0), 0), "\n"); !strings.Contains(said, "loop@loft:0 and loop@loft:180: opposite bearings of a loop or a dipole are one setup twice") {
		t.Error(said)
	}
}

// What the rotator alone tells apart needs nothing else to change antennas, in however
// many tables it stands.
func TestNothingToSwitch(t *testing.T) {
	const loop, rest = "[[setup]]\nantenna=\"loop\"\nplacement=\"loft\"\nbearings=[%]\n", "[[segment]]\nband=\"31 m\"\n"
	setups := strings.Replace(loop, "%", "0, 30", 1) + strings.Replace(loop, "%", "60", 1) + rest
	const rotator = "[rotator]\naddress=\"127.0.0.1:4533\"\nantennas=[\"loop\"]\n"
	if _, err := Parse([]byte("[change]\nby=\"none\"\n" + rotator + setups)); err != nil {
		t.Error(err)
	}
	_, err := Parse([]byte("[change]\nby=\"none\"\n" + setups))
	sameMistakes(t, err, []string{"line 2: change.by: nothing changes antennas, and there are 3 setups"})
}

// Every mistake of a plan is named at once, with its line.
func TestEveryMistakeAtOnce(t *testing.T) {
	_, err := Parse([]byte(`titel = "x"
[site]
locator = "ZZ99"
mains = "55 Hz"
surroundings = "village"
region = 4
[receiver]
sample_rate = "0 Hz"
[turns]
dwell = "1 hour"
every = "-5s"
sweeps = 0
rounds = -1
colour = "red"
[[setup]]
antenna = "loop"
[[setup]]
antenna = "a@b"
placement = "attic"
[[setup]]
antenna = "loop"
placement = "attic"
bearings = [360, nan, 90, 90]
[[segment]]
band = "32 m"
[[segment]]
band = "31 m"
name = "x"
[[segment]]
low = "9400"
high = "much"
[[segment]]
low = "9.9 MHz"
high = "9.4 MHz"
[[segment]]
band = "49 m"
[[segment]]
name = "49 m"
low = "1 MHz"
high = "2 MHz"
`))
	if err == nil {
		t.Fatal("no mistake found")
	}
	want := []string{
		"line 1: unknown key titel", "line 3: site.locator", "line 4: site.mains: 55 Hz is neither", "line 5: site.surroundings",
		"line 6: site.region: 4", "line 8: receiver.sample_rate", `line 10: turns.dwell: "1 hour"`, `line 11: turns.every: "-5s": must be longer`, "line 12: turns.sweeps: 0",
		"line 13: turns.rounds: -1", "line 14: unknown key turns.colour", "line 15: setup 1: antenna or placement is missing",
		"line 17: setup 2: a name must not hold @", "line 20: setup 3: loop@attic:90 stands in the plan twice",
		"line 23: setup 3, bearings: 360 is not", "line 23: setup 3, bearings: NaN is not",
		`line 25: segment 1, band: band "32 m": not known`, "line 26: segment 2: has a band besides", `line 29: segment 3: frequency "9400": no unit`,
		`line 29: segment 3: frequency "much": not a number`, "line 32: segment 4: the lower edge", "line 37: segment 6: the name 49 m is taken",
	}
	lines := strings.Split(err.Error(), "\n")
	for i := range max(len(lines), len(want)) {
		if i >= len(lines) || i >= len(want) || !strings.HasPrefix(lines[i], want[i]) {
			t.Fatalf("mistake %d of %d, want %d\n got %q\nwant %q", i+1, len(lines), len(want), lines[min(i, len(lines)-1)], want[min(i, len(want)-1)])
		}
	}
}

func TestPlansThatCannotBeRead(t *testing.T) {
	const rest = "\n[[setup]]\nantenna=\"a\"\nplacement=\"b\"\n[[segment]]\nband=\"31 m\"\n"
	for text, want := range map[string]string{
		"":                               "none: nothing to listen through",
		"title = ":                       "line 1: title: no value after =",
		"title = 5" + rest:               "line 1: title: a whole number stands there; write a text in quotes",
		"[turns]\nsweeps = \"3\"" + rest: "line 2: turns.sweeps: a text stands there; write a whole number without quotes",
		"title = \"a\"\ntitle = \"b\"":   "title",
		"[turns]\ndwell=\"1ms\"" + rest:  "line 2: turns.dwell: 1ms is not from 20ms to 10s",
		"[turns]\ndwell=\"1h\"" + rest:   "line 2: turns.dwell: 1h0m0s is not from 20ms to 10s",
		"setup=[{antenna=\"a\"}]\n":      "line 1: setup 1: antenna or placement is missing",
	} {
		_, err := Parse([]byte(text))
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q in it", text, err, want)
		}
		if err != nil && strings.Contains(err.Error(), "struct") {
			t.Errorf("%q: speaks of our types: %v", text, err)
		}
	}
}

func FuzzParsePlan(f *testing.F) {
	f.Add([]byte(wholePlan))
	f.Add([]byte("setup=[{antenna=\"a\"}]\n[[segment]]\nlow=\"1Hz\"\nhigh=\"2Hz\"\n"))
	f.Add([]byte("[[setup]]\nbearings=[nan,inf,-0.0]\n[turns]\ndwell=\"1e9h\"\n"))
	f.Add([]byte("[[a.b]]\n[[a.b.c]]\n\"x.y\"=1\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := Parse(text)
		if err != nil {
			if err.Error() == "" {
				t.Error("an error without words")
			}
			return
		}
		// What a recorder relies on.
		if len(p.Setups) == 0 || len(p.Segments) == 0 || p.Sweeps < 1 || p.Rounds < 0 || p.Dwell < leastDwell || p.Dwell > mostDwell || p.Every < 0 || p.SampleRate < 0 {
			t.Errorf("%+v", p)
		}
		for _, s := range p.Setups {
			if s.Bearing.Known && !(s.Bearing.Deg >= 0 && s.Bearing.Deg < 360) {
				t.Errorf("bearing %v", s.Bearing.Deg)
			}
		}
		for _, s := range p.Segments {
			if !(s.Low > 0 && s.High > s.Low) || s.Name == "" {
				t.Errorf("segment %+v", s)
			}
		}
	})
}
