package planning

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"nightfloor/cmd/nightfloor/console"
)

// command carries out the command plan, and gives what it said.
func command(args ...string) (said string, err error) {
	var out bytes.Buffer
	cmd := NewCommand(console.New(strings.NewReader(""), &out, &out))
	cmd.SilenceErrors, cmd.SilenceUsage = true, true
	cmd.SetArgs(args)
	err = cmd.Execute()
	return out.String(), err
}

// checked gives what plan check says of a plan, its mistakes or its doubts.
func checked(t *testing.T, plan string, now time.Time) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "plan.toml")
	if err := os.WriteFile(path, []byte(plan), 0o644); err != nil {
		t.Fatal(err)
	}
	var said bytes.Buffer
	if err := check(path, now, console.New(nil, &said, &said)); err != nil {
		return err.Error()
	}
	return said.String()
}

// What record would refuse, plan check refuses; and it advises what is possible.
func TestPlanCheckRefusesWhatRecordDoes(t *testing.T) {
	plan := func(receiver, more string) string {
		return "[receiver]\n" + receiver + "\n[[setup]]\nantenna=\"whip\"\nplacement=\"study\"\n[[segment]]\nband=\"60 m\"\n[[segment]]\nband=\"49 m\"\n" + more
	}
	const direct = "\nfront_end = \"direct sampling Q\""
	for _, test := range []struct{ plan, want string }{
		{plan(`uri = "rtlsd:"`, ""), `line 2: receiver.uri: "rtlsd:" is no kind of receiver`},
		{plan(`uri = "rtlsdr:foo=3"`+direct, ""), `line 2: receiver.uri: receiver "rtlsdr:foo=3": "foo=3" is not understood`},
		{plan(`uri = "rtlsdr:serial="`+direct, ""), `line 2: receiver.uri: receiver "rtlsdr:serial=": "serial=" is not understood`},
		{plan(`uri = "scene:palace"`, ""), `line 2: receiver.uri: `},
		{plan("uri = \"scene:house\"\nsample_rate = \"800 kHz\"", ""), `line 3: receiver.sample_rate: `},
		{plan(`uri = "scene:house"`, "[[setup]]\nantenna=\"yagi\"\nplacement=\"roof\"\n[change]\nby=\"command\"\ncommand=[\"true\"]"), "setup: setup yagi@roof: "},
		// 49 m is 300 kHz wide: 3 · (300 + 10) kHz = 930 kHz, and 1.024 MHz is a rate that exists.
		{plan("uri = \"rtlsdr:\"\nsample_rate = \"300 kHz\""+direct, ""), `line 10: segment 2: 49 m is 300 kHz wide, and a sample rate of 300 kHz takes in a third of its width, beside the DC spike; set sample_rate = "1.024 MHz", or split it`},
		{plan("uri = \"rtlsdr:\""+direct, "[[segment]]\nlow=\"9 MHz\"\nhigh=\"13 MHz\""), "segment 3: 9000-13000 kHz is 4 MHz wide, and a sample rate of 2.4 MHz takes in a third of its width, beside the DC spike; split it into narrower ones"},
		// The house runs at 1.024 MS/s where the plan says nothing: 331 kHz, and 31 m is 500 kHz wide.
		{plan(`uri = "scene:house"`, "[[segment]]\nband=\"31 m\""), `31 m is 500 kHz wide, and a sample rate of 1.024 MHz takes in a third of its width, beside the DC spike; set sample_rate = "1.6 MHz"`},
		{plan(`uri = "scene:house"`, "[[gain]]\ngain=\"99 dB\""), "gain 1, gain: 99 dB is no step of the receiver; its steps are 0.0, 0.9,"},
	} {
		if said := checked(t, test.plan, time.Now()); !strings.Contains(said, test.want) {
			t.Errorf("%s\n got %s\nwant %s", test.plan, said, test.want)
		}
	}
}

