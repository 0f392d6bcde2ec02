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

// What was stored without a placement is told, and nothing else.
func TestUnplaced(t *testing.T) {
	folder := t.TempDir()
	database := filepath.Join(folder, "night.db")
	a, b := noiseIn(t, folder, "9650kHz 48ksps 20261103T210410Z.cu8"), noiseIn(t, folder, "9650kHz 48ksps 20261103T210510Z.cu8")
	none := noiseIn(t, folder, "9650kHz 48ksps.cu8")
	broken := noiseIn(t, folder, "broken.db")
	for _, test := range []struct {
		args []string
		want string // "": nothing
	}{
		{[]string{none, "--db", database}, ""},
		{[]string{a, "--db", broken}, ""},
		{[]string{a, none, "--db", database}, `nightfloor: 1 recording without a placement stands at "unnamed"; name it with --placement` + "\n"},
		{[]string{a, "--db", database, "--placement", "loft"}, ""},
		{[]string{a, "--db", database}, ""}, // stored before
		{[]string{a, b, "--db", filepath.Join(folder, "2.db")}, `nightfloor: 2 recordings without a placement stand at "unnamed"; name it with --placement` + "\n"},
	} {
		_, _, errOut := command(t, append(append([]string{"import"}, test.args...), "--antenna", "loop")...)
		if !strings.Contains(errOut, test.want) || test.want == "" && strings.Contains(errOut, "placement st") || strings.Contains(errOut, "taken for") {
			t.Errorf("%q: no %q in %q", test.args, test.want, errOut)
		}
	}
}

// Of many recordings without an antenna one line tells, with the words that their names begin
// with, where these tell setups apart; and an antenna that such words contradict is noted.
func TestAntennaAndNames(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		names, flags []string
		status       int
		want, never  string // in what is said
	}{
		{[]string{"loop 1", "loop 2", "whip 1", "Whip 2"}, nil, 1,
			"loop 1 9650kHz 20261103T210010Z.cu8 and 3 more: not imported: they name no antenna; their names begin with loop (2) and whip (2): import each with its own --antenna\n", ""},
		{[]string{"loop 1", "loop 2", "whip 1"}, nil, 1, "loop 1 9650kHz 20261103T210010Z.cu8 and 2 more: not imported: they name no antenna; name it with --antenna\n", "begin"},
		{[]string{"rec 1", "rec 2"}, nil, 1, "and 1 more: not imported: they name no antenna; name it with --antenna\n", "begin"},
		{[]string{"loop 1"}, nil, 1, "loop 1 9650kHz 20261103T210010Z.cu8: not imported: it names no antenna; name it with --antenna\n", "more"},
		{[]string{"loop 1", "loop 2", "whip 1", "2 loops"}, []string{"--antenna", "Loop 1 m"}, 0, "nightfloor: 1 of 4 names begins with whip, and is stored as Loop 1 m\n", ""},
		{[]string{"loop 1", "wire 1", "whip 1", "whip 2"}, []string{"--antenna", "loop"}, 0, "nightfloor: 3 of 4 names begin with whip or wire, and are stored as loop\n", ""},
		{[]string{"day 1", "night 2"}, []string{"--antenna", "loop"}, 0, "", "begin"},
		{[]string{"loop 1", "loop 2"}, []string{"--antenna", "loop"}, 0, "", "begin"},
	} {
		folder, database := t.TempDir(), filepath.Join(t.TempDir(), "night.db")
		for i, name := range test.names {
			noiseIn(t, folder, fmt.Sprintf("%s 9650kHz 20261103T21%02d10Z.cu8", name, i))
		}
		status, _, errOut := command(t, append([]string{"import", folder, "--db", database, "--rate", "48kHz"}, test.flags...)...)
		if status != test.status || !strings.Contains(errOut, test.want) || test.never != "" && strings.Contains(errOut, test.never) || strings.Count(errOut, "not imported") > 1 {
			t.Errorf("%q: status %d, no %q or %q in %q", test.names, status, test.want, test.never, errOut)
		}
	}
}
