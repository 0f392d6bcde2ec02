package page

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/text"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A floorView is the floor of one segment through the survey.
type floorView struct {
	survey.Segment
	ID              string
	Pictures, Lines int // how many are drawn
	Hold            string
	Gain            string  // that the levels are referred to; "" where none is known
	Apart           bool    // some figure compares with no other
	Calibrated      bool    // some receiver margin or level in dBm is known
	Course          *course // nil where there are not two hours to compare
	Setups          []setupLabel
	Hours           []hourRow
}

// A setupLabel is a setup's name and its number on the page.
type setupLabel struct {
	Index int
	Label string
}

// An hourRow is one line of the table: an hour, a cell a setup: p50, then p10 to p90 and what
// a calibration adds.
type hourRow struct {
	From  time.Time
	Cells []cell
}

// A cell is a figure with what stands small beside it.
type cell struct{ Figure, Beside string }

// floorBox is one segment as the script draws it.
type floorBox struct {
	Low      survey.Hz    `json:"low_hz"`
	High     survey.Hz    `json:"high_hz"`
	From     int64        `json:"from_ms"`
	To       int64        `json:"to_ms"`
	Hold     int64        `json:"hold_s"`        // how long a column stands at most
	Scale    [2]float64   `json:"scale_dbfs_hz"` // ends of the palette
	Lines    []line       `json:"lines"`
	Pictures []pictureBox `json:"pictures"`
}

// A line is the floor of one setup: an entry for each hour, drawn in the middle
// of what was measured in it.
type line struct {
	Setup int       `json:"setup"`
	At    []int64   `json:"at_ms"`
	From  []int64   `json:"from_ms"`
	To    []int64   `json:"to_ms"`
	P10   []float64 `json:"p10_dbfs_hz"`
	P50   []float64 `json:"p50_dbfs_hz"`
	P90   []float64 `json:"p90_dbfs_hz"`
	Apart []bool    `json:"apart"` // the gain is not known: it compares with no other
}

// floorsOf gives the floors of all segments for template and script.
func floorsOf(r *result.Report, n *names) ([]floorView, map[string]floorBox, error) {
	var views []floorView
	boxes := map[string]floorBox{}
	for i, s := range segmentsOf(r) {
		rows := rowsOf(r.Floor.Rows, s)
		v := floorView{Segment: s, ID: fmt.Sprintf("floor-%d", i)}
		when := hoursFor(r, s)
		box := floorBox{Low: s.Low, High: s.High, Lines: linesOf(rows, when, n), Pictures: []pictureBox{}}
		if err := box.addPictures(r.Pictures, s, n); err != nil {
			return nil, nil, err
		}
		if len(rows) == 0 && len(box.Pictures) == 0 {
			continue
		}
		box.Hold = int64(when.hold() / time.Second)
		box.span(rows, when)
		v.Pictures, v.Lines = len(box.Pictures), len(box.Lines)
		v.Hold = holdWords(when.hold())
		v.Course = courseOf(rows, n)
		v.Setups, v.Hours = hoursOf(rows, n)
		v.Gain, v.Apart = gainOf(rows)
		v.Calibrated = slices.ContainsFunc(rows, func(r result.FloorRow) bool { return r.Margin != nil || r.DBmHz != nil })
		views = append(views, v)
		boxes[v.ID] = box
	}
	return views, boxes, nil
}

// holdWords writes how long a column stands at most, "" where there is only one.
func holdWords(d time.Duration) string {
	if d <= 0 {
		return ""
	}
	return strings.ReplaceAll(wording.Duration(d), " ", "\u00a0")
}

