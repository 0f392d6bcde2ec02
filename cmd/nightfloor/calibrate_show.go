package main

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"nightfloor/capture"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

const schemaCalibration = "nightfloor/calibration/1"

// calibrationDocument is a calibration as JSON; what its kind does not have is null.
type calibrationDocument struct {
	Schema    string                    `json:"schema"`
	ID        *int64                    `json:"calibration"`
	Kind      string                    `json:"kind"`
	Receiver  string                    `json:"receiver"`
	Simulated bool                      `json:"simulated"`
	At        time.Time                 `json:"at"`
	Note      string                    `json:"note"`
	Noise     []noiseJSON               `json:"self_noise"`
	Levels    []levelJSON               `json:"level_references"`
	Left      []leftJSON                `json:"left_out"`
	Linearity []result.LinearityVerdict `json:"linearity"`
	Lines     []lineJSON                `json:"own_lines"`
	Clock     *clockJSON                `json:"clock_error"`
	Doubts    []string                  `json:"doubts"`
}

type noiseJSON struct {
	Segment string   `json:"segment"`
	Low     float64  `json:"low_hz"`
	High    float64  `json:"high_hz"`
	Gain    float64  `json:"gain_db"`
	Density float64  `json:"density_dbfs_hz"`
	Sigma   float64  `json:"sigma_db"`
	Flags   []string `json:"flags"`
}

type levelJSON struct {
	Frequency float64 `json:"frequency_hz"`
	Gain      float64 `json:"gain_db"`
	FullScale float64 `json:"full_scale_dbm"`
	Sigma     float64 `json:"sigma_db"`
	Basis     string  `json:"basis"`
}

type leftJSON struct {
	Gain float64 `json:"gain_db"`
	Why  string  `json:"why"`
}

type lineJSON struct {
	Frequency float64 `json:"frequency_hz"`
	Gain      float64 `json:"gain_db"`
	Level     float64 `json:"level_dbfs"`
}

type clockJSON struct {
	PPM      float64 `json:"ppm"`
	Sigma    float64 `json:"sigma_ppm"`
	Stations int     `json:"stations"`
	Plan     float64 `json:"plan_clock_error_ppm"` // what the plan says now
	New      float64 `json:"clock_error_ppm"`      // what it is to say
}

// document gives the calibration as JSON has it.
func (m *measured) document() calibrationDocument {
	d := calibrationDocument{Schema: schemaCalibration, Kind: m.Kind, Receiver: m.Receiver, Simulated: m.simulated, At: m.At, Note: m.Note, Doubts: append([]string{}, m.doubts...)}
	if m.ID != 0 {
		d.ID = &m.ID
	}
	if m.Kind == survey.CalibrateNoise {
		for _, n := range m.noise {
			d.Noise = append(d.Noise, noiseJSON{n.Segment.Name, float64(n.Segment.Low), float64(n.Segment.High), float64(n.Gain), float64(n.Density), float64(n.Sigma), append([]string{}, n.Flags...)})
		}
	}
	for _, l := range m.Levels {
		d.Levels = append(d.Levels, levelJSON{float64(l.Frequency), float64(l.Gain), float64(l.FullScale), float64(l.Sigma), l.Basis})
	}
	if m.Kind == survey.CalibrateLevel {
		d.Left = []leftJSON{}
		for _, l := range m.left {
			d.Left = append(d.Left, leftJSON{float64(l.Gain), l.Why})
		}
	}
	for _, l := range m.Linearity {
		d.Linearity = append(d.Linearity, result.VerdictOf(l))
	}
	if m.Kind == survey.CalibrateLines {
		d.Lines = []lineJSON{}
		for _, l := range m.Lines {
			d.Lines = append(d.Lines, lineJSON{float64(l.Frequency), float64(l.Gain), float64(l.Level)})
		}
	}
	if m.Clock != nil {
		d.Clock = &clockJSON{m.Clock.PPM, m.Clock.Sigma, m.Clock.Stations, m.plan.FrontEnd.PPM, m.clockError()}
	}
	return d
}

// print shows the calibration, as one JSON document or for a person to read.
func (m *measured) print(c *console) error {
	if m.options.json {
		return result.WriteJSON(c.out, m.document())
	}
	var b strings.Builder
	if m.simulated {
		b.WriteString("SIMULATED: made in the simulated house; it says nothing of any real receiver.\n\n")
	}
	switch m.Kind {
	case survey.CalibrateNoise:
		m.showNoise(&b)
	case survey.CalibrateLevel:
		m.showLevels(&b)
	case survey.CalibrateLinearity:
		m.showLinearity(&b)
	case survey.CalibrateLines:
		m.showLines(&b)
	case survey.CalibrateClock:
		m.showClock(&b)
	}
	for _, d := range m.doubts {
		fmt.Fprintf(&b, "! %s\n", wording.Printable(d))
	}
	_, err := fmt.Fprint(c.out, b.String())
	return err
}

func (m *measured) showNoise(b *strings.Builder) {
	b.WriteString("Own noise, dBFS/Hz, into a terminator\n\n")
	rows := map[survey.DB][]capture.NoiseFound{}
	for _, n := range m.noise {
		rows[n.Gain] = append(rows[n.Gain], n)
	}
	gains := slices.Sorted(maps.Keys(rows))
	grid := newGrid()
	worst := survey.DB(0)
	for i := 0; i < len(gains); i++ {
		if n := alike(rows, gains[i:]); n > 1 {
			fmt.Fprintf(b, "%s to %s dB: under the converter's steps, %s\n", wording.Number(float64(gains[i]), 1), wording.Number(float64(gains[i+n-1]), 1),
				wording.Number(float64(rows[gains[i]][0].Density), 2))
			i += n - 1
			continue
		}
		for _, n := range rows[gains[i]] {
			cell := wording.Number(float64(n.Density), 2)
			if n.Doubtful {
				cell += "*"
			} else {
				cell += " "
				worst = max(worst, n.Sigma)
			}
			grid.put(n.Gain, n.Segment.Name, cell)
		}
	}
	grid.write(b)
	fmt.Fprintf(b, "\nstandard error %s dB at the most; * too few codes moved, up to 2.5 dB\n", wording.Number(float64(worst), 2))
}

