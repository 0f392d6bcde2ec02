package floor

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
	"nightfloor/survey/level"
)

// misfit is how far below the receiver's own noise a floor must stand to show that the
// calibration is of another receiver, or of another state of this one. Chosen
// (STATISTICS.md 5.2); TestMarginPolicy fails when it moves.
const misfit = -1.0 // dB

type floorKey struct {
	segment survey.Segment
	setup   survey.Setup
	hour    time.Time
}

// A floorHour gathers what becomes one row.
type floorHour struct {
	gains    input.GainTally
	readings []floorReading
}

type floorReading struct {
	*survey.Reading
	calibration *input.CalibrationFor
	before      float64 // dB that the feed line takes off, less what an amplifier adds, before the receiver
}

// Of gives the quantiles of the floor for each segment, setup and hour (UTC)
// in which there are readings. Overloaded readings and those without a floor are
// left out; the receiver's own noise is not: there the floor is an upper bound.
//
// Levels are referred to one gain a segment, see input.SegmentGains. A row of which most
// readings cannot be referred to it stands at the gain that serves most of them,
// and its Gain is nil; the readings of a row that do not fit its gain are left out
// and counted in the doubts. Receiver margin and levels at the antenna are there where
// the calibrations know them for half of a row's readings or more. Fa is nil: it asks
// for an antenna factor (PHYSICS.md 5.6 has the formula and worked figures).
func Of(in input.Selection) result.FloorTable {
	table := result.FloorTable{Schema: result.SchemaFloor, Simulated: in.Simulated(), Rows: []result.FloorRow{}, Doubts: []doubt.Doubt{}}
	hours := floorHours(in.Input)
	gains, controls := in.SegmentGains(), in.Controls()
	var left, apart, imaged int
	var said calibrationDoubts
	for k, h := range hours {
		segment := gains[k.segment.Name]
		to := h.gains.Common(segment)
		readings, levels := h.at(to)
		left += len(h.readings) - len(levels)
		row := result.FloorRow{Segment: k.segment.Name, Low: k.segment.Low, High: k.segment.High,
			Setup: k.setup, From: k.hour, To: k.hour.Add(time.Hour), Readings: len(levels),
			Gain: input.GainOf(to, segment), DBFSHz: quantiles(levels)}
		if row.Gain == nil {
			apart++
		}
		if slices.ContainsFunc(readings, func(r floorReading) bool { return r.Quality.Has(survey.FlagNyquistImage) }) {
			imaged++
		}
		if controls[k.setup] { // which shows noise that is no antenna's, and is to
			calibrated(&row, readings, &calibrationDoubts{})
		} else {
			calibrated(&row, readings, &said)
		}
		table.Rows = append(table.Rows, row)
	}
	table.Doubts = append(table.Doubts, absent(in.Input)...)
	table.Doubts = append(table.Doubts, floorDoubts(left, apart, imaged, len(hours))...)
	table.Doubts = append(table.Doubts, said.doubts(len(hours), in.Setups())...)
	seen := in.Setups()
	slices.SortFunc(table.Rows, func(a, b result.FloorRow) int {
		return cmp.Or(cmp.Compare(a.Low, b.Low), cmp.Compare(a.High, b.High), cmp.Compare(a.Segment, b.Segment),
			cmp.Compare(slices.Index(seen, a.Setup), slices.Index(seen, b.Setup)), a.From.Compare(b.From))
	})
	return table
}

// absent tells of setups that have no row in a segment where they were measured.
func absent(in input.Input) (doubts []doubt.Doubt) {
	type place struct {
		setup   survey.Setup
		segment survey.Segment
	}
	why := map[place]doubt.Kind{} // "" where there is a row
	var order []place
	for _, s := range in.Sweeps {
		for i := range s.Readings {
			r := &s.Readings[i]
			p := place{s.Setup, r.Segment}
			was, seen := why[p]
			if !seen {
				order = append(order, p)
			}
			switch over := r.Quality.Has(survey.FlagOverload); {
			case input.Levelled(r):
				why[p] = ""
			case !seen && over:
				why[p] = doubt.AllOverloaded
			case !seen, was == doubt.AllOverloaded && !over:
				why[p] = doubt.NoFloorTold
			}
		}
	}
	at := map[doubt.Kind]map[survey.Segment]int{doubt.AllOverloaded: {}, doubt.NoFloorTold: {}} // in doubts
	for _, p := range order {
		kind := why[p]
		if kind == "" {
			continue
		}
		i, told := at[kind][p.segment]
		if !told {
			i = len(doubts)
			at[kind][p.segment] = i
			doubts = append(doubts, doubt.Doubt{Kind: kind, Segment: p.segment.Name})
		}
		doubts[i].About = append(doubts[i].About, p.setup)
	}
	return doubts
}

