package text

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"nightfloor/reports/wording"
)

// Width is how many characters a line has where no terminal says otherwise. It holds every column
// of every table, with setups named in wording.SetupRoom characters.
const Width = 100

// widestProse is how long lines of sentences are at most: longer ones are hard to read.
const widestProse = 98

// A Sheet collects lines for a person to read, no longer than Width characters. A longer word, such
// as a path, stays whole on a line of its own.
type Sheet struct {
	strings.Builder
	Width   int
	leftOut []string // headings of the columns that the width had no room for
}

// sayLeftOut says which columns the tables went without.
func (b *Sheet) sayLeftOut() {
	if len(b.leftOut) > 0 {
		b.WriteString("\n")
		b.Wrap(fmt.Sprintf("Left out, since a line holds %d characters: %s. %d hold all.", b.Width, wording.List(b.leftOut), Width), "", "")
	}
}

// Wrap breaks a text into lines, the first and the others indented.
func (b *Sheet) Wrap(words, first, rest string) {
	b.WriteString(wrap(words, first, rest, min(b.Width, widestProse)))
}

// Paragraphs breaks each line of a text into lines.
func (b *Sheet) Paragraphs(text string) {
	for line := range strings.Lines(text) {
		b.Wrap(line, "", "")
	}
}

// unparted matches what stays in one line: a word, or a figure with its sign, its interval and its unit.
var unparted = regexp.MustCompile(`((≈|<|>|±) )?\S+( (±|…) \S+)?( (%|(dB\w*|[kM]?Hz|s|min|h|m|MB)\b)\S*)?`)

func wrap(words, first, rest string, width int) string {
	text, line := "", first
	for i, word := range unparted.FindAllString(strings.Join(strings.Fields(words), " "), -1) {
		switch {
		case i == 0:
			line += word
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > width:
			text, line = text+line+"\n", rest+word
		default:
			line += " " + word
		}
	}
	return text + line + "\n"
}

// Flow joins the lines of each paragraph of a text, so that Fold breaks it anew. A line that is indented
// begins a paragraph, but not one that goes on below the second column of a list.
func Flow(text string) string {
	var b strings.Builder
	paragraph := ""
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, " \n")
		column := utf8.RuneCountInString(margin.FindString(paragraph)) // where its sentence begins
		if paragraph != "" && line != "" && indent(line) == column && (column == 0 || column > indent(paragraph)) {
			paragraph += " " + strings.TrimLeft(line, " ")
			continue
		}
		if b.WriteString(paragraph); b.Len() > 0 {
			b.WriteString("\n")
		}
		paragraph = line
	}
	return b.String() + paragraph
}

func indent(line string) int { return len(line) - len(strings.TrimLeft(line, " ")) }

// margin matches what stands before the sentence of a line: its indent, a mark, and columns that two
// spaces and more set apart.
var margin = regexp.MustCompile(`^ *(! |\S+( \S+)* {2,})?`)

// Fold breaks the lines of a text that are longer than width, below the column in which their
// sentence begins.
func Fold(text string, width int) string {
	var b strings.Builder
	for line := range strings.Lines(text) {
		if utf8.RuneCountInString(strings.TrimRight(line, "\n")) <= width {
			b.WriteString(line)
			continue
		}
		first := margin.FindString(line)
		if utf8.RuneCountInString(first) > width/2 {
			first = first[:indent(first)]
		}
		b.WriteString(wrap(line[len(first):], first, strings.Repeat(" ", utf8.RuneCountInString(first)), width))
	}
	return b.String()
}

// setupRoom is how many characters name a setup in a table.
func (b *Sheet) setupRoom() int { return wording.SetupRoom + min(max(b.Width-Width, -2), 30) }

// A Table has a heading and rows. Its first columns are left-aligned, and stand beside the others
// wherever these are too many for one line.
type Table struct {
	heading []string
	left    int
	prose   bool
	spare   []string
	rows    [][]string
}

// NewTable gives a table without rows.
func NewTable(left int, heading ...string) *Table { return &Table{heading: heading, left: left} }