// The README's plan is a good one.
func TestPlanOfTheREADME(t *testing.T) {
	readme, err := os.ReadFile("../../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, text, _ := strings.Cut(string(readme), "```toml\n")
	text, _, ended := strings.Cut(text, "```\n")
	if said := checked(t, text, time.Now()); !ended || strings.Contains(said, "!") || !strings.Contains(said, "24 rounds in 1.1 h") {
		t.Errorf("%s", said)
	}
}

// What is doubtful in receiver, turns and antennas.
func TestMorePlanDoubts(t *testing.T) {
	program := filepath.Join(t.TempDir(), "not-to-be-run")
	if err := os.WriteFile(program, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	plan := `[site]
locator = "JO32kh"
[receiver]
sample_rate = "3.2 MHz"
front_end = "direct sampling Q"
filter = "high-pass"
[change]
by = "command"
command = ["/no/such/relay"]
confirm = ["` + filepath.ToSlash(program) + `"]
[turns]
sweeps = 10
every = "5s"
rounds = 12
[[antenna]]
name = "loop"
kind = "loop"
amplifier = "70 dB"
cable_loss = "61 dB"
[[setup]]
antenna = "loop"
placement = "loft"
bearings = [20, 65, 110, 155, 200]
[[segment]]
band = "49 m"
[[segment]]
band = "25 m"
`
	noon := time.Date(2026, time.November, 3, 12, 0, 0, 0, time.Local)
	out := checked(t, plan, noon)
	// 10 sweeps of two readings, 0.55 s each: 11 s of listening, and 1 s for the relay.
	for _, want := range []string{"! no receiver: add uri", "! a sample rate of 3.2 MHz: above 2.56 MHz dongles lose", "! 49 m, 25 m: a high-pass of 14.4 MHz takes away what is to be measured",
		"! 49 m, 25 m: FM broadcasters of 86.4 MHz + f and 115.2 MHz − f come through the high-pass",
		"! change.command: there is no program /no/such/relay", "! change.confirm: the program " + filepath.ToSlash(program),
		"! a visit listens for 11.0 s only: half a minute or more averages fading; raise sweeps to 28", `! every = "5s", and a visit takes 12.0 s`,
		"! an amplifier of 70 dB at loop", "! a cable loss of 61 dB at loop", "! loop@loft:20 and loop@loft:200: an ideal loop hears both alike"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	if n := strings.Count(out, "\n! "); n != 11 {
		t.Errorf("%d doubts, want 11:\n%s", n, out)
	}
	// Nothing of it where it is not so.
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	self = filepath.ToSlash(self)
	out = checked(t, strings.NewReplacer("[receiver]", "[receiver]\nuri = \"rtlsdr:\"", "3.2 MHz", "2.56 MHz", `"high-pass"`, "\"low-pass\"\nfilter_rejection = \"34 dB\"\nhigh_pass = \"2 MHz\"", "/no/such/relay", self, filepath.ToSlash(program), self,
		"sweeps = 10", "sweeps = 28", `"5s"`, `"1m"`, "70 dB", "60 dB", "61 dB", "60 dB", ", 200]", "]").Replace(plan), noon)
	if strings.Contains(out, "!") {
		t.Errorf("doubts:\n%s", out)
	}
	// 110 sweeps of 1.1 s and 1 s, five times, are 610 s: five minutes do not hold them.
	out = checked(t, strings.NewReplacer("rounds = 12", `until = "12:05"`, "sweeps = 10", "sweeps = 110").Replace(plan), noon)
	if !strings.Contains(out, "! until 12:05 there is no time for a single round of 10.2 min; begin earlier") {
		t.Errorf("%s", out)
	}
	// A night by hand.
	out = checked(t, strings.NewReplacer("rounds = 12", "rounds = 200", `by = "command"`, `by = "person"`, `command = ["/no/such/relay"]`, "", "confirm =", "# confirm =").Replace(plan), noon)
	if !strings.Contains(out, "! a person is asked up to 1000 times") {
		t.Errorf("%s", out)
	}
}
