package plan

import (
	"errors"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
)

// Lines of the wrong kind and lines that are no TOML hide no other mistake, and
// what comes of nothing but them is not complained of.
func TestUnreadableLinesHideNothing(t *testing.T) {
	_, err := Parse([]byte(`title = # nothing
[site]
name = home
locator = "ZZ99"
region = "1"
[receiver]
bias_tee = "yes"
[change]
by = "command"
command = "/bin/switch"
[turns]
until = 06:30
sweeps = "3"
seed = -1
dwell = 0.5 s
order = "sideways"
[rotator]
address = "127.0.0.1:4533"
antennas = ["loop"]
range = [
  0,
  "360",
]
[[setup]]
antenna = "whip"
placement = 5
[[setup]]
antenna = loop
placement = "loft"
bearings = 20
[[setup]]
antenna = "wire"
[[antenna]]
name = "whip"
amplifier = 3
[[antenna]]
name = "loop"
kind = "spiral"
[[gain]]
gain = “3 dB”
[[segment]]
band = "33 m
[[segment]]
low = "9.4 MHz"
[[segment]]
band = "49 m"
`))
	want := []string{
		"line 1: title: no value after =; write one",
		`line 3: site.name: a text goes in quotes; write "home"`,
		"line 4: site.locator", "line 5: site.region: a text stands there; write a whole number without quotes",
		"line 7: receiver.bias_tee: a text stands there; write true or false, without quotes",
		`line 10: change.command: a text stands there; write a list of texts, as ["/path"]`,
		"line 12: turns.until: a local time stands there; write a text in quotes",
		"line 13: turns.sweeps: a text stands there", "line 14: turns.seed: -1: give 0 or more",
		`line 15: turns.dwell: a text goes in quotes; write "0.5 s"`, `line 16: turns.order: "sideways"`,
		"line 22: rotator.range: a text stands there; write a list of numbers, as [0, 90]",
		"line 26: setup 1, placement: a whole number stands there; write a text in quotes",
		`line 28: setup 2, antenna: a text goes in quotes; write "loop"`,
		"line 30: setup 2, bearings: a whole number stands there; write a list of numbers",
		"line 31: setup 3: antenna or placement is missing",
		"line 35: antenna 1, amplifier: a whole number stands there; write a text", `line 38: antenna 2, kind: "spiral"`,
		"line 40: gain 1, gain: write straight quotes", "line 42: segment 1, band: the closing quote is missing",
		"line 43: segment 2: low and no high",
	}
	sameMistakes(t, err, want)
}

// A table whose heading is broken, or of the wrong kind, is set aside as a whole.
func TestUnreadableTables(t *testing.T) {
	_, err := Parse([]byte(`[turns
sweeps = 0
[[change]]
by = "robot"
[site]
region = 4
[site]
region = 5
remark
= 3
[[setup]]
antenna = "loop"
placement = "loft"
bearings = [20,
[[segment]]
band = "31 m"
`))
	sameMistakes(t, err, []string{
		"line 1: [turns: expected ']'", "line 3: change: a table stands there; write [change] on a line of its own",
		"line 6: site.region: 4", "line 7: site: stands in the plan twice", "line 9: remark: neither a [table] nor key = value",
		"line 10: = 3: no key before =", "line 14: setup 1, bearings: the closing ] is missing",
	})
}

// Editors on Windows begin a file with a mark; in UTF-16 it is no text that a plan may be.
func TestByteOrderMark(t *testing.T) {
	p, err := Parse([]byte("\ufeff" + wholePlan))
	if err != nil || p.Text != wholePlan || p.Title != "attic or garden" {
		t.Errorf("%v, title %q", err, p.Title)
	}
	_, err = Parse([]byte("\ufeff\n[turns]\nsweeps = \n"))
	sameMistakes(t, err, []string{"setup: none", "segment: none", "line 3: turns.sweeps: no value"})
	for _, utf16 := range []string{"\xff\xfet\x00i\x00", "\xfe\xff\x00t\x00i", "t\x00i\x00"} {
		_, err := Parse([]byte(utf16))
		sameMistakes(t, err, []string{"line 1: holds bytes that no text has: is it a plan? Save it as plain text in UTF-8"})
	}
}

// A key that is misspelt is told with those that may have been meant where it stands.
func TestUnknownKeys(t *testing.T) {
	const keys = "keys there are stand in the plan that nightfloor plan new FILE writes"
	const the, also = "; the " + keys, " The " + keys
	_, err := Parse([]byte(`titel = "x"
bearings = [20]
[turn]
sweeps = 3
[turns]
sweep = 3
colour = "red"
uri = "rtlsdr:"
[receiver]
samplerate = "2.4 MHz"
frontend = "tuner"
[rotators]
[[setup]]
antenna = "whip"
placement = "study"
bearing = [20]
x = 1
[[setup]]
antenna = "loop"
placement = "study"
[setup.beering]
x = 1
[[segment]]
band = "31 m"
logh = "9 MHz"
[[segments]]
band = "49 m"
`))
	sameMistakes(t, err, []string{
		"line 1: unknown key titel; did you mean title or site?" + also, "line 2: unknown key bearings" + the, "line 3: unknown key turn; did you mean turns?",
		"line 6: unknown key turns.sweep; did you mean sweeps?" + also, "line 7: unknown key turns.colour" + the, "line 8: unknown key turns.uri" + the,
		"line 10: unknown key receiver.samplerate; did you mean sample_rate?" + also, "line 11: unknown key receiver.frontend; did you mean front_end?", "line 12: unknown key rotators; did you mean rotator?",
		"line 16: unknown key setup.bearing; did you mean bearings?" + also, "line 17: unknown key setup.x" + the,
		"line 21: unknown key setup.beering; did you mean bearings?" + also,
		"line 25: unknown key segment.logh; did you mean low or high?", "line 26: unknown key segments; did you mean segment?",
	})
}

