package plan

import (
	"slices"
	"strings"
	"testing"
)

// A name that is written otherwise in a setup is another antenna: where it cannot be meant it is a mistake in its
// own line, and nothing is said of what only follows from it.
func TestNamesThatCannotBeMeant(t *testing.T) {
	const turns = "[turns]\nrounds = 12\n" // lines 1 and 2
	const whip, loop = "[[antenna]]\nname = \"whip\"\n", "[[antenna]]\nname = \"loop\"\n"
	const segment = "[[segment]]\nband = \"31 m\"\n"
	setup := func(antenna string) string {
		return "[[setup]]\nantenna = \"" + antenna + "\"\nplacement = \"study\"\n"
	}
	for _, c := range []struct {
		plan string
		want []string
	}{
		{turns + whip + loop + setup("wip") + setup("loop"), []string{`line 8: setup 1, antenna: no [[antenna]] is named "wip", and no setup uses whip; did you mean whip?`}},
		{turns + whip + loop + setup("whip") + setup("Lopp"), []string{`line 11: setup 2, antenna: no [[antenna]] is named "Lopp", and no setup uses loop; did you mean loop?`}},
		{turns + whip + loop + setup("dipole") + setup("loop"), []string{"line 3: antenna 1: no setup uses whip; add a [[setup]] with it, or leave it out"}},
		{turns + whip + loop + "of = \"wihp\"\n" + setup("whip") + setup("loop"), []string{"line 7: antenna 2, of: the plan has no setup with wihp; did you mean whip?"}},
		{turns + whip + loop + "removed = [\"wip\"]\n" + setup("whip") + setup("loop"), []string{"line 7: antenna 2, removed: the plan has no setup with wip; did you mean whip?"}},
		{turns + setup("whip") + setup("loop") + "[[gain]]\nantenna = \"lop\"\ngain = \"20.7 dB\"\n", []string{"line 10: gain 1, antenna: the plan has no setup with lop; did you mean loop?"}},
		{turns + setup("whip") + setup("loop") + "[rotator]\naddress = \"127.0.0.1:4533\"\nantennas = [\"lop\"]\n", []string{"line 11: rotator.antennas: no setup uses lop; did you mean loop?"}},
		{turns + setup("whip") + setup("loop") + "[[gain]]\nantenna = \"yagi\"\ngain = \"20.7 dB\"\n", []string{"line 10: gain 1, antenna: the plan has no setup with yagi"}},
	} {
		_, err := Parse([]byte(c.plan + segment))
		if err == nil || !slices.Equal(strings.Split(err.Error(), "\n"), c.want) {
			t.Errorf("%s\n got %v\nwant %s", c.plan, err, c.want)
		}
	}
}

// A name that may be meant is doubted, with its line, where it is nearly another's or has no [[antenna]] while
// others have; numbered and lettered names and those that the plan describes are not.
func TestNamesThatMayBeMeant(t *testing.T) {
	antenna := func(names ...string) (more string) {
		for _, name := range names {
			more += "[[antenna]]\nname = \"" + name + "\"\n"
		}
		return more
	}
	for _, c := range []struct {
		setups []string
		more   string
		want   string // "": nothing
	}{
		{[]string{"whip study", "loop study", "lop study"}, antenna("whip", "loop"), `line 20: "lop" has no [[antenna]], and others have; did you mean loop? Else add [[antenna]] with name = "lop"`},
		{[]string{"whip study", "loop study", "wip loft", "loop loft"}, antenna("whip", "loop"), `line 20: "wip" has no [[antenna]], and others have; did you mean whip?`},
		{[]string{"whip study", "loop study", "dipole study"}, antenna("whip", "loop"), `line 20: "dipole" has no [[antenna]], and others have; add one with name = "dipole" and its kind, or mend the name`},
		{[]string{"whip study", "loop study", "lop study"}, "", `line 20: "lop" is nearly loop; did you mean loop? Else add [[antenna]] with name = "lop"`},
		{[]string{"whip study", "Whip study"}, "", `line 17: "Whip" is nearly whip; did you mean whip?`},
		{[]string{"whip study", "loop study", "lop study"}, antenna("whip", "loop", "lop"), ""},
		{[]string{"whip1 study", "whip2 study", "whip12 study"}, "", ""},
		{[]string{"a study", "b study"}, "", ""},
		{[]string{"whip study", "loop study"}, antenna("loop"), ""}, // of which there is something to say
		{[]string{"whip study", "loop study", "dipole study"}, antenna("loop"), ""},
		{[]string{"whip study", "loop study", "terminator study"}, antenna("whip", "loop"), ""},
		{[]string{"whip study", "loop study", "dummy study"}, "[[antenna]]\nname = \"dummy\"\nkind = \"terminator\"\n", ""}, // a control alone is described
		{[]string{"whip study", "loop study", "alone study"}, "[[antenna]]\nname = \"alone\"\nof = \"loop\"\n", ""},
	} {
		p := planOf(t, c.more, c.setups...)
		doubts := strings.Join(p.Doubts(p.Outlook(1, 0), 0), "\n")
		if c.want == "" && doubts != "" || !strings.Contains(doubts, c.want) || strings.Count(doubts, "\n") > 0 {
			t.Errorf("%v: got %q, want %q", c.setups, doubts, c.want)
		}
	}
	for _, c := range []struct {
		a, b string
		near bool
	}{{"loop a", "loop b", false}, {"loop a", "loop", false}, {"loop", "loops", true}, {"loop", "pool", false}, {"loop", "Loop", true}, {"loop 1", "loop 2", false}, {"loop 1", "lop 1", true}} {
		if near := nearly(c.a, c.b); near != c.near {
			t.Errorf("%q and %q: %v", c.a, c.b, near)
		}
	}
}