// segmentsOf gives the segments in the order in which the report names them.
func segmentsOf(r *result.Report) []survey.Segment {
	var out []survey.Segment
	add := func(s survey.Segment) {
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	for _, s := range r.Rank.Segments {
		add(survey.Segment{Name: s.Segment, Low: s.Low, High: s.High})
	}
	for _, row := range r.Floor.Rows {
		add(survey.Segment{Name: row.Segment, Low: row.Low, High: row.High})
	}
	for _, p := range r.Pictures {
		// A picture may cover less than its segment: the name decides.
		if !slices.ContainsFunc(out, func(s survey.Segment) bool { return s.Name == p.Segment }) {
			add(survey.Segment{Name: p.Segment, Low: p.Low, High: p.High})
		}
	}
	return out
}

// rowsOf gives the segment's rows that have a floor, in order of time.
func rowsOf(all []result.FloorRow, s survey.Segment) []result.FloorRow {
	var out []result.FloorRow
	for _, row := range all {
		if row.Segment == s.Name && row.Low == s.Low && row.High == s.High && row.DBFSHz != nil &&
			stats.Finite(row.DBFSHz.P10) && stats.Finite(row.DBFSHz.P50) && stats.Finite(row.DBFSHz.P90) {
			out = append(out, row)
		}
	}
	slices.SortStableFunc(out, func(a, b result.FloorRow) int { return a.From.Compare(b.From) })
	return out
}

// linesOf gives a line for each setup, in the page's order of setups.
func linesOf(rows []result.FloorRow, when hours, n *names) []line {
	out := []line{}
	for i := range n.setups {
		l := line{Setup: i}
		for _, row := range rows {
			if n.Index(row.Setup) != i {
				continue
			}
			l.At = append(l.At, when.within(row).Middle().UnixMilli())
			l.From = append(l.From, row.From.UnixMilli())
			l.To = append(l.To, row.To.UnixMilli())
			l.P10 = append(l.P10, hundredths(row.DBFSHz.P10))
			l.P50 = append(l.P50, hundredths(row.DBFSHz.P50))
			l.P90 = append(l.P90, hundredths(row.DBFSHz.P90))
			l.Apart = append(l.Apart, row.Gain == nil)
		}
		if len(l.From) > 0 {
			out = append(out, l)
		}
	}
	return out
}

// addPictures adds the segment's pictures in the page's order of setups, and
// the scale that they share.
func (b *floorBox) addPictures(all []result.Waterfall, s survey.Segment, n *names) error {
	var shown []result.Waterfall
	for i := range n.setups {
		for _, p := range all {
			if p.Segment != s.Name || n.Index(p.Setup) != i {
				continue
			}
			p, err := shownOf(p)
			if err != nil {
				return err
			}
			if len(p.Times) > 0 {
				shown = append(shown, p)
				b.Pictures = append(b.Pictures, boxOf(p, i))
			}
		}
	}
	b.Scale[0], b.Scale[1] = scale(shown)
	return nil
}

// span sets the time that pictures and lines share: from the first to the last
// that was measured.
func (b *floorBox) span(rows []result.FloorRow, when hours) {
	var ends []int64
	for _, row := range rows {
		in := when.within(row)
		ends = append(ends, in.First.UnixMilli(), in.Last.UnixMilli())
	}
	for _, p := range b.Pictures {
		ends = append(ends, p.First, p.First+1000*p.After[len(p.After)-1]+when.turn().Milliseconds())
	}
	b.From, b.To = slices.Min(ends), slices.Max(ends)
	b.To = max(b.To, b.From+60_000) // a single row needs a width to be seen: a minute
}

// gainOf gives the gain that the rows are referred to, and whether some are not.
func gainOf(rows []result.FloorRow) (gain string, apart bool) {
	for _, row := range rows {
		if row.Gain == nil {
			apart = true
		} else if gain == "" {
			gain = wording.Figure(row.Gain, 1) + " dB"
		}
	}
	return gain, apart
}

// hoursOf gives the table of a segment: p50 and, in brackets, p10 to p90.
func hoursOf(rows []result.FloorRow, n *names) ([]setupLabel, []hourRow) {
	var setups []setupLabel
	for i, name := range n.labels {
		if slices.ContainsFunc(rows, func(row result.FloorRow) bool { return n.Index(row.Setup) == i }) {
			setups = append(setups, setupLabel{i, name})
		}
	}
	var out []hourRow
	for _, row := range rows {
		if len(out) == 0 || !row.From.Equal(out[len(out)-1].From) {
			out = append(out, hourRow{From: row.From, Cells: slices.Repeat([]cell{{Figure: wording.None}}, len(setups))})
		}
		column := slices.IndexFunc(setups, func(s setupLabel) bool { return s.Index == n.Index(row.Setup) })
		q := row.DBFSHz
		c := cell{wording.Number(q.P50, 1), fmt.Sprintf("(%s to %s)", wording.Number(q.P10, 1), wording.Number(q.P90, 1))}
		if row.Gain == nil {
			c.Figure += " *"
		}
		if row.Margin != nil {
			c.Beside += fmt.Sprintf(", margin %s dB", wording.Figure(row.Margin, 1))
			if text.OverAmplifier(row) {
				c.Beside += " over the amplifier"
			}
		}
		if row.DBmHz != nil {
			c.Beside += fmt.Sprintf(", %s dBm/Hz %s", text.AtInput(row), text.Spread(row))
		}
		if row.Fa != nil {
			c.Beside += fmt.Sprintf(", Fa %s dB", text.FigureText(row))
		}
		out[len(out)-1].Cells[column] = c
	}
	return setups, out
}

// A course says between which hours the floor of the first setup moved.
type course struct {
	Setup       string
	Least, Most time.Time
	Level, Rise string // Rise is "" where it rounds to nothing
}

// courseOf finds the quietest and the loudest hour of the first setup that has
// a floor: the reference, where it was measured. Hours whose gain is not known
// compare with no other.
func courseOf(rows []result.FloorRow, n *names) *course {
	rows = slices.DeleteFunc(slices.Clone(rows), func(row result.FloorRow) bool { return row.Gain == nil })
	if len(rows) == 0 {
		return nil
	}
	setup := slices.MinFunc(rows, func(a, b result.FloorRow) int { return n.Index(a.Setup) - n.Index(b.Setup) }).Setup
	own := slices.DeleteFunc(slices.Clone(rows), func(row result.FloorRow) bool { return row.Setup != setup })
	if len(own) < 2 {
		return nil
	}
	byLevel := func(a, b result.FloorRow) int { return cmp.Compare(a.DBFSHz.P50, b.DBFSHz.P50) }
	least, most := slices.MinFunc(own, byLevel), slices.MaxFunc(own, byLevel)
	c := &course{Setup: setup.Short(wording.SentenceRoom), Least: least.From, Most: most.From, Level: wording.Number(least.DBFSHz.P50, 1)}
	if rise := wording.Number(most.DBFSHz.P50-least.DBFSHz.P50, 1); rise != "0.0" {
		c.Rise = rise
	}
	return c
}
