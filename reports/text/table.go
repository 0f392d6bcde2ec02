package text

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
)

const simulatedNote = "SIMULATED: made in the simulated house; the figures say nothing of any real antenna."

// WriteTable prints a Rank, a FloorTable, Bearings, NoiseSources or a Quality for a person
// to read, times in the given zone. It panics on another type.
func WriteTable(w io.Writer, answer any, zone *time.Location) error {
	var b strings.Builder
	switch r := answer.(type) {
	case result.Rank:
		document(&b, r.Simulated, nil, func() { rankTable(&b, r) })
	case result.FloorTable:
		document(&b, r.Simulated, r.Doubts, func() { floorTable(&b, r, zone) })
	case result.Bearings:
		document(&b, r.Simulated, r.Doubts, func() { bearingsTable(&b, r) })
	case result.NoiseSources:
		document(&b, r.Simulated, r.Doubts, func() { noiseTable(&b, r, zone) })
	case result.Quality:
		qualityTable(&b, r, zone)
	default:
		panic(fmt.Sprintf("text: no table of a %T", answer))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// document prints what content prints and the doubts below it, above and below all of it that
// it is simulated.
func document(b *strings.Builder, simulated bool, doubts []doubt.Doubt, content func()) {
	if simulated {
		b.WriteString(simulatedNote + "\n\n")
	}
	content()
	if len(doubts) > 0 {
		b.WriteString("\n")
		writeDoubts(b, "", doubts)
	}
	if simulated {
		b.WriteString("\n" + simulatedNote + "\n")
	}
}

// NewTable gives a table without frames, its heading as it is written, all but the
// first left columns right-aligned.
func NewTable(left int, heading ...any) table.Writer {
	t := table.NewWriter()
	style := table.StyleDefault
	style.Box.PaddingLeft, style.Box.PaddingRight = "  ", ""
	style.Options = table.OptionsNoBordersAndSeparators
	style.Format.Header, style.Format.Footer = text.FormatDefault, text.FormatDefault
	style.Format.HeaderAlign = text.AlignDefault
	t.SetStyle(style)
	t.AppendHeader(table.Row(heading))
	var columns []table.ColumnConfig
	for i := range heading {
		align := text.AlignRight
		if i < left {
			align = text.AlignLeft
		}
		columns = append(columns, table.ColumnConfig{Number: i + 1, Align: align, AlignHeader: align})
	}
	t.SetColumnConfigs(columns)
	return t
}

// Render prints the table without the spaces at the end of its lines.
func Render(b *strings.Builder, t table.Writer) {
	for line := range strings.Lines(t.Render() + "\n") {
		b.WriteString(strings.TrimRight(line, " \n") + "\n")
	}
}

// A Grid is a table of cells, its rows and columns in the order in which they came.
type Grid[R, C comparable] struct {
	Rows    []R
	Missing string // written where no cell was set
	columns []C
	cells   map[R]map[C]string
}

// Put sets a cell.
func (g *Grid[R, C]) Put(row R, column C, cell string) {
	if g.cells == nil {
		g.cells = map[R]map[C]string{}
	}
	if g.cells[row] == nil {
		g.Rows, g.cells[row] = append(g.Rows, row), map[C]string{}
	}
	if !slices.Contains(g.columns, column) {
		g.columns = append(g.columns, column)
	}
	g.cells[row][column] = cell
}

// Write prints the grid, at most so many columns beside each other.
func (g *Grid[R, C]) Write(b *strings.Builder, corner string, most int, rowName func(R) string, columnName func(C) string) {
	for some := range slices.Chunk(g.columns, max(1, most)) {
		heading := []any{corner}
		for _, c := range some {
			heading = append(heading, columnName(c))
		}
		t := NewTable(1, heading...)
		for _, r := range g.Rows {
			row := table.Row{rowName(r)}
			for _, c := range some {
				row = append(row, cmp.Or(g.cells[r][c], g.Missing))
			}
			t.AppendRow(row)
		}
		Render(b, t)
	}
}

// runs parts a list wherever two neighbours are not the same.
func runs[T any](list []T, same func(a, b *T) bool) (parts [][]T) {
	start := 0
	for i := range list {
		if i+1 == len(list) || !same(&list[i], &list[i+1]) {
			parts = append(parts, list[start:i+1])
			start = i + 1
		}
	}
	return parts
}

func writeDoubts(b *strings.Builder, indent string, doubts []doubt.Doubt) {
	for _, d := range doubts {
		writeDoubt(b, indent, d.String())
	}
}

func writeDoubt(b *strings.Builder, indent, sentence string) {
	b.WriteString(wrap(wording.Printable(sentence), indent+"! ", indent+"  "))
}

// wrap breaks a text into lines of at most 98 characters, the first and the others indented.
func wrap(words, first, rest string) string {
	const width = 98
	text, line := "", first
	for i, word := range strings.Fields(words) {
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
