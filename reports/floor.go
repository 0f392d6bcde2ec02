package reports

import (
	"cmp"
	"slices"
	"time"

	"nightfloor/survey"
)

// FloorOf gives the quantiles of the floor for each segment, setup and hour (UTC)
// in which there are readings. Overloaded readings and those without a floor are
// left out; the receiver's own noise is not: there the floor is an upper bound.
//
// Levels are as they were measured, at the gain of the time. Levels at the
// antenna, Fa and receiver margin are nil: they ask for a calibration.
func FloorOf(in Input, opts Options) FloorTable {
	in = Select(in, opts)
	table := FloorTable{Schema: SchemaFloor, Simulated: in.simulated(), Rows: []FloorRow{}}
	type key struct {
		segment survey.Segment
		setup   survey.Setup
		hour    time.Time
	}
	levels := map[key][]float64{}
	for _, s := range in.Sweeps {
		for i := range s.Readings {
			r := &s.Readings[i]
			if r.Floor == nil || r.Quality.Has(survey.FlagOverload) {
				continue
			}
			k := key{r.Segment, s.Setup, r.Start.UTC().Truncate(time.Hour)}
			levels[k] = append(levels[k], float64(r.Floor.Density))
		}
	}
	for k, l := range levels {
		slices.Sort(l)
		table.Rows = append(table.Rows, FloorRow{Segment: k.segment.Name, Low: k.segment.Low, High: k.segment.High,
			Setup: k.setup, From: k.hour, To: k.hour.Add(time.Hour), Readings: len(l), DBFSHz: quantiles(l)})
	}
	seen := in.setups()
	slices.SortFunc(table.Rows, func(a, b FloorRow) int {
		return cmp.Or(cmp.Compare(a.Low, b.Low), cmp.Compare(a.High, b.High), cmp.Compare(a.Segment, b.Segment),
			cmp.Compare(slices.Index(seen, a.Setup), slices.Index(seen, b.Setup)), a.From.Compare(b.From))
	})
	return table
}
