package page

import (
	"bytes"
	"compress/flate"
	"encoding/base64"
	"fmt"
	"math"
	"slices"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

const (
	// maxColumns and maxRows bound a picture to what a screen can show: a strip
	// is 84 pixels high, twice that on a dense screen, and some 900 wide.
	maxColumns, maxRows = 168, 400
	// finestStep is the least step between two levels of a picture, in dB.
	// Rounding to it errs by 0.5/√12 = 0.14 dB, little against the scatter of a
	// place that averages some tens of looks (4.34/√40 = 0.7 dB), and finer steps
	// would spend most of the page on writing down that scatter.
	finestStep = 0.5
	// nothing is the code of a place where nothing was measured.
	nothing = 255
)

// A pictureBox is one picture as the script reads it. The level of a place is
// Offset + Step × code in dBFS/Hz; code 255 is a place without measurement.
type pictureBox struct {
	Setup   int       `json:"setup"`
	Low     survey.Hz `json:"low_hz"`
	High    survey.Hz `json:"high_hz"`
	Columns int       `json:"columns"`
	Offset  float64   `json:"offset_dbfs_hz"`
	Step    float64   `json:"step_db"`
	First   int64     `json:"first_ms"` // Unix milliseconds of the first row
	After   []int64   `json:"after_s"`  // seconds of each row after the first
	Codes   string    `json:"codes"`    // rows of codes, deflate, base64
	Apart   bool      `json:"apart"`    // the gain is not known: it compares with no other
}

// A grid is a picture's levels, row by row; NaN where nothing was measured.
type grid struct {
	times   []time.Time
	columns int
	levels  []float32 // dBFS/Hz
}

// gridOf checks a picture and brings it to a size that a screen can show.
func gridOf(p result.Waterfall) (grid, error) {
	if p.Columns <= 0 || len(p.DBFSHz) != len(p.Times)*p.Columns {
		return grid{}, fmt.Errorf("picture of %s through %s: %d values do not fill %d rows of %d columns",
			p.Segment, p.Setup, len(p.DBFSHz), len(p.Times), p.Columns)
	}
	if !slices.IsSortedFunc(p.Times, time.Time.Compare) {
		return grid{}, fmt.Errorf("picture of %s through %s: its rows are not in order of time", p.Segment, p.Setup)
	}
	return narrow(grid{p.Times, p.Columns, p.DBFSHz}).shorten(), nil
}

// narrow joins neighbouring columns until there are at most maxColumns.
func narrow(g grid) grid {
	join := (g.columns + maxColumns - 1) / maxColumns
	if join < 2 {
		return g
	}
	out := grid{times: g.times, columns: (g.columns + join - 1) / join}
	for r := range g.times {
		row := g.levels[r*g.columns : (r+1)*g.columns]
		for c := 0; c < g.columns; c += join {
			out.levels = append(out.levels, mean(row[c:min(c+join, g.columns)]))
		}
	}
	return out
}

// shorten joins rows that fall into the same one of maxRows equal stretches of
// time. Rows on both sides of a gap stay apart.
func (g grid) shorten() grid {
	if len(g.times) <= maxRows {
		return g
	}
	first := g.times[0]
	stretch := g.times[len(g.times)-1].Sub(first)/maxRows + 1
	out := grid{columns: g.columns}
	for from := 0; from < len(g.times); {
		to := from + 1
		for to < len(g.times) && g.times[to].Sub(first)/stretch == g.times[from].Sub(first)/stretch {
			to++
		}
		out.times = append(out.times, g.times[from].Add(g.times[to-1].Sub(g.times[from])/2))
		column := make([]float32, to-from)
		for c := range g.columns {
			for r := range column {
				column[r] = g.levels[(from+r)*g.columns+c]
			}
			out.levels = append(out.levels, mean(column))
		}
		from = to
	}
	return out
}

// mean averages densities as powers, over the places that were measured.
func mean(levels []float32) float32 {
	sum, n := 0.0, 0
	for _, l := range levels {
		if finite(float64(l)) {
			sum += survey.DBFSPerHz(l).Linear()
			n++
		}
	}
	if n == 0 {
		return float32(math.NaN())
	}
	return float32(10 * math.Log10(sum/float64(n)))
}

// extent gives the least and the greatest level; ok is false where nothing was
// measured at all.
func (g grid) extent() (low, high float64, ok bool) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, l := range g.levels {
		if x := float64(l); finite(x) {
			low, high, ok = min(low, x), max(high, x), true
		}
	}
	return low, high, ok
}

// box encodes the picture: 8 bits a place, deflated.
func (g grid) box(p result.Waterfall, setup int) pictureBox {
	b := pictureBox{Setup: setup, Low: p.Low, High: p.High, Columns: g.columns, Apart: p.Gain == nil, After: []int64{}, Step: finestStep}
	if low, high, ok := g.extent(); ok {
		b.Offset = math.Floor(low/finestStep) * finestStep
		b.Step = max(finestStep, (high-b.Offset)/(nothing-1))
	}
	codes := make([]byte, len(g.levels))
	for i, l := range g.levels {
		codes[i] = nothing
		if x := float64(l); finite(x) {
			codes[i] = byte(math.Round((x - b.Offset) / b.Step))
		}
	}
	for i, t := range g.times {
		if i == 0 {
			b.First = t.UnixMilli()
		}
		b.After = append(b.After, int64(t.Sub(g.times[0]).Round(time.Second)/time.Second))
	}
	b.Codes = base64.StdEncoding.EncodeToString(deflate(codes))
	return b
}

// deflate packs b by RFC 1951, without header.
func deflate(b []byte) []byte {
	var out bytes.Buffer
	w, _ := flate.NewWriter(&out, flate.BestCompression) // the level is a valid one
	_, _ = w.Write(b)                                    // a bytes.Buffer takes everything
	_ = w.Close()
	return out.Bytes()
}

// scale gives the levels at the ends of the palette: the 1st and 99th
// percentile, so that a single carrier does not darken the floor, in whole
// decibels and at least 6 dB apart, so that mere noise does not look like
// structure.
func scale(grids []grid) (low, high float64) {
	var all []float64
	for _, g := range grids {
		for _, l := range g.levels {
			if x := float64(l); finite(x) {
				all = append(all, x)
			}
		}
	}
	if len(all) == 0 {
		return 0, 0
	}
	slices.Sort(all)
	low = math.Floor(all[len(all)/100])
	high = math.Ceil(all[len(all)-1-len(all)/100])
	if lack := 6 - (high - low); lack > 0 {
		low, high = low-math.Ceil(lack/2), high+math.Ceil(lack/2)
	}
	return low, high
}

// fromTo writes an interval in a sentence: "5.1 to 7.3".
func fromTo(low, high *survey.DB, places int) string {
	return wording.Number(float64(*low), places) + " to " + wording.Number(float64(*high), places)
}

// hundredths rounds to 0.01 dB, which is as fine as the page's data need be.
func hundredths(x float64) float64 { return math.Round(100*x) / 100 }

// finite tells whether a figure can be shown.
func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
