package text

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"nightfloor/reports/reporttest"
)

// wide is a table of 12 columns of figures, of which each is there once.
func wide(rng *rand.Rand, spare ...string) (*Table, []string) {
	heading := []string{"setup"}
	for i := range 12 {
		heading = append(heading, fmt.Sprintf("column %d", i))
	}
	t := NewTable(1, heading...).Spare(spare...)
	var figures []string
	for i := range 3 {
		row := []any{fmt.Sprintf("wire %d", i)}
		for range 12 {
			figure := fmt.Sprint(rng.IntN(1e9))
			row, figures = append(row, figure), append(figures, figure)
		}
		t.Row(row...)
	}
	return t, figures
}

// However narrow the lines, each figure of a column that is not spare is there, whole and once, and
// its row's name stands before it.
func TestTableFolds(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for width := 24; width <= 200; width++ {
		table, figures := wide(rng)
		b := Sheet{Width: width}
		b.Table(table)
		var words []string
		for line := range strings.Lines(b.String()) {
			if n := utf8.RuneCountInString(strings.TrimRight(line, "\n")); n > width {
				t.Errorf("width %d: a line of %d", width, n)
			}
			if !strings.HasPrefix(line, "  wire ") && !strings.HasPrefix(line, "  setup") {
				t.Errorf("width %d: no name before %q", width, line)
			}
			words = append(words, strings.Fields(line)...)
		}
		for _, f := range figures {
			if n := len(slices.DeleteFunc(slices.Clone(words), func(w string) bool { return w != f })); n != 1 {
				t.Errorf("width %d: %s stands there %d times", width, f, n)
			}
		}
	}
}

// Spare columns go one by one, only where there is no room, and it is said which.
func TestTableGoesWithoutSpareColumns(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	for width := 60; width <= 200; width++ {
		table, _ := wide(rng, "column 7", "column 2")
		b := Sheet{Width: width}
		b.Table(table)
		all := 0
		for _, w := range table.widths() {
			all += w
		}
		without7, without2 := !strings.Contains(b.String(), "column 7"), !strings.Contains(b.String(), "column 2")
		narrow := all > width
		less := all-table.widths()[8] > width
		b.sayLeftOut()
		if without7 != narrow || without2 != less || strings.Contains(b.String(), "Left out") != narrow ||
			less && !strings.Contains(strings.Join(strings.Fields(b.String()), " "), "column 7 and column 2") {
			t.Errorf("%d of %d: without 7 %v, without 2 %v:\n%s", width, all, without7, without2, b.String())
		}
	}
}

// 120 columns hold all, and more of the names.
func TestWideScreenShowsAll(t *testing.T) {
	r := sampleReport(t)
	for _, test := range []struct {
		answer any
		longer string // what only 120 columns hold of a name
	}{{r.Rank, `"wire\x1b[31m"@under the stair…`}, {r.Floor, `"wire\x1b[31m"@under the stairs of… neighbour:40`}, {spun(), ""}} {
		var at100, at120, at80 bytes.Buffer
		for width, b := range map[int]*bytes.Buffer{80: &at80, 100: &at100, 120: &at120} {
			if err := WriteTable(b, test.answer, reporttest.Zone, width); err != nil {
				t.Fatal(err)
			}
		}
		if strings.Contains(at120.String(), "Left out") || strings.Contains(at100.String(), "Left out") {
			t.Errorf("%T leaves something out", test.answer)
		}
		if test.longer != "" && (!strings.Contains(at120.String(), test.longer) || strings.Contains(at100.String(), test.longer)) {
			t.Errorf("no more of a name in\n%s", at120.String())
		}
	}
}

func TestFold(t *testing.T) {
	const width = 30
	for in, want := range map[string]string{
		"the level of a carrier −98.21 ± 0.08 dBFS/Hz, ≈ 3 dB\n": "the level of a carrier\n−98.21 ± 0.08 dBFS/Hz, ≈ 3 dB\n",
		"short\n":                                             "short\n",
		"a line of words that is too long\n":                  "a line of words that is too\nlong\n",
		"  indented words that are too long\n":                "  indented words that are too\n  long\n",
		"! a doubt that takes more than a line\n":             "! a doubt that takes more than\n  a line\n",
		"  --db file   the database that is meant\n":          "  --db file   the database\n              that is meant\n",
		"  --a-very-long-name-of-a-flag   what it is for\n":   "  --a-very-long-name-of-a-flag\n  what it is for\n",
		"two lines\nof which the second is too long for it\n": "two lines\nof which the second is too\nlong for it\n",
		"/a/path/that/is/longer/than/a/line is whole\n":       "/a/path/that/is/longer/than/a/line\nis whole\n",
	} {
		if got := Fold(in, width); got != want {
			t.Errorf("%q:\n got %q\nwant %q", in, got, want)
		}
	}
}

func TestFlow(t *testing.T) {
	in := "A paragraph\nof two lines.\n\n  word    what it means,\n          and more\n  other   else\n\n    nightfloor one\n    nightfloor two\n"
	want := "A paragraph of two lines.\n\n  word    what it means, and more\n  other   else\n\n    nightfloor one\n    nightfloor two"
	if got := Flow(in); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// Where a table of several lines a row is folded, a part whose cells have fewer lines has no empty ones.
func TestFoldedLines(t *testing.T) {
	b := Sheet{Width: 24}
	table := NewTable(1, "name", "first column", "second column").Prose()
	table.Lines("row", []string{"one", "two", "three"}, []string{"one"})
	b.Table(table)
	if want := "  name  first column\n  row   one\n        two\n        three\n  name  second column\n  row   one\n"; b.String() != want {
		t.Errorf("got\n%swant\n%s", b.String(), want)
	}
}
