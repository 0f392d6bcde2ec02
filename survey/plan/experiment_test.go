package plan

import (
	"fmt"
	"strings"
	"testing"
)

// planOf gives a plan of enough rounds and sweeps with setups, each written as ANTENNA PLACEMENT [BEARINGS].
func planOf(t *testing.T, more string, setups ...string) Plan {
	t.Helper()
	text := "[turns]\nsweeps = 60\nrounds = 12\n[site]\nlocator = \"JO32kh\"\n[receiver]\nuri = \"rtlsdr:\"\nfront_end = \"built-in up-converter\"\n[change]\nby = \"person\"\n"
	if !strings.Contains(more, "[[segment]]") {
		text += "[[segment]]\nband = \"31 m\"\n"
	}
	for _, s := range setups {
		antenna, placement, _ := strings.Cut(s, " ")
		placement, bearings, _ := strings.Cut(placement, " ")
		text += fmt.Sprintf("[[setup]]\nantenna = %q\nplacement = %q\n", antenna, placement)
		if bearings != "" {
			text += "bearings = " + bearings + "\n"
		}
	}
	p, err := Parse([]byte(text + more))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// What a metrologist would ask of an experiment is asked, and of a good one nothing.
func TestExperimentsThatCannotAnswer(t *testing.T) {
	const loops = "[[antenna]]\nname = \"loop\"\nkind = \"loop\"\n"
	const alone = "[[antenna]]\nname = \"alone\"\nof = \"loop\"\nremoved = [\"whip\"]\n"
	for _, c := range []struct {
		setups []string
		more   string
		want   string // "": nothing
	}{
		{setups: []string{"whip study", "loop loft"}, want: `nothing tells the antenna from its placement: loop in loft, compared with whip in study, with neither in common; add a [[setup]] with antenna = "whip" and placement = "loft"`},
		{setups: []string{"whip study", "dipole study", "loop loft", "loop garden"}, want: `loop in loft, loop in garden, compared with whip in study`},
		{setups: []string{"whip study", "loop loft", "dipole loft"}, want: `loop in loft, dipole in loft, compared with whip in study`},
		{setups: []string{"whip study", "whip loft", "loop loft"}},
		{setups: []string{"whip study", "loop study", "loop loft", "dipole loft"}}, // by way of the loop
		{setups: []string{"whip study", "whip loft", "whip garden"}},               // rooms, by one antenna
		{setups: []string{"whip study"}, want: "one setup of an antenna, whip@study: it is compared with nothing"},
		{setups: []string{"whip study", "terminator study"}, want: "one setup of an antenna, whip@study: it is compared with nothing"},
		{setups: []string{"terminator study"}, want: "only controls: they say what is no antenna's"},
		{setups: []string{"terminator study", "whip study", "loop study"}, want: "the first setup is the reference that all are compared with, and terminator@study is a control"},
		{setups: []string{"whip study", "loop study", "terminator loft"}, want: "terminator@loft is the control of a placement in which no antenna stands"},
		{setups: []string{"whip study", "loop study", "dummy loft"}, more: "[[antenna]]\nname = \"dummy\"\nkind = \"terminator\"\n", want: "dummy@loft is the control"},
		{setups: []string{"whip study", "loop study", "terminator study"}},
		{setups: []string{"whip study", "loop study", "dummy rack"}, more: "[[antenna]]\nname = \"dummy\"\nkind = \"terminator\"\nat = \"receiver\"\n"},
		{setups: []string{"whip study", "dummy study"}, more: "[[antenna]]\nname = \"dummy\"\nkind = \"element replaced\"\nof = \"whip\"\n", want: "one setup of an antenna, whip@study"},
		{setups: []string{"whip study", "loop study [20, 110]"}, want: "loop in study is turned to 2 bearings, which are compared with each other alone: a null takes 4 and more"},
		{setups: []string{"whip study", "loop study [20, 110, 200, 290]"}, more: "[[antenna]]\nname = \"loop\"\nkind = \"wire\"\n", want: "loop in study is turned to 2 bearings"}, // and their opposites
		{setups: []string{"whip study", "loop study [0, 30, 60, 80]"}, more: loops, want: "loop in study is turned nowhere in 100° of half a turn"},
		{setups: []string{"whip study", "loop study [0, 30, 60, 90]"}, more: loops},
		{setups: []string{"whip study", "loop study [20, 65, 110, 155]"}, more: loops},
		{setups: []string{"whip study", "loop study [20]"}},
		{setups: []string{"whip study", "loop study [0, 45, 90, 135]", "loop loft [110]"}, more: loops, want: "nothing tells the bearing from the placement: loop is at no bearing in loft that it has in study"},
		{setups: []string{"whip study", "loop study [0, 45, 90, 135]", "loop loft [179]"}, more: loops}, // within 2° of 0°
		{setups: []string{"whip study", "loop study [0, 45, 90, 135]", "loop loft [177]"}, more: loops, want: "loop is at no bearing in loft"},
		{setups: []string{"whip study", "loop study [0, 1, 90, 135]"}, more: loops, want: "loop in study is turned to 3 bearings"}, // 1° is 0°
		{setups: []string{"whip study", "loop study [20]", "alone study [20]"}, more: alone},
		{setups: []string{"whip study", "loop study [20]", "alone study [70]"}, more: alone, want: "alone@study:70 has others removed, and nothing is there to compare it with: add a [[setup]] of loop in the same placement, at the same bearing"},
		{setups: []string{"alone study", "loop study", "whip study"}, more: alone, want: "the first setup is the reference that all are compared with, and alone@study has others removed and no rank"},
		{setups: []string{"whip study", "loop study"}, more: "[[segment]]\nband = \"20 m amateur\"\nlisted = [\"14.1 MHz\"]\n", want: "20 m amateur is ranked by 1 listed line alone: under 3 there is no verdict"},
		{setups: []string{"whip study", "loop study"}, more: "[[segment]]\nband = \"20 m amateur\"\nlisted = [\"14.09 MHz\", \"14.1 MHz\", \"14.11 MHz\"]\n"},
	} {
		p := planOf(t, c.more, c.setups...)
		doubts := strings.Join(p.Doubts(p.Outlook(1, 0), 0), "\n")
		if c.want == "" && doubts != "" || !strings.Contains(doubts, c.want) || strings.Count(doubts, "\n") > 0 {
			t.Errorf("%v: got %q, want %q", c.setups, doubts, c.want)
		}
	}
}

// A round of an hour and a quarter compares what was heard under other conditions; one of an hour less a
// little does not.
func TestRoundsThatAreTooLong(t *testing.T) {
	for every, doubted := range map[string]bool{"29m": false, "38m": true} {
		p := planOf(t, "", "whip study", "loop study")
		p.Every, _ = duration(every)
		if doubts := strings.Join(p.Doubts(p.Outlook(1, 0), 0), "\n"); strings.Contains(doubts, "heard under other conditions") != doubted {
			t.Errorf("%s: %s", every, doubts)
		}
	}
}
