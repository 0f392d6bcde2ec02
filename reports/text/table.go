package text

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

const simulatedNote = "SIMULATED: made in the simulated house; the figures say nothing of any real antenna."

// WriteTable prints a Rank, a FloorTable, Bearings, NoiseSources or a Quality for a person
// to read, times in the given zone (nil: local). It panics on another type.
func WriteTable(w io.Writer, answer any, zone *time.Location) error {
	if zone == nil {
		zone = time.Local
	}
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

func rankTable(b *strings.Builder, r result.Rank) {
	if len(r.Segments) == 0 {
		b.WriteString("nothing was measured that could be ranked\n")
		return
	}
	fmt.Fprintf(b, "SNR against %s, dB\n", wording.Setup(r.Reference, 60))
	for _, s := range r.Segments {
		fmt.Fprintf(b, "\n%s, %s, %s\n", wording.Printable(s.Segment), wording.Edges(s.Low, s.High), periodText(s.Period))
		if len(s.Setups) == 1 {
			b.WriteString(wrap(Verdict(&s, inSentence), "  ", "  "))
		}
		Render(b, segmentTable(s, r.Reference))
		writeFlags(b, s)
		writeDoubts(b, "  ", s.Doubts)
	}
	b.WriteString("\n" + rankLegend)
}

const rankLegend = `* may be the best: its 95 % interval of the difference to the first holds 0.
Intervals are 95 %, each by itself: no correction for many comparisons.
Advantage = signal − floor. best: share of resamples in which it came first.
`

func periodText(period string) string {
	if period == result.PeriodAll {
		return "whole time"
	}
	return period
}

// segmentTable is the ranking of one segment.
func segmentTable(s result.RankSegment, ref survey.Setup) table.Writer {
	t := NewTable(2, "", "setup", "advantage", "95 % interval", "signal", "floor", "best", "rounds", "carriers")
	places := Places(s.Setups)
	intervals := alignedIntervals(s.Setups, places)
	for i, x := range s.Setups {
		mark := "  "
		if x.MayBeBest && len(s.Setups) > 1 { // one alone has nothing to be better than
			mark = "* "
		}
		rank := wording.None
		if x.Rank > 0 {
			rank = fmt.Sprint(x.Rank)
		}
		advantage, interval := wording.Signed(x.SNRAdvantage, places), intervals[i]
		if x.SNRAdvantage != nil && x.Low == nil {
			advantage = "≈ " + advantage
		}
		signal, floor := wording.Signed(x.SignalChange, places), wording.Signed(x.FloorChange, places)
		if x.Setup == ref && x.SNRAdvantage != nil {
			advantage, interval = wording.Number(0, places), "reference"
		}
		t.AppendRow(table.Row{mark + rank, wording.Setup(x.Setup, wording.SetupRoom), advantage, interval, signal, floor,
			wording.Share(x.BestShare), x.Rounds, x.Carriers})
	}
	return t
}

// alignedIntervals writes the intervals of one table, both ends right-aligned.
func alignedIntervals(setups []result.RankSetup, places int) []string {
	var low, high int
	for _, x := range setups {
		low = max(low, utf8.RuneCountInString(wording.Signed(x.Low, places)))
		high = max(high, utf8.RuneCountInString(wording.Signed(x.High, places)))
	}
	out := make([]string, len(setups))
	for i, x := range setups {
		out[i] = wording.None
		if x.Low != nil && x.High != nil {
			out[i] = fmt.Sprintf("%*s … %*s", low, wording.Signed(x.Low, places), high, wording.Signed(x.High, places))
		}
	}
	return out
}

// writeFlags names the setups of each flag that was raised.
func writeFlags(b *strings.Builder, s result.RankSegment) {
	setups := map[string][]string{}
	for _, x := range s.Setups {
		for _, flag := range x.Flags {
			setups[flag] = append(setups[flag], wording.Setup(x.Setup, 40))
		}
	}
	for _, flag := range slices.Sorted(maps.Keys(setups)) {
		who := strings.Join(setups[flag], ", ")
		if len(setups[flag]) == len(s.Setups) {
			who = "all setups"
		}
		b.WriteString(wrap("flagged "+wording.Printable(flag)+": "+who, "  ! ", "    "))
	}
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

func floorTable(b *strings.Builder, f result.FloorTable, zone *time.Location) {
	if len(f.Rows) == 0 {
		b.WriteString("no floor was measured\n")
		return
	}
	b.WriteString("Floor, dBFS/Hz: a tenth of the readings lie under 10 %, half under 50 %, …\n")
	b.WriteString(wrap("Levels are referred to the gain beside them, one a segment, so that they compare; a row without one compares with no other.", "", ""))
	var t table.Writer
	var more []any
	room := wording.SetupRoom
	if slices.ContainsFunc(f.Rows, func(r result.FloorRow) bool { return r.Margin != nil || r.DBmHz != nil }) {
		more, room = []any{"margin", "dBm/Hz"}, wording.SetupRoom-10
		b.WriteString(wrap("Margin: how far the floor stands over the receiver's own noise, dB. dBm/Hz: half lie under it, at the antenna's terminals, as far as the plan tells cable loss and amplifier, that noise subtracted; ≤ where it hides the floor.", "", ""))
	}
	for i, r := range f.Rows {
		if i == 0 || r.Segment != f.Rows[i-1].Segment || r.Low != f.Rows[i-1].Low || r.High != f.Rows[i-1].High {
			if t != nil {
				Render(b, t)
			}
			fmt.Fprintf(b, "\n%s, %s\n", wording.Printable(r.Segment), wording.Edges(r.Low, r.High))
			t = NewTable(2, append([]any{"setup", "hour from", "readings", "10 %", "50 %", "90 %", "gain, dB"}, more...)...)
		}
		q := r.DBFSHz
		row := table.Row{wording.Setup(r.Setup, room), r.From.In(zone).Format("2 Jan 15:04 MST"), r.Readings,
			wording.Number(q.P10, 1), wording.Number(q.P50, 1), wording.Number(q.P90, 1), wording.Figure(r.Gain, 1)}
		if more != nil {
			row = append(row, wording.Figure(r.Margin, 1), AtInput(r))
		}
		t.AppendRow(row)
	}
	Render(b, t)
}

// AtInput writes the middle floor of a row at the antenna's terminals, to a tenth of a dB
// where it is known to half a dB, with ≤ where it is an upper bound.
func AtInput(r result.FloorRow) string {
	if r.DBmHz == nil {
		return wording.None
	}
	places := 0
	if r.DBmSigma != nil && *r.DBmSigma <= 0.5 {
		places = 1
	}
	text := wording.Number(r.DBmHz.P50, places)
	if 2*r.Limited > r.Readings {
		text = "≤ " + text
	}
	return text
}
