package reports

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"nightfloor/survey"
)

type floorKey struct {
	segment survey.Segment
	setup   survey.Setup
	hour    time.Time
}

// A floorHour gathers what becomes one row.
type floorHour struct {
	gains    gainTally
	readings []levelAtGain
}

type levelAtGain struct {
	level float64 // dBFS/Hz
	gain  survey.Gain
}

// FloorOf gives the quantiles of the floor for each segment, setup and hour (UTC)
// in which there are readings. Overloaded readings and those without a floor are
// left out; the receiver's own noise is not: there the floor is an upper bound.
//
// Levels are referred to one gain a segment, see segmentGains. A row of which most
// readings cannot be referred to it stands at the gain that serves most of them,
// and its Gain is nil; the readings of a row that do not fit its gain are left out
// and counted in the doubts. Levels at the antenna, Fa and receiver margin are nil:
// they ask for a calibration.
func FloorOf(in Input, opts Options) FloorTable {
	in = Select(in, opts)
	table := FloorTable{Schema: SchemaFloor, Simulated: in.simulated(), Rows: []FloorRow{}, Doubts: []string{}}
	hours := floorHours(in)
	ref, _, _ := Reference(in, opts.Reference) // an error is the ranking's to tell: none of the setups then
	gains := segmentGains(in, ref)
	var left, apart int
	for k, h := range hours {
		segment := gains[k.segment.Name]
		to := h.gains.common(segment)
		levels := h.at(to)
		left += h.gains.all() - len(levels)
		row := FloorRow{Segment: k.segment.Name, Low: k.segment.Low, High: k.segment.High,
			Setup: k.setup, From: k.hour, To: k.hour.Add(time.Hour), Readings: len(levels),
			Gain: gainOf(to, segment), DBFSHz: quantiles(levels)}
		if row.Gain == nil {
			apart++
		}
		table.Rows = append(table.Rows, row)
	}
	table.Doubts = append(table.Doubts, floorDoubts(left, apart, len(hours))...)
	seen := in.setups()
	slices.SortFunc(table.Rows, func(a, b FloorRow) int {
		return cmp.Or(cmp.Compare(a.Low, b.Low), cmp.Compare(a.High, b.High), cmp.Compare(a.Segment, b.Segment),
			cmp.Compare(slices.Index(seen, a.Setup), slices.Index(seen, b.Setup)), a.From.Compare(b.From))
	})
	return table
}

func floorHours(in Input) map[floorKey]*floorHour {
	hours := map[floorKey]*floorHour{}
	for _, s := range in.Sweeps {
		for i := range s.Readings {
			r := &s.Readings[i]
			if !levelled(r) {
				continue
			}
			k := floorKey{r.Segment, s.Setup, r.Start.UTC().Truncate(time.Hour)}
			if hours[k] == nil {
				hours[k] = &floorHour{}
			}
			hours[k].gains.add(r.Gain)
			hours[k].readings = append(hours[k].readings, levelAtGain{float64(r.Floor.Density), r.Gain})
		}
	}
	return hours
}

// at gives the levels that can be referred to the gain, at that gain, in rising order.
func (h *floorHour) at(to survey.Gain) []float64 {
	levels := make([]float64, 0, len(h.readings))
	for _, r := range h.readings {
		if lower, ok := refer(r.gain, to); ok {
			levels = append(levels, r.level-float64(lower))
		}
	}
	slices.Sort(levels)
	return levels
}

// floorDoubts says what of the floors by the hour was left out, and what compares
// with nothing.
func floorDoubts(left, apart, rows int) []string {
	var doubts []string
	if left > 0 {
		doubts = append(doubts, count(left, "reading")+" left out of the floors by the hour: the gain changed within the hour by an unknown amount")
	}
	switch {
	case apart == 0:
	case apart == rows:
		doubts = append(doubts, "no gain of the receiver is known: floors in dBFS/Hz of different hours and setups do not compare")
	default:
		doubts = append(doubts, fmt.Sprintf("%d of %s of floors by the hour were taken at a gain that is not known against the others': they compare with no other",
			apart, count(rows, "row")))
	}
	return doubts
}
