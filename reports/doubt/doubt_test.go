package doubt

import (
	"bytes"
	"encoding/json"
	"testing"
	"time"

	"nightfloor/survey"
)

var loop = survey.Setup{Antenna: "loop", Placement: "attic & loft", Bearing: survey.BearingOf(40)}

// A doubt is written in one sentence.
func TestSentences(t *testing.T) {
	whip := survey.Setup{Antenna: "whip", Placement: "study"}
	for want, d := range map[string]Doubt{
		"": {},
		"no carrier was heard often enough to compare SNR by":             New(NoCarrier),
		"1 line off the 5 kHz raster set aside as local":                  New(LocalLines, Count{1, "line"}),
		"rounds last up to 1 h 4 min: fading does not cancel within them": New(LongRounds, 64*time.Minute),
		"loop@attic & loft:40 and whip@study: in 2 of 1,200 rounds together with the reference": {Kind: SomeRounds,
			About: []survey.Setup{loop, whip}, Figures: []any{"2", Count{1200, "round"}}},
		`whip@study on 3\x071 m: 2 visits left out: the gain is not known against that of the others in the same round; where recordings do not tell the gain, give it with import --gain`: {Kind: VisitsApart,
			About: []survey.Setup{whip}, Segment: "3\a1 m", Figures: []any{Count{2, "visit"}, New(GiveGain)}},
		"levels are against loop: whip@study was not measured in the same rounds": New(LevelsAgainst, "loop", New(NotInItsRounds, whip)),
	} {
		if got := d.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// JSON holds the sentence, with & as it is where the encoder is told so.
func TestInJSON(t *testing.T) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	d := New(NoCommonRound)
	d.About = []survey.Setup{loop}
	if err := e.Encode([]Doubt{d}); err != nil || b.String() != `["loop@attic & loft:40: never in a round with the reference: not compared"]`+"\n" {
		t.Errorf("%v: %s", err, b.String())
	}
	var read []Doubt
	if err := json.Unmarshal(b.Bytes(), &read); err != nil || len(read) != 1 || read[0].String() != d.String() {
		t.Errorf("%v: %q", err, read)
	}
}
