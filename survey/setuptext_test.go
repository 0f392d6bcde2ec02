package survey

import (
	"math/rand/v2"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"
)

func TestSetupAsText(t *testing.T) {
	for want, s := range map[string]Setup{
		"loop@attic:40":           {Antenna: "loop", Placement: "attic", Bearing: BearingOf(40)},
		"loop@attic:0":            {Antenna: "loop", Placement: "attic", Bearing: BearingOf(360)},
		"loop@attic:5.5":          {Antenna: "loop", Placement: "attic", Bearing: BearingOf(5.5)},
		"whip@garden":             {Antenna: "whip", Placement: "garden"},
		"whip":                    {Antenna: "whip"},
		`whip@"":40`:              {Antenna: "whip", Bearing: BearingOf(40)},
		"tall whip@the shed":      {Antenna: "tall whip", Placement: "the shed"},
		`1" tube@room "2"`:        {Antenna: `1" tube`, Placement: `room "2"`},
		`"a@b"@"box:2":40`:        {Antenna: "a@b", Placement: "box:2", Bearing: BearingOf(40)},
		`"\x1b[31mwhip"@" attic"`: {Antenna: "\x1b[31mwhip", Placement: " attic"},
		`"\"loft\" whip"@"x\xff"`: {Antenna: `"loft" whip`, Placement: "x\xff"},
		`a\x1b@Straße 3`:          {Antenna: `a\x1b`, Placement: "Straße 3"},
		`loop@"a\u202eb":110`:     {Antenna: "loop", Placement: "a\u202eb", Bearing: BearingOf(110)},
	} {
		if got := s.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
		if back, err := ParseSetup(want); err != nil || back != s {
			t.Errorf("%s is read as %+v (%v)", want, back, err)
		}
	}
}

// As a person types it, in more ways than it is printed; what cannot be read is named.
func TestSetupsAsTyped(t *testing.T) {
	for text, want := range map[string]Setup{
		"loop":              {Antenna: "loop"},
		"loop@loft:040":     {Antenna: "loop", Placement: "loft", Bearing: BearingOf(40)},
		"loop@loft:40°":     {Antenna: "loop", Placement: "loft", Bearing: BearingOf(40)},
		"loop@box:2:110":    {Antenna: "loop", Placement: "box:2", Bearing: BearingOf(110)},
		`"loft" whip@attic`: {Antenna: `"loft" whip`, Placement: "attic"},
		`"loop"@"loft":40`:  {Antenna: "loop", Placement: "loft", Bearing: BearingOf(40)},
		"loop@room 40°":     {Antenna: "loop", Placement: "room 40°"},
	} {
		if got, err := ParseSetup(text); err != nil || got != want {
			t.Errorf("%q: %+v, %v; want %+v", text, got, err, want)
		}
	}
	for text, want := range map[string]string{
		"": "no antenna", "@loft": "no antenna", "loop@": "no placement", "loop@:40": "no placement",
		"loop@loft:": "bearing", "loop@loft:north": "bearing", "loop@loft:360": "bearing", "loop@loft:-1": "bearing", "loop@loft:nan": "bearing",
	} {
		if got, err := ParseSetup(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %+v, %v; want %q", text, got, err, want)
		}
	}
}

// What is printed of random setups is safe to print and read back as what it is; cut, it still
// finds it.
func TestSetupsAreReadAsPrinted(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	letters := []string{"a", "b", "loop", " ", "@", ":", `"`, `\`, "°", "–", "ß", "環", "é", "\x1b[31m", "\n", "\u202e", "\xff", "\ufffd", "…", "4", "40", "'", "$"}
	name := func() string {
		var b strings.Builder
		for range 1 + rng.IntN(20) {
			b.WriteString(letters[rng.IntN(len(letters))])
		}
		return b.String()
	}
	for range 2000 {
		s := Setup{Antenna: name(), Placement: name()}
		if rng.IntN(2) == 0 {
			s.Bearing = BearingOf(rng.Float64() * 360)
		}
		text := s.String()
		if !utf8.ValidString(text) || strings.ContainsFunc(text, unicode.IsControl) || strings.Contains(text, "\u202e") {
			t.Fatalf("%+q is not safe to print", text)
		}
		if back, err := ParseSetup(text); err != nil || back != s {
			t.Fatalf("%s is read as %+v (%v), not %+v", text, back, err, s)
		}
		room := 16 + rng.IntN(30)
		short := s.Short(room)
		if back, err := ParseSetup(short); err != nil || !s.Matches(back) {
			t.Fatalf("%s, cut to %s, is read as %+v (%v)", text, short, back, err)
		}
	}
}

// Names are cut where a table has no room, the longer one first; bearing and state are not.
func TestSetupsInLittleRoom(t *testing.T) {
	long := Setup{Antenna: "long wire under the roof", Placement: "attic", Bearing: BearingOf(110)}
	peaked := Setup{Antenna: "tall magnetic loop (repeaked 3 Nov 15.04 UTC)", Placement: "the loft", State: State{"tall magnetic loop", "15.04"}}
	other := Setup{Antenna: "tall magnetic loop (repeaked 3 Nov 18.20 UTC)", Placement: "the loft", State: State{"tall magnetic loop", "18.20"}}
	for _, test := range []struct {
		setup Setup
		room  int
		want  string
	}{
		{long, 40, "long wire under the roof@attic:110"},
		{long, 28, "long wire u…e roof@attic:110"},
		{peaked, 60, "tall magnetic loop (repeaked 3 Nov 15.04 UTC)@the loft"},
		{peaked, 40, "tall magnetic loop (15.04)@the loft"},
		{peaked, 28, "tall m…loop (15.04)@the loft"},
		{peaked, 3, "ta…p (15.04)@th…t"},
	} {
		got := test.setup.Short(test.room)
		if got != test.want {
			t.Errorf("in %d: %s, want %s", test.room, got, test.want)
		}
		if p, err := ParseSetup(got); err != nil || !test.setup.Matches(p) {
			t.Errorf("%s does not find its setup: %+v, %v", got, p, err)
		}
		if p, _ := ParseSetup(got); test.setup == peaked && test.room < 60 && other.Matches(p) {
			t.Errorf("%s finds another state, too", got)
		}
	}
}

// A name as long as a damaged database may have it takes no time.
func TestVeryLongNames(t *testing.T) {
	s := Setup{Antenna: strings.Repeat("loopx", 1<<18), Placement: strings.Repeat("ö", 1<<20)}
	for range 10 { // a table
		if short := s.Short(28); short != "loopxloo…oopx@öööööööö…ööööö" {
			t.Fatal(short)
		}
	}
}
