package plan

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"nightfloor/survey"
)

// manyOf gives a plan of n pieces and something to measure.
func manyOf(n int, piece func(i int) string) []byte {
	var b strings.Builder
	b.WriteString("[receiver]\nuri = \"rtlsdr:\"\nfront_end = \"built-in up-converter\"\n[change]\nby = \"person\"\n[[segment]]\nband = \"31 m\"\n")
	for i := range n {
		b.WriteString(piece(i))
	}
	return []byte(b.String())
}

func TestBoundsOfPlans(t *testing.T) {
	long := strings.Repeat("ä", 50_000)
	for what, test := range map[string]struct{ text, want string }{
		"too large":     {strings.Repeat("# more\n", MostBytes/7+1), "more than 1 MB"},
		"cut off":       {"\ufeff" + strings.Repeat("# more\n", MostBytes/7+1)[:MostBytes-2], "more than 1 MB"}, // as reading stops at one byte more
		"binary":        {"title = \"x\"\n\x00\x01\x02\xff", "line 2: holds bytes that no text has"},
		"escape codes":  {"title = \"\x1b[2J\"\n", "line 1: holds bytes that no text has"},
		"another code":  {"title = \"Stra\xdfe\"\n", "Save it as plain text in UTF-8"},
		"long line":     {long + "\n", "put # before a remark"},
		"long name":     {"[[antenna]]\nname = \"" + long + "\"\n", "add a [[setup]] with it, or leave it out"},
		"many segments": {string(manyOf(200, func(i int) string { return fmt.Sprintf("[[segment]]\nlow=\"%dkHz\"\nhigh=\"%dkHz\"\n", 5000+i, 5001+i) })), "more than 100 segments"},
		"many mistakes": {string(manyOf(5000, func(int) string { return "[[setup]]\nplacement=\"p\"\n" })), "and 4,900 mistakes more"},
	} {
		_, err := Parse([]byte(test.text))
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: no %q in %.2000v", what, test.want, err)
			continue
		}
		lines := strings.Split(err.Error(), "\n")
		longest := slices.MaxFunc(lines, func(a, b string) int { return len(a) - len(b) })
		if len(lines) > mostNamed+1 || len(longest) > mostSaid+len("line 1000000: ") || !utf8.ValidString(longest) {
			t.Errorf("%s: %d lines, the longest of %d bytes: %.2000s", what, len(lines), len(longest), longest)
		}
	}
}

// A list may take more lines than are looked through for the end of one that is broken.
func TestListOfManyLines(t *testing.T) {
	var list []string
	for deg := range 360 {
		list = append(list, fmt.Sprint(deg))
	}
	p, err := Parse([]byte("[[segment]]\nband=\"31 m\"\n[[setup]]\nantenna=\"loop\"\nplacement=\"loft\"\nbearings = [\n" + strings.Join(list, ",\n") + "\n]\n"))
	if err != nil || len(p.Setups) != 360 {
		t.Errorf("%d setups: %v", len(p.Setups), err)
	}
}

// Segments are counted per antenna: of three setups and two segments one is tuned away from one.
func TestReadingsOfTunedAntennas(t *testing.T) {
	p := Plan{Setups: []survey.Setup{{Antenna: "whip"}, {Antenna: "loop"}, {Antenna: "loop", Placement: "loft"}}, Sweeps: 2, Rounds: 5, Dwell: time.Second,
		Antennas: []survey.Antenna{{Name: "loop", TunedLow: 5e6, TunedHigh: 7e6}}, Segments: []survey.Segment{{Low: 5.9e6, High: 6.2e6}, {Low: 9.4e6, High: 9.9e6}}}
	if o := p.Outlook(2, 0); o.Readings != 2*5*(2+1+1) {
		t.Errorf("%d readings, want 40", o.Readings)
	}
}
