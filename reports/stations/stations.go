package stations

import (
	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/noise"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// Known is what is known of the house beside the segment itself.
type Known struct {
	Found    *noise.Found          // the noise sources of the selection; nil: none were sought
	Controls map[survey.Setup]bool // terminators in place of an antenna
}

// Lines are the lines of a segment that were heard often enough, by index into the matrix's. Each
// is in one of the lists: a station, or why it is not taken for one.
type Lines struct {
	Stations  []int
	Own       []int // the receiver's
	Comb      []int // of a noise source's comb
	OffRaster []int // off the raster of a broadcast band
	Unproven  []int // there is no raster, and nothing else shows that it is a station
	Control   []int // heard nearly as well with a terminator in place of the antenna
	Hours     []int // comes and goes with a noise source
}

// Heard counts all of them.
func (l *Lines) Heard() int {
	return len(l.Stations) + len(l.Own) + len(l.Comb) + len(l.OffRaster) + len(l.Unproven) + len(l.Control) + len(l.Hours)
}

// A Finder finds the stations of one segment.
type Finder struct {
	m        *matrix.Matrix
	controls map[survey.Setup]bool
	combs    map[*matrix.Cell][]*combAt
	hours    []map[input.RoundKey]bool // by source: in which rounds it was on, and in which off
}

// New makes the finder of a segment.
func New(m *matrix.Matrix, known Known) *Finder {
	f := &Finder{m: m, controls: known.Controls}
	if known.Found != nil {
		f.combs, f.hours = combsOf(m, known.Found), known.Found.OnByRound()
	}
	return f
}

// In tells which lines are stations in these rounds. One that stands at a multiple of a comb is
// none, unless it is on the raster and there is more to show that it is one.
func (f *Finder) In(rounds []int) (out Lines) {
	var heard, rest []int // rest: those that are not known to be anything else
	comb, stronger, driven := map[int]bool{}, map[int]bool{}, f.driven(rounds)
	for line := range f.m.Lines {
		if !f.heardOften(line, rounds, driven) {
			continue
		}
		heard = append(heard, line)
		comb[line], stronger[line] = f.combed(line, rounds)
		if !f.m.Own[line] && !comb[line] {
			rest = append(rest, line)
		}
	}
	onRaster, seen := rasterOf(f.m, rest)
	changes := f.changesOver(rounds)
	for _, line := range heard {
		on, list := onRaster(line), &out.Stations
		switch {
		case f.m.Own[line]:
			list = &out.Own
		case comb[line] && !(on && (seen && stronger[line] || f.isStation(changes, line, heard))):
			list = &out.Comb
		case seen && !on:
			list = &out.OffRaster
		case !seen && !f.isStation(changes, line, heard):
			list = &out.Unproven
		case f.controlled(line, rounds):
			list = &out.Control
		case f.keepsHours(line, rounds):
			list = &out.Hours
		}
		*list = append(*list, line)
	}
	return out
}

// heardOften tells whether a line is heard through some antenna in enough of the rounds.
func (f *Finder) heardOften(line int, rounds []int, driven bool) bool {
	for k := range f.m.Setups {
		times, measured := f.heardThrough(k, line, rounds, driven), f.m.Measured(k, rounds)
		if times > 0 && (times >= matrix.HeardRounds || measured < stats.MinRounds && times == measured) {
			return true
		}
	}
	return false
}

// heardThrough counts the rounds in which a line is heard through an antenna, none through a control: what the
// converter's coarse steps make of a strong station, where no noise hides them, would count as stations there.
// Where some antenna drives the converter well, what is heard through one that does not is left out, too.
func (f *Finder) heardThrough(k, line int, rounds []int, driven bool) (times int) {
	if f.controls[f.m.Setups[k]] {
		return 0
	}
	for _, n := range rounds {
		if c := f.m.Cells[k][n]; c.Heard(line) && !(driven && c.IsCoarse()) {
			times++
		}
	}
	return times
}

// driven tells whether the converter is driven well through some antenna in some round.
func (f *Finder) driven(rounds []int) bool {
	for k, setup := range f.m.Setups {
		for _, n := range rounds {
			if c := f.m.Cells[k][n]; c != nil && !f.controls[setup] && !c.IsCoarse() {
				return true
			}
		}
	}
	return false
}
