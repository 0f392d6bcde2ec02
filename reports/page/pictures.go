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
	"nightfloor/reports/stats"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

const (
	// maxColumns and maxRows bound a picture to what a screen can show: a strip
	// is 84 pixels high, twice that on a dense screen, and some 900 wide. TestThinning fails when they move.
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

// shownOf checks a picture and brings it to a size that a screen can show.
func shownOf(p result.Waterfall) (result.Waterfall, error) {
	if p.Columns <= 0 || len(p.DBFSHz) != len(p.Times)*p.Columns {
		return p, fmt.Errorf("picture of %s through %s: %d values do not fill %d rows of %d columns",
			p.Segment, p.Setup, len(p.DBFSHz), len(p.Times), p.Columns)
	}
	if !slices.IsSortedFunc(p.Times, time.Time.Compare) {
		return p, fmt.Errorf("picture of %s through %s: its rows are not in order of time", p.Segment, p.Setup)
	}
	return shorten(narrow(p)), nil
}

// narrow joins neighbouring columns until there are at most maxColumns.
func narrow(p result.Waterfall) result.Waterfall {
	join := (p.Columns + maxColumns - 1) / maxColumns
	if join < 2 {
		return p
	}
	var levels []float32
	for row := range slices.Chunk(p.DBFSHz, p.Columns) {
		for some := range slices.Chunk(row, join) {
			levels = append(levels, mean(some))
		}
	}
	p.Columns, p.DBFSHz = (p.Columns+join-1)/join, levels
	return p
}

// shorten joins rows that fall into the same one of maxRows equal stretches of
// time. Rows on both sides of a gap stay apart.
func shorten(p result.Waterfall) result.Waterfall {
	if len(p.Times) <= maxRows {
		return p
	}
	times, first, out := p.Times, p.Times[0], p
	out.Times, out.DBFSHz = nil, nil
	stretch := times[len(times)-1].Sub(first)/maxRows + 1
	for from := 0; from < len(times); {
		to := from + 1
		for to < len(times) && times[to].Sub(first)/stretch == times[from].Sub(first)/stretch {
			to++
		}
		out.Times = append(out.Times, times[from].Add(times[to-1].Sub(times[from])/2))
		column := make([]float32, to-from)
		for c := range p.Columns {
			for r := range column {
				column[r] = p.DBFSHz[(from+r)*p.Columns+c]
			}
			out.DBFSHz = append(out.DBFSHz, mean(column))
		}
		from = to
	}
	return out
}

// mean averages densities as powers, over the places that were measured.
func mean(levels []float32) float32 {
	sum, n := 0.0, 0.0
	for _, l := range measured(levels) {
		sum += survey.DBFSPerHz(l).Linear()
		n++
	}
	return float32(stats.Decibel(sum / n)) // 0/0: NaN
}

// measured gives the levels of the places that were measured.
func measured(levels []float32) (out []float64) {
	for _, l := range levels {
		if stats.Finite(float64(l)) {
			out = append(out, float64(l))
		}
	}
	return out
}

// boxOf encodes a picture through a setup: 8 bits a place, deflated.
func boxOf(p result.Waterfall, setup int) pictureBox {
	b := pictureBox{Setup: setup, Low: p.Low, High: p.High, Columns: p.Columns, Apart: p.Gain == nil, First: p.Times[0].UnixMilli(), Step: finestStep}
	if levels := measured(p.DBFSHz); len(levels) > 0 {
		b.Offset = math.Floor(slices.Min(levels)/finestStep) * finestStep
		b.Step = max(finestStep, (slices.Max(levels)-b.Offset)/(nothing-1))
	}
	codes := make([]byte, len(p.DBFSHz))
	for i, l := range p.DBFSHz {
		codes[i] = nothing
		if x := float64(l); stats.Finite(x) {
			codes[i] = byte(math.Round((x - b.Offset) / b.Step))
		}
	}
	for _, t := range p.Times {
		b.After = append(b.After, int64(t.Sub(p.Times[0]).Round(time.Second)/time.Second))
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
func scale(pictures []result.Waterfall) (low, high float64) {
	var all []float64
	for _, p := range pictures {
		all = append(all, measured(p.DBFSHz)...)
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
	return wording.Figure(low, places) + " to " + wording.Figure(high, places)
}

// hundredths rounds to 0.01 dB, which is as fine as the page's data need be.
func hundredths(x float64) float64 { return math.Round(100*x) / 100 }
