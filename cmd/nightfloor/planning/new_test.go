package planning

import (
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"nightfloor/survey/plan"
)

// unedited gives the plan of somebody who chooses nothing.
func unedited(t *testing.T) string {
	t.Helper()
	text, err := usual().text()
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// What plan new writes passes plan check without a doubt, and is not written over.
func TestNewPlanIsRight(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plan.toml")
	if said, err := command("new", path); err != nil || !strings.Contains(said, "24 rounds of 2 setups in 48.6 min") || !strings.Contains(said, "plan check") ||
		!strings.Contains(said, "locator JO32kh is an example") || !strings.Contains(said, `front_end = "built-in up-converter" is right only for`) {
		t.Fatalf("%v: %s", err, said)
	}
	out, err := command("check", path)
	if err != nil {
		t.Fatal(err)
	}
	// 4 segments of which none shares a tuning: 2.2 s a sweep; 14 of them listen for 30.8 s,
	// and a change by hand takes half a minute. 24 · 2 of these 60.8 s are 48.6 min.
	for _, want := range []string{"2 setups, 4 segments in 4 tunings, readings of 500ms", "a sweep takes 2.2 s, a visit 1.0 min, a round 2.0 min", "24 rounds in 48.6 min", "2.8 min of listening", "for each change by hand", " MB", "±1 dB takes 13 and 6"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	if strings.Contains(out, "!") {
		t.Errorf("doubts about our own plan:\n%s", out)
	}
	if err := os.WriteFile(path, []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, refused := command("new", path)
	if text, err := os.ReadFile(path); refused == nil || !strings.Contains(refused.Error(), "left as it is") || err != nil || string(text) != "mine" {
		t.Errorf("%v, %v", refused, err)
	}
	_, forced := command("new", "--force", path)
	if text, err := os.ReadFile(path); forced != nil || err != nil || string(text) != unedited(t) {
		t.Errorf("by force: %v, %v", forced, err)
	}
}

// Each kind of dongle, by each way of changing: a plan that listens for half a minute a visit, gives an
// interval, and fits an evening by hand or a night by a machine; with no doubts but those that only its owner
// can settle: what the dongle lacks, and a program that is not there yet.
func TestNewPlans(t *testing.T) {
	const image, fm, wave, steps, program = "direct sampling hears 28.8 MHz", "FM broadcasters fold in", "nothing keeps medium wave out", "without an amplifier", "there is no program"
	lacks := map[string][]string{builtIn: nil, upConverter: {wave}, plain: {image, fm, wave, steps}}
	for dongle, expected := range lacks {
		for _, by := range changers {
			for rooms, longest := range map[string]time.Duration{"study": 9 * time.Hour, "study, loft": 9 * time.Hour, "study,loft,garden": 9 * time.Hour} {
				o := usual()
				o.by, o.dongle, o.rooms = by, dongle, strings.Split(rooms, ",")
				name := by + ", " + dongle + ", " + rooms
				if err := o.check(); (err != nil) != (by == byRotator && rooms != "study") {
					t.Errorf("%s: %v", name, err)
				} else if err != nil {
					continue
				}
				text, err := o.text()
				if err != nil {
					t.Fatal(err)
				}
				p, err := plan.Parse([]byte(text))
				if err != nil {
					t.Fatalf("%s: %v", name, err)
				}
				want := expected
				if by != byPerson {
					want = append(want[:len(want):len(want)], program)
				} else {
					longest = 160 * time.Minute // in three rooms, of which two minutes a move
				}
				outlook := p.Outlook(4, 0)
				doubts := p.Doubts(outlook, 0)
				for i, doubt := range doubts {
					if i >= len(want) || !strings.Contains(doubt, want[i]) {
						t.Errorf("%s: %s", name, doubt)
					}
				}
				if listens := time.Duration(p.Sweeps) * outlook.Sweep; len(doubts) != len(want) || listens < 30*time.Second || outlook.Visit > outlook.Busy || p.Rounds < 12 || outlook.Total > longest {
					t.Errorf("%s: %d doubts, a visit listens for %v, %+v", name, len(doubts), listens, outlook)
				}
				if rooms == "study" && outlook.Total < map[bool]time.Duration{true: 45 * time.Minute, false: 7 * time.Hour}[by == byPerson] {
					t.Errorf("%s: %v in all", name, outlook.Total)
				}
				if !maps.Equal(keysIn(text), keysIn(unedited(t))) {
					t.Errorf("%s: keys of the plan for all are missing, or others there", name)
				}
			}
		}
	}
}

// Remarks stand below each other, and tables apart, whatever is chosen.
func TestNewPlanIsInOrder(t *testing.T) {
	o := usual()
	o.rooms = []string{"study", "loft"}
	text, err := o.text()
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(text) {
		if at := strings.LastIndex(line, " # "); at != 29 && regexp.MustCompile(`^(# )?[a-z_]+ = .* # `).MatchString(line) {
			t.Errorf("a remark in column %d: %s", at+1, line)
		}
		if utf8.RuneCountInString(line) > 100 {
			t.Errorf("wider than a window of 100 columns: %s", line)
		}
	}
	if strings.Contains(text, "bearings = [20]\n[[setup]]") {
		t.Errorf("setups without a line between:\n%s", text)
	}
	if !strings.Contains(text, "6 are the least for an interval, 12 and more give a good one") || !strings.Contains(text, "an example") {
		t.Error(text)
	}
}

// keysIn gives the keys in a plan, with their tables, remarks included.
func keysIn(text string) map[string]bool {
	keys, table := map[string]bool{}, ""
	for line := range strings.Lines(text) {
		line = strings.TrimLeft(strings.TrimSpace(line), "# ")
		if strings.HasPrefix(line, "[") {
			table = strings.Trim(strings.Fields(line)[0], "[]")
		}
		if key := regexp.MustCompile(`^[a-z_]+ = `).FindString(line); key != "" {
			keys[table+"."+key] = true
		}
	}
	return keys
}

// What flags say stands in the plan; what cannot be is refused as wrong usage, and nothing is written.
func TestNewPlanByFlags(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plan.toml")
	said, err := command("new", path, "--by", "relay", "--dongle", "up-converter", "--offset", "120MHz", "--room", "study", "--room", "north attic", "--command", "/opt/relay", "--locator", "FN31pr")
	if err != nil || !strings.Contains(said, "119 rounds of 4 setups in 8.0 h") {
		t.Fatalf("%v: %s", err, said)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Parse(text)
	if err != nil || p.FrontEnd.Offset != 120e6 || p.Change.Command[0] != "/opt/relay" || p.Site.Locator != "FN31pr" || p.Setups[3].String() != "loop@north attic:20" {
		t.Errorf("%v: %+v", err, p)
	}
	if said, err := command("new", path, "--force", "--dongle", "plain"); err != nil || !strings.Contains(said, "a plain dongle hears nothing in direct sampling without a tap") || strings.Contains(said, "up-converter") {
		t.Errorf("%v: %s", err, said)
	}
	if said, err := command("new", path, "--force", "--by", "relay", "--room", "1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16,17,18,19"); err != nil || !strings.Contains(said, "12 rounds of 38 setups in 7.7 h") {
		t.Errorf("%v: %s", err, said)
	}
	none := filepath.Join(t.TempDir(), "none.toml")
	for want, flags := range map[string][]string{
		`"valet" is not known; choose person, relay or rotator`:                            {"--by", "valet"},
		`"cheap" is not known; choose built-in, up-converter or plain`:                     {"--dongle", "cheap", "--offset", "125MHz"},
		"5 MHz is no up-converter's: the tuner hears shortwave above 24.1 MHz to 1720 MHz": {"--dongle", "up-converter", "--offset", "5MHz"},
		"1740 MHz is no up-converter's: the tuner hears shortwave above 24.1 MHz to":       {"--dongle", "up-converter", "--offset", "1740MHz"},
		"--offset is that of an up-converter; add --dongle up-converter":                   {"--offset", "125MHz"},
		"--command switches a relay; add --by relay":                                       {"--command", "/opt/relay"},
		"command: no program is named; name one":                                           {"--by", "relay", "--command", "  "},
		`command "a\nb": a name is printable`:                                              {"--by", "relay", "--command", "a\nb"},
		"a rotator turns an antenna where it stands; name one room":                        {"--by", "rotator", "--room", "study,loft"},
		"room study is named twice":                                                        {"--room", "study, study"},
		"4 rooms are 96 changes by hand; name 3, or choose relay":                          {"--room", "a,b,c,d"},
		"20 rooms take longer than a night of 8.0 h for 12 rounds; name 19 at most":        {"--by", "relay", "--room", "1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16,17,18,19,20"},
		`room "study@home": a name has letters, and neither @ nor a colon`:                 {"--room", "study@home"},
		`room "study\nloft": a name is printable`:                                          {"--room", "study\nloft"}, // not the study alone
		`room "aaaaaaaaaaaa`:          {"--room", strings.Repeat("a", 201)},
		`room "": a name has letters`: {"--room", ""},
		"locator":                     {"--locator", "nowhere"},
	} {
		_, err := command(append([]string{"new", none}, flags...)...)
		if _, there := os.Stat(none); err == nil || !strings.Contains(err.Error(), want) || there == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%v: %v, want %q", flags, err, want)
			os.Remove(none)
		}
	}
	for _, sub := range []string{"new", "check"} {
		if _, err := command(sub, ""); err == nil || err.Error() != sub+": a file's name is empty; name a file" {
			t.Errorf("%s: %v", sub, err)
		}
	}
}

// Rooms are named as they are called: with quotes, and at such length that the title cannot have them all.
func TestNewPlanNamesRooms(t *testing.T) {
	long := func(of string) string { return of + strings.Repeat("o", 90) }
	for _, rooms := range [][]string{{`the "den"`, "o'clock #1"}, {long("a"), long("b"), long("c")}} {
		path := filepath.Join(t.TempDir(), "plan.toml")
		if _, err := command("new", path, "--room", strings.Join(rooms, ", ")); err != nil {
			t.Error(err)
			continue
		}
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		p, err := plan.Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		for i, setup := range p.Setups {
			if setup.Placement != rooms[i/2] {
				t.Errorf("%v, want %q", setup, rooms[i/2])
			}
		}
	}
}

// Each suggestion of the new plan is right once the # before it is taken away.
func TestNewPlanSuggests(t *testing.T) {
	setup := func(antenna string, more ...string) []string {
		return append([]string{"[[setup]]", `antenna = "` + antenna + `"`, `placement = "study"`}, more...)
	}
	join := func(lines []string, more ...string) []string { return append(lines, more...) }
	for what, lines := range map[string][]string{
		"a relay":               {`by = "command"`, `command = ["/usr/local/bin/antenna-relay"]`, `confirm = ["/usr/local/bin/antenna-relay", "--tell"]`, `time_out = "10s"`},
		"a rotator":             {"[rotator]", `address = "127.0.0.1:4533"`, `antennas = ["loop"]`, "range = [0, 360]", "zero = 0", "tolerance = 3", `time_out = "2m"`},
		"crossed feed lines":    {"[halves]", `feed_lines = ["straight", "crossed"]`, `idle = "50 ohm"`, `chokes = "in"`},
		"a pause":               {`every = "5m"`},
		"the compass":           {"declination = 4.5", "magnetic_bearings = [16]"},
		"an active antenna":     {"active = true", `cable_loss = "0.5 dB"`, `amplifier = "12 dB"`, `antenna_factor = "12.5 dB"`},
		"a tuned antenna":       join([]string{"[[antenna]]", `name = "tuned loop"`, `kind = "loop"`, `tuned = "5.9MHz-6.2MHz"`}, setup("tuned loop")...),
		"a control":             setup("terminator"),
		"one at the receiver":   join([]string{"[[antenna]]", `name = "receiver terminator"`, `kind = "terminator"`, `at = "receiver"`}, setup("receiver terminator")...),
		"an element replaced":   join([]string{"[[antenna]]", `name = "whip dummy"`, `kind = "element replaced"`, `of = "whip"`}, setup("whip dummy")...),
		"an antenna by itself":  join([]string{"[[antenna]]", `name = "loop alone"`, `kind = "loop"`, `of = "loop"`, `removed = ["whip"]`}, setup("loop alone", "bearings = [20]")...),
		"a filter":              {`filter = "low-pass"`, `filter_rejection = "34 dB"`, `high_pass = "2 MHz"`, `clock_error = "1.5 ppm"`, "bias_tee = false"},
		"a filter of less":      {`filter = "low-pass"`, "[[segment]]", `band = "22 m"`, `filter_rejection = "8 dB"`},
		"an external converter": {`offset = "125 MHz"`},
		"a segment by name":     {"[[segment]]", `name = "time signals"`, `low = "9.99 MHz"`, `high = "10.01 MHz"`, `listed = ["9996 kHz", "10 MHz"]`},
		"a beacon":              {"[[segment]]", `band = "20 m amateur"`, `listed = ["14.1 MHz"]`},
		"a gain":                {"[[gain]]", `antenna = "whip"`, `placement = "study"`, `segment = "49 m"`, `gain = "20.7 dB"`},
	} {
		text := "\n" + unedited(t)
		switch what {
		case "a relay": // in place of the person
			text = strings.NewReplacer("\n[change]", "", "\nby = \"person\"", "", "\nremind = \"1m\"", "", "\npatience = \"10m\"", "", "\n# [change]", "\n[change]").Replace(text)
		case "a filter", "a filter of less":
			text = strings.Replace(text, "\nfront_end = \"built-in up-converter\"", "\nfront_end = \"direct sampling Q\"", 1)
		case "an external converter":
			text = strings.Replace(text, "\nfront_end = \"built-in up-converter\"", "\nfront_end = \"up-converter\"", 1)
		}
		if _, err := plan.Parse([]byte(uncommented(t, what, text, lines))); err != nil {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// uncommented takes the # from lines of a text that follow each other, from where the block of them is, if
// they are one.
func uncommented(t *testing.T, what, text string, lines []string) string {
	t.Helper()
	for _, line := range lines {
		if !strings.Contains(text, "\n# "+line) {
			t.Errorf("%s: the plan does not suggest %q", what, line)
		}
	}
	from := max(0, strings.Index(text, "\n# "+lines[0]))
	for at := from; at >= 0; { // the place from which all follow without a blank line between
		block, _, _ := strings.Cut(text[at+1:], "\n\n")
		whole := true
		for _, line := range lines {
			whole = whole && strings.Contains("\n"+block, "\n# "+line)
		}
		if whole {
			from = at
			break
		}
		next := strings.Index(text[at+1:], "\n# "+lines[0])
		if next < 0 {
			break
		}
		at += 1 + next
	}
	tail := text[from:]
	for _, line := range lines {
		tail = strings.Replace(tail, "\n# "+line, "\n"+line, 1)
	}
	return text[:from] + tail
}
