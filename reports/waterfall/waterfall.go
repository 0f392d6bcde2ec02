package waterfall

import (
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/floats"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

const (
	waterfallColumns = 400 // as many as a page shows
	waterfallRows    = 600
)

// A Builder makes a Waterfall of spectra handed in one by one, so that a
// night of them need not be held. Its size is bounded: when it holds twice the
// rows that it may give, neighbours are put together.
type Builder struct {
	picture result.Waterfall
	rows    []waterfallRow
	merged  int // spectra a row: doubles with each merging
}

type waterfallRow struct {
	input.Span
	spectra int
	sum     []float64 // by column: linear densities
	count   []float64
}

// NewBuilder begins a picture of one segment through one setup.
func NewBuilder(segment survey.Segment, setup survey.Setup) *Builder {
	return &Builder{merged: 1,
		picture: result.Waterfall{Segment: segment.Name, Setup: setup, Low: segment.Low, High: segment.High}}
}

// Add takes the spectrum of a reading that ran from the start for the duration,
// its levels to be lowered to the picture's gain by so much. Surveys may overlap, so
// that spectra come in any order; rows are the finest where they come in order of
// time. The builder keeps no spectrum.
func (b *Builder) Add(start time.Time, duration time.Duration, s *survey.Spectrum, lower survey.DB) {
	if s == nil || len(s.Density) == 0 {
		return
	}
	if b.picture.Columns == 0 {
		bins := int(math.Round(float64((b.picture.High - b.picture.Low) / s.Step)))
		b.picture.Columns = max(1, min(waterfallColumns, bins))
	}
	if n := len(b.rows); n == 0 || b.rows[n-1].spectra >= b.merged || start.Before(b.rows[n-1].First) {
		if n == 2*waterfallRows {
			b.merge()
		}
		b.rows = append(b.rows, waterfallRow{sum: make([]float64, b.picture.Columns), count: make([]float64, b.picture.Columns)})
	}
	row := &b.rows[len(b.rows)-1]
	row.Span = row.With(input.Span{First: start, Last: start.Add(duration)})
	row.spectra++
	width := float64(b.picture.High-b.picture.Low) / float64(b.picture.Columns)
	for i, d := range s.Density {
		f := float64(s.First) + float64(i)*float64(s.Step)
		column := int(math.Floor((f - float64(b.picture.Low)) / width))
		if column < 0 || column >= b.picture.Columns || math.IsNaN(float64(d)) {
			continue
		}
		row.sum[column] += fastPower(float64(d) - float64(lower))
		row.count[column]++
	}
}

// merge puts neighbouring rows together, two by two.
func (b *Builder) merge() {
	b.sort()
	half := b.rows[:0]
	for pair := range slices.Chunk(b.rows, 2) {
		row := pair[0]
		for _, next := range pair[1:] {
			row.Span = row.With(next.Span)
			row.spectra += next.spectra
			floats.Add(row.sum, next.sum)
			floats.Add(row.count, next.count)
		}
		half = append(half, row)
	}
	b.rows = half
	b.merged *= 2
}

// sort puts the rows into order of their middles.
func (b *Builder) sort() {
	slices.SortStableFunc(b.rows, func(a, b waterfallRow) int { return a.Middle().Compare(b.Middle()) })
}

// Picture gives what was gathered, rows in order of time: mean densities over time
// and column. The builder can take no more after it.
func (b *Builder) Picture() result.Waterfall {
	if len(b.rows) > waterfallRows {
		b.merge()
	}
	b.sort()
	p := b.picture
	p.DBFSHz = make([]float32, 0, len(b.rows)*p.Columns)
	for _, row := range b.rows {
		p.Times = append(p.Times, row.Middle())
		for c := range row.sum {
			p.DBFSHz = append(p.DBFSHz, float32(stats.Decibel(row.sum[c]/row.count[c]))) // 0/0: NaN
		}
	}
	return p
}

// A night's spectra are 200 million densities: their powers are taken from a table,
// between its points by straight lines, good to (0.0144)²/8, that is 0.0001 dB. TestFastPower fails when they move.
const (
	powerFirst = -250.0 // dB
	powerStep  = 1.0 / 16
)

var powers = func() []float64 {
	p := make([]float64, 300/powerStep)
	for i := range p {
		p[i] = stats.FromDecibel(powerFirst + float64(i)*powerStep)
	}
	return p
}()

// fastPower gives the power of a level from −250 to 50 dB.
func fastPower(level float64) float64 {
	i, x := stats.GridPoint((level-powerFirst)/powerStep, len(powers))
	return powers[i] + x*(powers[i+1]-powers[i])
}
