package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
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
	for _, want := range []string{"1 setup, 1 segment in 1 tuning, readings", "1 round in 1.1 s: 1 sweep, 1 reading, 0.1 s", "recording 1 setup on 1 segment for 1 round; into", "1 sweep stored; see with"} {
		if !strings.Contains(checked+recorded, want) {
			t.Errorf("%q is not in\n%s%s", want, checked, recorded)
		}
	}
}