// Spare names columns that narrow lines do without, the first to go first.
func (t *Table) Spare(headings ...string) *Table {
	t.spare = headings
	return t
}

// Prose has all columns left-aligned: they hold words.
func (t *Table) Prose() *Table {
	t.prose = true
	return t
}

// Lines adds a row of cells that have several lines each, its name in front of the first.
func (t *Table) Lines(name string, cells ...[]string) {
	for i := 0; ; i++ {
		row, more := make([]any, len(cells)), false
		for k, c := range cells {
			row[k] = ""
			if i < len(c) {
				row[k], more = c[i], true
			}
		}
		if !more {
			return
		}
		t.Row(append([]any{name}, row...)...)
		name = ""
	}
}

// Row adds a row.
func (t *Table) Row(cells ...any) {
	row := make([]string, len(cells))
	for i, c := range cells {
		row[i] = fmt.Sprint(c)
	}
	t.rows = append(t.rows, row)
}

// Drop takes columns out.
func (t *Table) Drop(is func(column int) bool) {
	kept := func(row []string) (cells []string) {
		for k, cell := range row {
			if !is(k) {
				cells = append(cells, cell)
			}
		}
		return cells
	}
	for i, row := range t.rows {
		t.rows[i] = kept(row)
	}
	t.heading = kept(t.heading)
}

// gap is what stands between two columns, and before the first.
const gap = "  "

// widths gives the width of each column, the gap before it included.
func (t *Table) widths() []int {
	all := make([]int, len(t.heading))
	for i, cell := range t.heading {
		all[i] = text.StringWidthWithoutEscSequences(cell)
		for _, row := range t.rows {
			all[i] = max(all[i], text.StringWidthWithoutEscSequences(row[i]))
		}
		all[i] += len(gap)
	}
	return all
}

// Table prints a table without frames. Where it is too wide it goes without its spare columns, and what
// is too wide still is folded: below each other stand parts of it, no figure cut.
func (b *Sheet) Table(t *Table) {
	widths := t.widths()
	total := func(columns []int) (sum int) {
		for _, i := range columns {
			sum += widths[i]
		}
		return sum
	}
	var columns []int
	for i := range t.heading {
		columns = append(columns, i)
	}
	for _, name := range t.spare {
		if total(columns) <= b.Width {
			break
		}
		columns = slices.DeleteFunc(columns, func(i int) bool { return t.heading[i] == name })
		if !slices.Contains(b.leftOut, name) {
			b.leftOut = append(b.leftOut, name)
		}
	}
	keys, part := columns[:t.left], slices.Clone(columns[:t.left])
	for _, i := range columns[t.left:] {
		if len(part) > t.left && total(part)+widths[i] > b.Width {
			b.columns(t, part)
			part = slices.Clone(keys)
		}
		part = append(part, i)
	}
	b.columns(t, part)
}

// columns prints some columns of a table, without the spaces at the end of lines.
func (b *Sheet) columns(t *Table, some []int) {
	w := table.NewWriter()
	style := table.StyleDefault
	style.Box.PaddingLeft, style.Box.PaddingRight = gap, ""
	style.Options = table.OptionsNoBordersAndSeparators
	style.Format.Header, style.Format.Footer = text.FormatDefault, text.FormatDefault
	style.Format.HeaderAlign = text.AlignDefault
	w.SetStyle(style)
	pick := func(row []string) (cells table.Row) {
		for _, i := range some {
			cells = append(cells, row[i])
		}
		return cells
	}
	w.AppendHeader(pick(t.heading))
	for _, row := range t.rows {
		w.AppendRow(pick(row))
	}
	var aligned []table.ColumnConfig
	for i := range some {
		align := text.AlignRight
		if i < t.left || t.prose {
			align = text.AlignLeft
		}
		aligned = append(aligned, table.ColumnConfig{Number: i + 1, Align: align, AlignHeader: align})
	}
	w.SetColumnConfigs(aligned)
	for line := range strings.Lines(w.Render()) {
		if line = strings.TrimRight(line, " \n"); line != "" { // of a row of several lines, some of whose cells have more
			b.WriteString(line + "\n")
		}
	}
}
