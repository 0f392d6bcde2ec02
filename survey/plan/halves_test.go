package plan

import (
	"strings"
	"testing"
	"time"

	"nightfloor/survey"
)

const crossedPlan = `[change]
by = "person"
[turns]
rounds = 5
[[setup]]
antenna = "loop"
placement = "attic"
[[setup]]
antenna = "whip"
placement = "attic"
[[segment]]
band = "31 m"
`

func TestHalves(t *testing.T) {
	p, err := Parse([]byte("[halves]\nfeed_lines = [\"straight\", \"crossed\"]\nidle = \"50 ohm\"\nchokes = [\"in\"]\n" + crossedPlan))
	if err != nil {
		t.Fatal(err)
	}
	want := [2]survey.Wiring{{FeedLines: "straight", Idle: "50 ohm", Chokes: "in"}, {FeedLines: "crossed", Idle: "50 ohm", Chokes: "in"}}
	if p.Halves != want {
		t.Errorf("%v, want %v", p.Halves, want)
	}
	if part, ok := p.Changing(); !ok || part.Key != "feed_lines" {
		t.Errorf("%v changes, %v", part.Key, ok)
	}
	if said := p.Describe(p.Outlook(1, 0), 1, 0, nil); !strings.Contains(said, "after round 3 of 5, at half time, feed lines go from straight to crossed") {
		t.Errorf("%q", said)
	}
	for _, doubt := range p.Doubts(p.Outlook(1, 0), 0) {
		if strings.Contains(doubt, "half the time") {
			t.Errorf("doubt: %s", doubt)
		}
	}
	p, err = Parse([]byte(crossedPlan))
	if _, ok := p.Changing(); err != nil || ok || p.Halves != [2]survey.Wiring{} {
		t.Errorf("%v changes where the plan says nothing: %v", p.Halves, err)
	}
}

func TestMistakesOfHalves(t *testing.T) {
	for _, test := range []struct{ halves, from, to, want string }{
		{"feed_lines = [\"straight\", \"crossed\"]\nidle = [\"open\", \"50 ohm\"]", "", "", "line 3: halves.idle: it changes at half time together with feed_lines"},
		{"feed_lines = \"crosed\"", "", "", `line 2: halves.feed_lines: crosed is not known; choose "straight" or "crossed"`},
		{"idle = 50", "", "", `line 2: halves.idle: 50 is not known; choose "open" or "50 ohm" or "shorted"`},
		{"idle = [\"open\", \"shorted\", \"50 ohm\"]", "", "", "line 2: halves.idle: 3 values;"},
		{"idle = []", "", "", "line 2: halves.idle: 0 values;"},
		{"chokes = [\"in\", \"in\"]", "", "", `line 2: halves.chokes: both are "in"`},
		{"choke = \"in\"", "", "", "line 2: unknown key halves.choke; did you mean chokes?"},
		{"chokes = [\"in\", \"out\"]", `by = "person"`, `by = "none"`, "line 2: halves.chokes: nobody changes it at half time"},
	} {
		text := strings.Replace("[halves]\n"+test.halves+"\n"+crossedPlan, test.from, test.to, 1)
		_, err := Parse([]byte(text))
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: %v, want %q", test.halves, err, test.want)
		}
	}
}

// Nothing tells when half the time is over of a survey that goes on until it is stopped.
func TestHalfOfWhat(t *testing.T) {
	endless := strings.Replace(crossedPlan, "rounds = 5\n", "", 1)
	p, err := Parse([]byte("[halves]\nidle = [\"open\", \"50 ohm\"]\n" + endless))
	if err != nil {
		t.Fatal(err)
	}
	doubts := func(length time.Duration) string { return strings.Join(p.Doubts(p.Outlook(1, length), length), "\n") }
	if said := doubts(0); !strings.Contains(said, "nothing says when half the time is over") {
		t.Errorf("%q", said)
	}
	if said := doubts(time.Hour); strings.Contains(said, "half the time") {
		t.Errorf("%q", said)
	}
}

// Of 5 rounds three are of the first half; of 8 h four, less or more where rounds were lost. Which comes
// first counts.
func TestSecondHalf(t *testing.T) {
	const each = 10 * time.Minute
	for _, test := range []struct {
		rounds, made int
		left         time.Duration
		want         bool
	}{
		{5, 2, 0, false}, {5, 3, 0, true}, {4, 1, 0, false}, {4, 2, 0, true},
		{0, 23, 4 * time.Hour, false}, {0, 24, 4 * time.Hour, true}, // of 8 h
		{0, 9, 99 * time.Minute, true}, {0, 8, 99 * time.Minute, false},
		{0, 3, time.Hour, false}, {0, 6, time.Hour, true}, // resumed with an hour left
		{100, 24, 4 * time.Hour, true}, {40, 20, 6 * time.Hour, true},
		{0, 99, 0, false}, // without end
	} {
		p := Plan{Rounds: test.rounds}
		if got := p.SecondHalf(test.made, each, test.left); got != test.want {
			t.Errorf("%d of %d rounds made, %v left: %v", test.made, test.rounds, test.left, got)
		}
	}
	if (Plan{}).SecondHalf(24, 0, time.Hour) {
		t.Error("how long a round takes is not known")
	}
}

// Of three antennas crossing exchanges two lines at most, and a control has none of its own.
func TestCrossingOfTwo(t *testing.T) {
	const halves, third = "[halves]\nfeed_lines = [\"straight\", \"crossed\"]\n", "[[setup]]\nantenna = \"third\"\nplacement = \"attic\"\n"
	for more, want := range map[string]bool{"": false, third: true, third + "[[antenna]]\nname = \"third\"\nkind = \"terminator\"\n": false} {
		p, err := Parse([]byte(halves + crossedPlan + more))
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(strings.Join(p.Doubts(p.Outlook(1, 0), 0), "\n"), "there are two antennas"); got != want {
			t.Errorf("%s: doubt %v, want %v", more, got, want)
		}
	}
}