// What was meant by a key that is misspelt is not said to be missing.
func TestUnknownKeysLackNothing(t *testing.T) {
	_, err := Parse([]byte("[[setups]]\nantenna = \"a\"\n[[segment]]\nbnad = \"31 m\"\n"))
	sameMistakes(t, err, []string{"line 1: unknown key setups; did you mean setup?", "line 4: unknown key segment.bnad; did you mean band?"})
	_, err = Parse([]byte("[[segment]]\nband = \"31 m\"\n[[setup]]\nantenna = \"a\"\nplacement = \"b\"\n[[setup]]\nantena = \"a\"\nplacement = \"b\"\n"))
	sameMistakes(t, err, []string{"line 7: unknown key setup.antena; did you mean antenna?"})
	_, err = Parse([]byte("setup = [{antena = \"a\"}]\n[[segment]]\nband = \"31 m\"\n"))
	sameMistakes(t, err, []string{"line 1: unknown key antena; the keys there are", "line 1: setup 1: antenna or placement is missing"})
}

// Every key that there is stands in the plan that plan new writes, which mistakes refer to.
func TestNewPlanHasEveryKey(t *testing.T) {
	text, err := os.ReadFile("../../cmd/nightfloor/planning/plan-new.toml")
	if err != nil {
		t.Fatal(err)
	}
	written := map[string]string{} // by table; "" is what stands before the first
	table := ""
	for line := range strings.Lines(regexp.MustCompile("{{[^}]*}}").ReplaceAllString(string(text), "")) {
		if heading := strings.TrimLeft(line, "# "); strings.HasPrefix(heading, "[") {
			table, _, _ = strings.Cut(strings.Trim(heading, "["), "]")
		}
		written[table] += line
	}
	has := func(table, key string) bool {
		return regexp.MustCompile(`\b` + key + " = ").MatchString(written[table])
	}
	for _, name := range keysOf(typeAt(nil)) {
		keys := keysOf(typeAt(toml.Key{name}))
		if keys == nil && !has("", name) {
			t.Errorf("no %s", name)
		}
		for _, key := range keys {
			if !has(name, key) {
				t.Errorf("no %s in [%s]", key, name)
			}
		}
	}
}

// What is no plan at all is not complained of line by line.
func TestNoPlanAtAll(t *testing.T) {
	_, err := Parse([]byte(strings.Repeat("Dear reader\n", 10000)))
	if err == nil || strings.Count(err.Error(), "\n") != mostUnread || !strings.Contains(err.Error(), "is it a plan?") {
		t.Errorf("%v", err)
	}
}

// sameMistakes wants these mistakes in this order, by how they begin.
func sameMistakes(t *testing.T, err error, want []string) {
	t.Helper()
	if err == nil {
		t.Fatal("no mistake found")
	}
	lines := strings.Split(err.Error(), "\n")
	for i := range max(len(lines), len(want)) {
		if i >= len(lines) || i >= len(want) || !strings.HasPrefix(lines[i], want[i]) {
			t.Fatalf("mistake %d of %d, want %d\n got %q\nwant %q\n%v", i+1, len(lines), len(want), lines[min(i, len(lines)-1)], want[min(i, len(want)-1)], err)
		}
	}
}

var errWide = errors.New("too wide")

// A mistake that is found later takes its place among the others.
func TestAddMistake(t *testing.T) {
	text := "[receiver]\nuri = \"rtlsd:\"\n[turns]\nsweeps = 0\n[[setup]]\nantenna=\"a\"\nplacement=\"b\"\n[[segment]]\nband=\"60 m\"\n[[segment]]\nband=\"31 m\"\n"
	p, err := Parse([]byte(text))
	if key := p.SegmentKey("31 m"); key != "segment[1]" {
		t.Errorf("31 m stands at %s", key)
	}
	err = p.AddMistake(err, p.SegmentKey("60 m upper"), errWide)
	err = p.AddMistake(err, "receiver.uri", errWide)
	sameMistakes(t, err, []string{"line 2: receiver.uri: too wide", "line 4: turns.sweeps", "line 8: segment 1: too wide"})
	if err := p.AddMistake(nil, "receiver.uri", errWide); err == nil || err.Error() != "line 2: receiver.uri: too wide" {
		t.Errorf("%v", err)
	}
}
