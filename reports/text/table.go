package text

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
)

// SimulatedNote stands over whatever was made of simulated data.
const SimulatedNote = "SIMULATED: made in the simulated house; the figures say nothing of any real antenna."

// WriteTable prints a Rank, a FloorTable, Bearings, NoiseSources or a Quality for a person
// to read, on a screen so many characters wide, times in the given zone. It panics on another type.
func WriteTable(w io.Writer, answer any, zone *time.Location, width int) error {
	b := Sheet{Width: width}
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
		simulated := slices.ContainsFunc(r.Surveys, func(s result.QualitySurvey) bool { return s.Simulated })
		document(&b, simulated, nil, func() { qualityTable(&b, r, zone) })
	default:
		panic(fmt.Sprintf("text: no table of a %T", answer))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// document prints what content prints and the doubts below it, above and below all of it that
// it is simulated.
func document(b *Sheet, simulated bool, doubts []doubt.Doubt, content func()) {
	if simulated {
		b.Wrap(SimulatedNote, "", "")
		b.WriteString("\n")
	}
	content()
	b.sayLeftOut()
	if len(doubts) > 0 {
		b.WriteString("\n")
		writeDoubts(b, "", doubts)
	}
	if simulated {
		b.WriteString("\n")
		b.Wrap(SimulatedNote, "", "")
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
func (g *Grid[R, C]) Write(b *Sheet, corner string, most int, rowName func(R) string, columnName func(C) string) {
	for some := range slices.Chunk(g.columns, max(1, most)) {
		heading := []string{corner}
		for _, c := range some {
			heading = append(heading, columnName(c))
		}
		t := NewTable(1, heading...)
		for _, r := range g.Rows {
			row := []any{rowName(r)}
			for _, c := range some {
				row = append(row, cmp.Or(g.cells[r][c], g.Missing))
			}
			t.Row(row...)
		}
		b.Table(t)
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

func writeDoubts(b *Sheet, indent string, doubts []doubt.Doubt) {
	for _, d := range doubts {
		writeDoubt(b, indent, d.String())
	}
}

func writeDoubt(b *Sheet, indent, sentence string) {
	b.Wrap(wording.Printable(sentence), indent+"! ", indent+"  ")
}
