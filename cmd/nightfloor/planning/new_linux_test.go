package planning

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"nightfloor/capture/turn/turntest"
	"nightfloor/cmd/nightfloor/console"
)

// At a terminal plan new asks, unless flags say what is wanted: Enter takes what stands in brackets, what
// cannot be is asked for again, and what is asked depends on the answers before.
func TestNewPlanByQuestions(t *testing.T) {
	for name, c := range map[string]struct {
		flags []string
		// The beginning of each question, and what is typed.
		dialogue [][2]string
		want     func(o *choices)
	}{
		"Enter to all": {dialogue: [][2]string{{"What changes", ""}, {"an R820T has none", ""}, {"In which room", ""}, {"Maidenhead", ""}}, want: func(*choices) {}},
		"a relay and a converter": {
			dialogue: [][2]string{{"What changes", "relais"}, {`"relais" is not known; choose person, relay or rotator`, ""}, // then the person stands in brackets
				{"How does the dongle", "up-converter"}, {"its oscillator?", "120"}, {"no unit", "120 MHz"}, {"In which room", "study, loft"}, {"Maidenhead", "FN31pr"}},
			want: func(o *choices) {
				o.dongle, o.offset, o.rooms, o.locator = upConverter, 120e6, []string{"study", "loft"}, "FN31pr"
			},
		},
		"a rotator": {
			dialogue: [][2]string{{"What changes", "rotator"}, {"How does the dongle", "plain"}, {"Which program", "/opt/relay"}, {"In which room", "study,loft"}, {"where it stands; name one room", "loft"}, {"Maidenhead", ""}},
			want: func(o *choices) {
				o.by, o.dongle, o.command, o.rooms = byRotator, plain, "/opt/relay", []string{"loft"}
			},
		},
		"flags": {flags: []string{"--by", "relay"}, want: func(o *choices) { o.by = byRelay }},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "plan.toml")
			p := turntest.OpenPTY(t)
			p.Columns(t, 300)
			cmd := NewCommand(console.New(p.Terminal, p.Terminal, p.Terminal))
			cmd.SilenceErrors, cmd.SilenceUsage = true, true
			cmd.SetArgs(append([]string{"new", path}, c.flags...))
			done := make(chan error, 1)
			go func() { done <- cmd.ExecuteContext(t.Context()) }()
			for _, line := range c.dialogue {
				p.Await(t, line[0])
				p.Await(t, "] ")
				p.Types(t, line[1]+"\n")
			}
			p.Await(t, "wrote "+path)
			if err := <-done; err != nil {
				t.Fatal(err)
			}
			o := usual()
			c.want(&o)
			want, err := o.text()
			if text, readErr := os.ReadFile(path); err != nil || readErr != nil || string(text) != want {
				t.Errorf("%v, %v: got %s", err, readErr, text)
			}
		})
	}
}

// Somebody who ends the input leaves no plan behind; one that is there is told before anything is asked.
func TestNewPlanIsNotAnsweredToItsEnd(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plan.toml")
	p := turntest.OpenPTY(t)
	p.Columns(t, 300)
	run := func() chan error {
		cmd := NewCommand(console.New(p.Terminal, p.Terminal, p.Terminal))
		cmd.SilenceErrors, cmd.SilenceUsage = true, true
		cmd.SetArgs([]string{"new", path})
		done := make(chan error, 1)
		go func() { done <- cmd.ExecuteContext(t.Context()) }()
		return done
	}
	done := run()
	p.Await(t, "[person] ")
	p.Types(t, "\n")
	p.Await(t, "[built-in] ")
	p.Types(t, "\x04") // Ctrl-D
	if err := <-done; err == nil || !strings.Contains(err.Error(), "not answered to their end") {
		t.Errorf("%v", err)
	}
	if _, err := os.Stat(path); err == nil {
		t.Error("a plan was written")
	}
	if err := os.WriteFile(path, []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := <-run(); err == nil || !strings.Contains(err.Error(), "left as it is") {
		t.Errorf("%v", err)
	}
}