func floorHours(in input.Input) map[floorKey]*floorHour {
	hours, plans := map[floorKey]*floorHour{}, in.Plans()
	for _, s := range in.Sweeps {
		antenna := input.AntennaOf(plans[s.Survey], s.Setup)
		for i := range s.Readings {
			r := &s.Readings[i]
			if !input.Levelled(r) {
				continue
			}
			k := floorKey{r.Segment, s.Setup, r.Start.UTC().Truncate(time.Hour)}
			if hours[k] == nil {
				hours[k] = &floorHour{}
			}
			hours[k].gains.Add(r.Gain)
			hours[k].readings = append(hours[k].readings, floorReading{r, in.CalibrationOf(s, i), float64(antenna.CableLoss - antenna.Amplifier)})
		}
	}
	return hours
}

// at gives the readings that can be referred to the gain, and their levels at that
// gain in rising order.
func (h *floorHour) at(to survey.Gain) (readings []floorReading, levels []float64) {
	for _, r := range h.readings {
		if lower, ok := input.Refer(r.Gain, to); ok {
			readings, levels = append(readings, r), append(levels, float64(r.Floor.Density)-float64(lower))
		}
	}
	slices.Sort(levels)
	return readings, levels
}

// limited counts the readings that show the receiver's own noise, and tells whether most do.
func limited(row *result.FloorRow, readings []floorReading) bool {
	for _, r := range readings {
		if r.Quality.Has(survey.FlagReceiverLimited) {
			row.Limited++
		}
	}
	return 2*row.Limited > len(readings)
}

// calibrated fills in what the calibrations know of the row's readings. Of a row in
// which most readings show the receiver's own noise nothing is subtracted: its levels
// are upper bounds, all alike.
func calibrated(row *result.FloorRow, readings []floorReading, said *calibrationDoubts) {
	bound := limited(row, readings)
	if bound {
		said.limited++
	}
	var margins, dBm, gains, owns []float64
	var square, noise float64 // dB², and the largest standard error in dB
	var budget level.Budget   // the widest
	var levels rowLevels
	over := map[string]int{}
	for _, r := range readings {
		var correction float64
		if margin, ok := r.calibration.Margin(r.Reading); ok {
			margins = append(margins, margin)
			over[r.calibration.Noise.Basis]++
			if r.calibration.Unmeasured {
				said.unmeasured = append(said.unmeasured, row.Setup)
			}
			noise = max(noise, float64(r.calibration.Noise.Sigma))
			if !bound {
				correction = r.calibration.Noise.Correction(margin)
				gain, own := r.calibration.Noise.Errors(margin)
				gains, owns = append(gains, gain), append(owns, own)
			}
		}
		if sigma := float64(r.Floor.Sigma); stats.Finite(sigma) {
			square += sigma * sigma
		}
		if r.calibration != nil && r.calibration.Level != nil {
			l := r.calibration.Level
			dBm = append(dBm, float64(r.Floor.Density)+correction+float64(l.FullScale)+r.before)
			if b := l.Budget(r.Start); b.Total() > budget.Total() {
				budget = b
			}
			levels.add(l)
		}
	}
	if len(margins) > 0 && 2*len(margins) >= len(readings) {
		row.Margin = result.DB(stats.Median(margins))
		most := slices.MaxFunc(slices.Sorted(maps.Keys(over)), func(a, b string) int { return over[a] - over[b] })
		row.MarginOver = &most
		switch {
		case *row.Margin >= misfit:
		case most == input.ByCalibration:
			said.misfit++
		default:
			said.misfitControl++
		}
	}
	if len(dBm) == 0 || 2*len(dBm) < len(readings) {
		return
	}
	slices.Sort(dBm)
	row.DBmHz = quantiles(dBm)
	// The readings' own errors average out, those of the calibration do not. The
	// median of n has π/2 times the variance of their mean.
	n := float64(len(readings))
	own := math.Sqrt(math.Pi/2*square) / n
	if len(gains) > 0 && row.Margin != nil {
		own, noise = own*stats.Median(gains), noise*stats.Median(owns)
	} else {
		noise = 0
	}
	budget.Noise = survey.DB(math.Hypot(float64(budget.Noise), math.Hypot(own, noise)))
	row.DBmBudget, row.DBmSigma = &budget, new(budget.Total())
	if !bound && row.Margin != nil && *row.Margin < input.PlainMargin {
		said.corrected++
	}
	said.levels(levels)
}