// alike gives how many of the gains, from the first on, show the same doubtful figure
// in every segment: that of the converter.
func alike(rows map[survey.DB][]capture.NoiseFound, gains []survey.DB) int {
	first := rows[gains[0]][0].Density
	for i, gain := range gains {
		if slices.ContainsFunc(rows[gain], func(n capture.NoiseFound) bool {
			return !n.Doubtful || math.Abs(float64(n.Density.Over(first))) >= 0.05
		}) {
			return i
		}
	}
	return len(gains)
}

func (m *measured) showLevels(b *strings.Builder) {
	if m.Levels[0].Basis == survey.BasisGenerator {
		m.showSteps(b)
	} else {
		b.WriteString("Level of a tone at 0 dBFS, dBm at the receiver's input\n\n")
		grid := newGrid()
		for _, l := range m.Levels {
			grid.put(l.Gain, l.Frequency.String(), wording.Number(float64(l.FullScale), 2))
		}
		grid.write(b)
	}
	b.WriteString("\n")
	for _, l := range leftByReason(m.left) {
		fmt.Fprintf(b, "left out: %s\n", wording.Printable(l))
	}
}

// showSteps shows levels by a generator, and the steps between gains.
func (m *measured) showSteps(b *strings.Builder) {
	fmt.Fprintf(b, "Level of a tone at 0 dBFS at the receiver's input, by a generator at %v; steps from the gain before\n\n", m.Levels[0].Frequency)
	t := plainTable("gain, dB", "full scale, dBm", "step by label, dB", "true step, dB", "standard error, dB")
	for i, l := range m.Levels {
		label, step := "–", "–"
		if i > 0 {
			before := m.Levels[i-1]
			byLabel, measured := l.Gain-before.Gain, survey.DB(before.FullScale-l.FullScale)
			label, step = wording.Signed(&byLabel, 1), wording.Signed(&measured, 2)
		}
		t.AppendRow(table.Row{wording.Number(float64(l.Gain), 1), wording.Number(float64(l.FullScale), 2), label, step, wording.Number(float64(l.Sigma), 2)})
	}
	writeTable(b, t)
}

// anotherLevel says which run of another level gives what one leaves out.
var anotherLevel = map[string]string{
	capture.WhyClips: "; a second run at a lower level adds them: runs add up",
	capture.WhyCodes: "; a second run at a higher level adds them: runs add up",
}

// leftByReason gathers the steps that gave no figure by why.
func leftByReason(left []capture.LeftStep) []string {
	var order []string
	gains := map[string][]string{}
	for _, l := range left {
		why := l.Why
		if strings.HasPrefix(why, capture.WhyDrowns) { // by a different number of dB each
			why = capture.WhyDrowns
		}
		if gains[why] == nil {
			order = append(order, why)
		}
		gains[why] = append(gains[why], wording.Number(float64(l.Gain), 1))
	}
	for i, why := range order {
		order[i] = fmt.Sprintf("%s at %s dB%s", why, strings.Join(gains[why], ", "), anotherLevel[why])
	}
	return order
}

func (m *measured) showLinearity(b *strings.Builder) {
	fmt.Fprintf(b, "What an attenuator of %s dB takes off\n\n", wording.Number(float64(m.options.parsed.attenuation), 1))
	t := plainTable("segment", "gain, dB", "floor, dB", "carriers, dB", "of", "verdict")
	for _, l := range m.Linearity {
		t.AppendRow(table.Row{wording.Printable(l.Segment.Name), wording.Number(float64(l.Gain), 1), dropText(l.FloorDrop), dropText(l.CarrierDrop), l.Carriers, l.Verdict})
	}
	writeTable(b, t)
}

func dropText(drop *survey.DB) string {
	if drop == nil {
		return "–"
	}
	return wording.Number(float64(*drop), 1)
}

func (m *measured) showLines(b *strings.Builder) {
	if len(m.Lines) == 0 {
		b.WriteString("no line is there without an antenna\n")
		return
	}
	b.WriteString("Lines that are there without an antenna\n\n")
	t := plainTable("frequency", "level, dBFS", "gain, dB")
	for _, l := range m.Lines {
		t.AppendRow(table.Row{l.Frequency.String(), wording.Number(float64(l.Level), 1), wording.Number(float64(l.Gain), 1)})
	}
	writeTable(b, t)
}

func (m *measured) showClock(b *strings.Builder) {
	ppm, total := survey.DB(m.Clock.PPM), m.clockError()
	fmt.Fprintf(b, "clock error %s ± %s ppm (95 %%) beyond the plan's %s ppm, by %s\n\nfor [receiver] in the plan:\nclock_error = \"%.2f ppm\"\n\n",
		wording.Signed(&ppm, 2), wording.Number(2*m.Clock.Sigma, 2), wording.Number(m.plan.FrontEnd.PPM, 2), stations(m.Clock.Stations), total)
}

func stations(n int) string {
	if n == 1 {
		return "1 station"
	}
	return fmt.Sprintf("%d stations", n)
}

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
