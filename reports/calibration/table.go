package calibration

import (
	"slices"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A grid is a table with a row for each gain.
type grid struct {
	columns []string
	gains   []survey.DB
	cells   map[survey.DB]map[string]string
}

func newGrid() *grid { return &grid{cells: map[survey.DB]map[string]string{}} }

func (g *grid) put(gain survey.DB, column, cell string) {
	if g.cells[gain] == nil {
		g.gains, g.cells[gain] = append(g.gains, gain), map[string]string{}
	}
	if !slices.Contains(g.columns, column) {
		g.columns = append(g.columns, column)
	}
	g.cells[gain][column] = cell
}

func (g *grid) write(b *strings.Builder) {
	heading := []any{"gain, dB"}
	for _, c := range g.columns {
		heading = append(heading, wording.Printable(c))
	}
	t := plainTable(heading...)
	slices.Sort(g.gains)
	for _, gain := range g.gains {
		row := table.Row{wording.Number(float64(gain), 1)}
		for _, c := range g.columns {
			row = append(row, g.cells[gain][c])
		}
		t.AppendRow(row)
	}
	writeTable(b, t)
}

// plainTable gives a table without frames, the first column to the left.
func plainTable(heading ...any) table.Writer {
	t := table.NewWriter()
	style := table.StyleDefault
	style.Box.PaddingLeft, style.Box.PaddingRight = "  ", ""
	style.Options = table.OptionsNoBordersAndSeparators
	style.Format.Header, style.Format.HeaderAlign = text.FormatDefault, text.AlignDefault
	t.SetStyle(style)
	t.AppendHeader(table.Row(heading))
	var columns []table.ColumnConfig
	for i := range heading {
		align := text.AlignRight
		if i == 0 {
			align = text.AlignLeft
		}
		columns = append(columns, table.ColumnConfig{Number: i + 1, Align: align, AlignHeader: align})
	}
	t.SetColumnConfigs(columns)
	return t
}

// writeTable prints a table without the spaces at the end of its lines.
func writeTable(b *strings.Builder, t table.Writer) {
	for line := range strings.Lines(t.Render() + "\n") {
		b.WriteString(strings.TrimRight(line, " \n") + "\n")
	}
}