// rowLevels are what is to be said of the levels behind a row.
type rowLevels struct {
	figure, far bool
	moved       survey.DB
}

func (r *rowLevels) add(l *level.Level) {
	r.figure, r.far, r.moved = r.figure || !l.Measured(), r.far || l.Far, max(r.moved, l.Moved)
}

// movedDoubted is by how much a receiver may move between two calibrations of the level before it is doubted: more
// than some tenths of a dB with temperature (PHYSICS.md 7.11). TestDriftThroughTheNight fails when it moves.
const movedDoubted survey.DB = 0.5

// calibrationDoubts counts rows by what is to be said of them.
type calibrationDoubts struct {
	limited, corrected, figure, far, moved int
	misfit, misfitControl                  int            // under what a calibration, and a control, showed
	most                                   survey.DB      // that any moved
	unmeasured                             []survey.Setup // with an amplifier whose noise is not known, as often as readings show it
}

func (c *calibrationDoubts) levels(r rowLevels) {
	if r.figure {
		c.figure++
	}
	if r.far {
		c.far++
	}
	if r.moved > movedDoubted {
		c.moved++
		c.most = max(c.most, r.moved)
	}
}

// doubts says what speaks against levels and margins that rest on a calibration.
func (c calibrationDoubts) doubts(rows int, setups []survey.Setup) (doubts []doubt.Doubt) {
	add := func(n int, k doubt.Kind) {
		if n > 0 {
			doubts = append(doubts, doubt.New(k, n, doubt.Count{N: rows, Noun: "row"}))
		}
	}
	add(c.limited, doubt.LimitedRows)
	add(c.corrected, doubt.CorrectedRows)
	add(c.misfit, doubt.MisfitRows)
	add(c.misfitControl, doubt.MisfitControl)
	add(c.figure, doubt.FigureRows)
	who := slices.DeleteFunc(setups, func(s survey.Setup) bool { return !slices.Contains(c.unmeasured, s) })
	if len(who) > 0 {
		doubts = append(doubts, doubt.Doubt{Kind: doubt.AmplifierUnknown, About: who})
	}
	add(c.far, doubt.FarRows)
	if c.moved > 0 {
		doubts = append(doubts, doubt.New(doubt.MovedRows, c.moved, doubt.Count{N: rows, Noun: "row"}, float64(c.most)))
	}
	return doubts
}

// floorDoubts says what of the floors by the hour was left out, what compares
// with nothing, and what may hold images.
func floorDoubts(left, apart, imaged, rows int) (doubts []doubt.Doubt) {
	if left > 0 {
		doubts = append(doubts, doubt.New(doubt.LeftOutOfHours, doubt.Count{N: left, Noun: "reading"}))
	}
	switch {
	case apart == 0:
	case apart == rows:
		doubts = append(doubts, doubt.New(doubt.NoGain))
	default:
		doubts = append(doubts, doubt.New(doubt.RowsApart, apart, doubt.Count{N: rows, Noun: "row"}))
	}
	if imaged > 0 {
		doubts = append(doubts, doubt.New(doubt.ImagedRows, imaged, doubt.Count{N: rows, Noun: "row"}))
	}
	return doubts
}

// quantiles gives the 10th, 50th and 90th percentile, nil of none.
func quantiles(sorted []float64) *result.Quantiles {
	if len(sorted) == 0 {
		return nil
	}
	return &result.Quantiles{P10: stats.Quantile(sorted, 0.1), P50: stats.Quantile(sorted, 0.5), P90: stats.Quantile(sorted, 0.9)}
}
