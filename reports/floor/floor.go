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
	"nightfloor/survey/ambient"
	"nightfloor/survey/level"
)

// misfit is how far below the receiver's own noise, less a terminator's kT0, a floor must stand to
// show that the calibration is of another receiver, or of another state of this one. Chosen
// (STATISTICS.md 5.2); TestMarginPolicy and TestAntennaUnderTheTerminator fail when it moves.
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
	antenna     survey.Antenna
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
	gains, antennas := in.SegmentGains(), in.Antennas()
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
		before := said
		calibrated(&row, readings, &said)
		said.forget(before, antennas[k.setup])
		if slices.ContainsFunc(readings, func(r floorReading) bool { return r.ownNoise() && !input.SameGain(r.Gain.DB-to.DB) }) {
			said.otherGain = append(said.otherGain, k.setup)
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
			hours[k].readings = append(hours[k].readings, floorReading{r, in.CalibrationOf(s, i), antenna})
		}
	}
	return hours
}

// ownNoise tells whether a reading shows own noise in the main.
func (r floorReading) ownNoise() bool {
	return r.antenna.Control() || r.Quality.Has(survey.FlagReceiverLimited)
}

// atAntenna refers a level in dBm/Hz at the receiver to the antenna's terminals: less what an amplifier adds and what the feed
// line takes off. That makes thermal noise of its own, kT0·(loss − 1) at the terminals, which is taken out where own noise
// is, if a dummy did not show both; beside an amplifier's it is nothing.
func (r floorReading) atAntenna(dBm float64, ownOut bool) float64 {
	loss := float64(r.antenna.CableLoss)
	dBm += loss - float64(r.antenna.Amplifier)
	if !ownOut || r.calibration.Noise.Basis == input.ByReplaced || r.antenna.HasAmplifier() || r.Quality.Has(survey.FlagReceiverLimited) {
		return dBm
	}
	return stats.Decibel(stats.FromDecibel(dBm) - stats.FromDecibel(float64(level.RoomNoise))*(stats.FromDecibel(loss)-1))
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
// which most readings show the receiver's own noise, or of which that is not known, nothing is
// subtracted: its levels are upper bounds, all alike.
func calibrated(row *result.FloorRow, readings []floorReading, said *calibrationDoubts) {
	bound := limited(row, readings)
	if bound {
		said.limited++
	}
	noise, levels := rowNoise{bound: bound, over: map[string]int{}}, rowLevels{}
	for _, r := range readings {
		noise.add(r)
	}
	noise.tell(row, len(readings), said)
	for _, r := range readings {
		levels.add(r, noise.correction(r))
	}
	if len(levels.dBm) == 0 || 2*len(levels.dBm) < len(readings) {
		return
	}
	levels.into(row, &noise, len(readings))
	if fa, ok := figures(row, readings[len(readings)-1].antenna); ok {
		row.Fa = fa
		said.figures = append(said.figures, row.Setup)
	}
	if noise.bound && !bound {
		said.unknown++
	}
	if !bound && row.Margin != nil && *row.Margin < input.PlainMargin {
		said.corrected++
	}
	said.levels(levels)
}

// rowNoise gathers how the floors of a row stand over their own noise.
type rowNoise struct {
	bound      bool           // nothing is taken out
	over       map[string]int // readings by what their own noise was measured by
	unmeasured bool           // there is an amplifier whose noise is not known
	sigma      float64        // the largest standard error of own noise, dB
	thermal    float64        // the largest share of it that is kT0
	// By reading: the margin, and how many times errors of floor and own noise count.
	margins, floors, owns []float64
}

// add takes a reading.
func (n *rowNoise) add(r floorReading) {
	n.unmeasured = n.unmeasured || r.calibration != nil && r.calibration.Unmeasured
	margin, ok := r.calibration.Margin(r.Reading)
	if !ok {
		return
	}
	own := r.calibration.Noise
	n.over[own.Basis]++
	n.sigma, n.thermal = max(n.sigma, float64(own.Sigma)), max(n.thermal, own.Thermal)
	floor, noise := own.Errors(margin)
	n.margins, n.floors, n.owns = append(n.margins, margin), append(n.floors, floor), append(n.owns, noise)
}

// correction gives by how many dB a reading's floor is to be changed.
func (n *rowNoise) correction(r floorReading) float64 {
	margin, ok := r.calibration.Margin(r.Reading)
	if n.bound || !ok {
		return 0
	}
	return r.calibration.Noise.Correction(margin)
}

// tell gives a row its margin, where half of its readings have one; else nothing is taken out.
func (n *rowNoise) tell(row *result.FloorRow, readings int, said *calibrationDoubts) {
	if n.unmeasured {
		said.unmeasured = append(said.unmeasured, row.Setup)
	}
	if len(n.margins) == 0 || 2*len(n.margins) < readings {
		n.bound = true
		return
	}
	row.Margin = result.DB(stats.Median(n.margins))
	most := slices.MaxFunc(slices.Sorted(maps.Keys(n.over)), func(a, b string) int { return n.over[a] - n.over[b] })
	row.MarginOver = &most
	switch limit := min(misfit, -1.96*n.sigma); { // NaN: it may be anything
	case !(float64(*row.Margin) < limit+stats.Decibel(1-n.thermal)):
	case most == input.ByCalibration:
		said.misfit = append(said.misfit, row.Setup)
	default:
		said.misfitControl = append(said.misfitControl, row.Setup)
	}
}

// error gives what an error of the readings comes to once own noise is out of them: they average out, that of
// own noise does not.
func (n *rowNoise) error(readings float64) float64 {
	if n.bound {
		return readings
	}
	return math.Hypot(readings*stats.Median(n.floors), n.sigma*stats.Median(n.owns))
}

// figures gives the external noise figures of a row with levels in dBm, where the antenna's factor is known. An amplifier is
// in the factor, so that its gain is put back.
func figures(row *result.FloorRow, a survey.Antenna) (*result.Quantiles, bool) {
	if a.Factor == nil || a.Control() {
		return nil, false
	}
	of := func(dBm float64) float64 {
		return float64(ambient.FigureOf(survey.DBmPerHz(dBm)+survey.DBmPerHz(a.Amplifier), a, (row.Low+row.High)/2))
	}
	q := row.DBmHz
	return &result.Quantiles{P10: of(q.P10), P50: of(q.P50), P90: of(q.P90)}, true
}

// rowLevels are the levels in dBm of a row's readings, and what is to be said of them.
type rowLevels struct {
	dBm         []float64
	square      float64      // of the readings' standard errors, dB²
	budget      level.Budget // the widest
	figure, far bool
	moved       survey.DB
}

// add takes a reading with what is to be added to its floor.
func (l *rowLevels) add(r floorReading, correction float64) {
	if sigma := float64(r.Floor.Sigma); stats.Finite(sigma) {
		l.square += sigma * sigma
	}
	if r.calibration == nil || r.calibration.Level == nil {
		return
	}
	full := r.calibration.Level
	l.dBm = append(l.dBm, r.atAntenna(float64(r.Floor.Density)+correction+float64(full.FullScale), correction < 0))
	if b := full.Budget(r.Start); b.Total() > l.budget.Total() {
		l.budget = b
	}
	l.figure, l.far, l.moved = l.figure || !full.Measured(), l.far || full.Far, max(l.moved, full.Moved)
}

// into puts the levels into the row. The median of n readings has π/2 times the variance of their mean.
func (l rowLevels) into(row *result.FloorRow, n *rowNoise, readings int) {
	slices.Sort(l.dBm)
	row.DBmHz, row.DBmBound = quantiles(l.dBm), &n.bound
	own := math.Sqrt(math.Pi/2*l.square) / float64(readings)
	l.budget.Noise = survey.DB(math.Hypot(float64(l.budget.Noise), n.error(own)))
	row.DBmBudget, row.DBmSigma = &l.budget, new(l.budget.Total())
}

// movedDoubted is by how much a receiver may move between two calibrations of the level before it is doubted: more
// than some tenths of a dB with temperature (PHYSICS.md 7.11). TestDriftThroughTheNight fails when it moves.
const movedDoubted survey.DB = 0.5

// calibrationDoubts counts rows by what is to be said of them.
type calibrationDoubts struct {
	limited, unknown, corrected, figure, far, moved int
	misfit, misfitControl                           []survey.Setup // by row: under what a calibration, and a control, showed
	most                                            survey.DB      // that any moved
	unmeasured                                      []survey.Setup // with an amplifier whose noise is not known, as often as readings show it
	otherGain                                       []survey.Setup // whose own noise was taken at another gain, by row
	figures                                         []survey.Setup // with external noise figures, by row
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

// forget leaves out of the counts that a control shows own noise, which it is to, and that the receiver's is not what a
// calibration found, which the terminator at its input is there for.
func (c *calibrationDoubts) forget(before calibrationDoubts, a survey.Antenna) {
	if a.Control() {
		c.limited, c.unknown, c.corrected = before.limited, before.unknown, before.corrected
	}
	if a.AtReceiver() {
		c.misfit = before.misfit
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
	add(c.unknown, doubt.OwnUnknownRows)
	add(c.corrected, doubt.CorrectedRows)
	of := func(some []survey.Setup) []survey.Setup {
		return slices.DeleteFunc(slices.Clone(setups), func(s survey.Setup) bool { return !slices.Contains(some, s) })
	}
	name := func(some []survey.Setup, k doubt.Kind) {
		if n := len(some); n > 0 {
			doubts = append(doubts, doubt.Doubt{Kind: k, About: of(some), Figures: []any{n, doubt.Count{N: rows, Noun: "row"}}})
		}
	}
	name(c.misfit, doubt.MisfitRows)
	name(c.misfitControl, doubt.MisfitControl)
	add(c.figure, doubt.FigureRows)
	if who := of(c.unmeasured); len(who) > 0 {
		doubts = append(doubts, doubt.Doubt{Kind: doubt.AmplifierUnknown, About: who})
	}
	if who := of(c.figures); len(who) > 0 {
		doubts = append(doubts, doubt.Doubt{Kind: doubt.ExternalFigures, About: who})
	}
	name(c.otherGain, doubt.OtherGainRows)
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
