package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"nightfloor/cmd/nightfloor/console"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// counted finds a number and its noun in a format, "%d sweeps", with the word before it: what is of a
// whole, "1 of %d sweeps", is not meant.
var counted = regexp.MustCompile(`(?:^|(\w+) |\()%d (?:more )?(?:rounds|sweeps|setups|segments|tunings|readings|recordings|visits|carriers|stations|lines|rows|mistakes|files|bytes|samples|times|columns)\b`)

// severalAlways are parts of formats whose number is never 1, with what says so.
var severalAlways = map[string]string{
	"and there are %d setups;":             "of two and more it is asked how they are changed",
	"the plan has %d setups and":           "the same",
	"which %d setups of the plan may be":   "one would be taken",
	"fits %d setups;":                      "one would be taken",
	"more than %d ":                        "a bound",
	"--start with %d recordings":           "one has its start",
	"%d rounds: 95 %% intervals of so few": "LeastRounds and more, under that there is none",
	"%d rounds and fading":                 "the same",
	"%d stations fit":                      "leastStations and more",
	"takes %d rounds":                      "pairsFor gives three and more",
	"up to %d lines in view":               "a comb has five and more",
	"on %d times":                          "what was on once is told as a span",
	"%d times between":                     "what was once is told by itself",
	"(%d times)":                           "of a list that was cut",
	"up to %d times; raise sweeps":         "mostByHand and more",
	"the data file has %d bytes":           "a size beside another",
	"%d bytes are too few":                 "of what is damaged: any size",
	"%d bytes for %d bins":                 "the same",
	"chunk of the WAV file has %d bytes":   "the same",
	"%d bytes a sample":                    "beside its channels",
	"%d bytes of I/Q":                      "a mistake of ours",
	"read %d bytes: not whole":             "a mistake of ours",
	"from it at %d tunings":                "movedTunings and more",
	"in %d segments":                       "four are named",
	"do not fill %d rows":                  "a mistake of ours",
	"%d samples a second":                  "a sample rate",
	"may be chance among %d setups":        "of two a lead over its interval is none",
	"%w: %d samples (%.1f ms)":             "beside the least",
}

// Whatever is counted is counted by survey.Count: 1 sweep, 2 sweeps.
func TestCountedNouns(t *testing.T) {
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") || strings.Contains(path, "test/") {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			literal, ok := n.(*ast.BasicLit)
			if !ok || literal.Kind != token.STRING {
				return true
			}
			text, err := strconv.Unquote(literal.Value)
			found := counted.FindStringSubmatch(text)
			if err != nil || found == nil || found[1] == "of" || found[1] == "the" {
				return true
			}
			for known := range severalAlways {
				if strings.Contains(text, known) {
					return true
				}
			}
			t.Errorf("%s: %q counts by itself; use survey.Count, or say why it is never 1", path, text)
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// One of each is one: in a plan's check, in what record says before and after.
func TestOneOfEach(t *testing.T) {
	t.Chdir(t.TempDir())
	const one = `
[receiver]
uri = "scene:house?seed=1"
sample_rate = "1.6 MHz"
[turns]
dwell = "100ms"
sweeps = 1
rounds = 1
[[setup]]
antenna = "whip"
placement = "study"
[[segment]]
band = "31 m"
`
	if err := os.WriteFile("plan.toml", []byte(one), 0o644); err != nil {
		t.Fatal(err)
	}
	_, checked, _ := command(t, "plan", "check", "plan.toml")
	_, _, recorded := command(t, "record", "--plan", "plan.toml", "--db", "night.db")
	for _, want := range []string{"1 setup, 1 segment in 1 tuning, readings", "1 round in 1.1 s: 1 sweep, 1 reading, 0.1 s", "recording 1 setup on 1 segment for 1 round; into", "1 sweep stored; for the report"} {
		if !strings.Contains(checked+recorded, want) {
			t.Errorf("%q is not in\n%s%s", want, checked, recorded)
		}
	}
}

// What a terminal obeys is refused in names, wherever they come in, and never printed raw.
func TestEscapeCodes(t *testing.T) {
	t.Chdir(t.TempDir())
	recorded(t, "whip.cu8")
	recorded(t, "own.sigmf-data")
	of := []string{"whip.cu8", "--center", "9.65MHz", "--rate", "256kHz", "--start", "2026-11-03T21:04:10Z", "--db", "night.db"}
	write := func(path, text string) {
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("own.sigmf-meta", `{"global":{"core:datatype":"cu8","core:sample_rate":256000,"core:version":"1.0.0","antenna:model":"\u001b[31mwhip"},
		"captures":[{"core:sample_start":0,"core:frequency":9650000,"core:datetime":"2026-11-03T21:04:10Z"}],"annotations":[]}`)
	const plan = "title = \"t\"\n[[setup]]\nantenna = \"whip\"\nplacement = \"loft\"\n[[segment]]\nlow = \"9.4 MHz\"\nhigh = \"9.9 MHz\"\nname = \"31 m\"\n"
	for name, edit := range map[string][2]string{"title": {`"t"`, `"a\u0007b"`}, "antenna": {`"whip"`, `"\u001b[31mwhip"`}, "placement": {`"loft"`, `"l\u202eoft"`}, "segment": {`"31 m"`, `"\u009b31m"`}} {
		write(name+".toml", strings.Replace(plan, edit[0], edit[1], 1))
	}
	for _, test := range []struct {
		args   []string
		status int
		want   string
	}{
		{append([]string{"import", "--antenna", "\x1b[31mwhip"}, of...), 2, "a name is printable"},
		{append([]string{"import", "--antenna", "whip", "--placement", "a\nb"}, of...), 2, "a name is printable"},
		{[]string{"import", "own.sigmf-meta", "--db", "night.db"}, 1, "a name is printable"},
		{[]string{"measure", "own.sigmf-meta"}, 1, "a name is printable"},
		{[]string{"plan", "check", "title.toml"}, 1, "line 1: title: "},
		{[]string{"plan", "check", "antenna.toml"}, 1, "a name is printable"},
		{[]string{"plan", "check", "placement.toml"}, 1, "a name is printable"},
		{[]string{"plan", "check", "segment.toml"}, 1, "a name is printable"},
		{[]string{"record", "--plan", "missing\x1b[31m.toml"}, 1, `\x1b[31m`},
		{[]string{"report", "--db", "missing\x1b[31m.db"}, 1, `\x1b[31m`},
		{[]string{"report", "--db", "missing\n.db"}, 1, "open database missing"},
		{[]string{"\x1b[31m"}, 2, `\x1b[31m`},
	} {
		status, out, errOut := command(t, test.args...)
		if status != test.status || !strings.Contains(errOut, test.want) || strings.ContainsAny(out+errOut, "\x1b\a\u202e\u009b") {
			t.Errorf("%q: status %d, %q%q, want %s", test.args, status, out, errOut, test.want)
		}
	}
	if _, err := os.Stat("night.db"); err == nil {
		if status, out, _ := command(t, "report", "--db", "night.db"); status == 0 {
			t.Errorf("something was stored: %s", out)
		}
	}
	// What came in by another way, or before, is shown without harm.
	var out strings.Builder
	console.New(nil, &out, &out).Note("heard through %s", "\x1b[31mwhip\nand more")
	if said := out.String(); said != `nightfloor: heard through \x1b[31mwhip\x0aand more`+"\n" {
		t.Errorf("%q", said)
	}
}
