package main

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
)

// An --antenna that is written as a setup is one, and contradicts no other flag in silence.
func TestAntennaAsSetup(t *testing.T) {
	file := noiseIn(t, t.TempDir(), "9650kHz 48ksps 20261103T210410Z.cu8")
	for i, test := range []struct {
		flags  []string
		status int
		want   string // the setup as stored, or the error
	}{
		{[]string{"--antenna", "loop@loft:110"}, 0, "loop@loft:110"},
		{[]string{"--antenna", "loop@loft", "--bearing", "40"}, 0, "loop@loft:40"},
		{[]string{"--antenna", "loop@loft:110", "--placement", "loft", "--bearing", "110"}, 0, "loop@loft:110"},
		{[]string{"--antenna", `"box@2"`, "--placement", "loft"}, 0, `"box@2"@loft`},
		{[]string{"--antenna", "box 2"}, 0, "box 2@unnamed"},
		{[]string{"--antenna", "loop@loft:110", "--placement", "attic"}, 2, "nightfloor: --antenna loop@loft:110: it names another placement than --placement attic; give one of them\n"},
		{[]string{"--antenna", "loop@loft:110", "--bearing", "0"}, 2, "nightfloor: --antenna loop@loft:110: it names another bearing than --bearing 0; give one of them\n"},
		{[]string{"--antenna", "loop@"}, 2, "no placement after @"},
		{[]string{"--antenna", "loop@loft:400"}, 2, "no number of degrees"},
	} {
		database := filepath.Join(t.TempDir(), fmt.Sprint(i, ".db"))
		status, _, errOut := command(t, append([]string{"import", file, "--db", database}, test.flags...)...)
		want := test.want
		if test.status == 0 { // a second time it says what is stored
			_, _, errOut = command(t, append([]string{"import", file, "--db", database}, test.flags...)...)
			want = "stored already, as heard through " + want + "; skipped\n"
		}
		if status != test.status || !strings.Contains(errOut, want) {
			t.Errorf("%q: status %d, no %q in %q", test.flags, status, want, errOut)
		}
	}
}
