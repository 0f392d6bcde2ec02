package matrix

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/survey"
)

// identities tells carriers apart by frequency over the readings of one segment,
// taken in order of time, so that a line may drift.
type identities struct {
	lines []*identity // in order of frequency
	count int
}

type identity struct {
	id        int
	frequency float64 // Hz, where it was last seen
}

// reach is how far a line may stand from where it was last and still be the
// same, in Hz: half the resolution, since two lines closer than the resolution are
// one to the receiver; 5 Hz at least.
func reach(r *survey.Reading) float64 { return max(5, float64(r.Resolution)/2) }

type pairing struct {
	distance float64
	carrier  int
	line     *identity
}

// assign gives the identity of each carrier of a reading. Within a reading no
// two carriers are one line: the nearest pairs are joined first, and a carrier that is
// left over is a new line.
func (ids *identities) assign(r *survey.Reading) []int {
	got := make([]int, len(r.Carriers))
	order := make([]int, len(r.Carriers))
	for i := range order {
		got[i], order[i] = -1, i
	}
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Compare(r.Carriers[a].Frequency, r.Carriers[b].Frequency)
	})
	pairs := ids.within(r, order)
	slices.SortStableFunc(pairs, func(a, b pairing) int { return cmp.Compare(a.distance, b.distance) })
	taken := make(map[int]bool, len(order))
	for _, p := range pairs {
		if got[p.carrier] >= 0 || taken[p.line.id] {
			continue
		}
		got[p.carrier] = p.line.id
		taken[p.line.id] = true
		if r.Carriers[p.carrier].Detected { // a forced measurement tells no frequency
			// Half of the way: follows a drift, averages the scatter.
			p.line.frequency += (float64(r.Carriers[p.carrier].Frequency) - p.line.frequency) / 2
		}
	}
	for i, id := range got {
		if id < 0 {
			got[i] = ids.count
			ids.lines = append(ids.lines, &identity{ids.count, float64(r.Carriers[i].Frequency)})
			ids.count++
		}
	}
	slices.SortFunc(ids.lines, func(a, b *identity) int { return cmp.Compare(a.frequency, b.frequency) })
	return got
}

// within gives all pairs of a carrier and a known line in reach of each other.
func (ids *identities) within(r *survey.Reading, order []int) []pairing {
	limit := reach(r)
	pairs := make([]pairing, 0, len(order))
	first := 0
	for _, c := range order {
		f := float64(r.Carriers[c].Frequency)
		for first < len(ids.lines) && ids.lines[first].frequency < f-limit {
			first++
		}
		for _, line := range ids.lines[first:] {
			if line.frequency > f+limit {
				break
			}
			pairs = append(pairs, pairing{math.Abs(line.frequency - f), c, line})
		}
	}
	return pairs
}

// frequencies gives where each line stands, by identity.
func (ids *identities) frequencies() []float64 {
	f := make([]float64, ids.count)
	for _, l := range ids.lines {
		f[l.id] = l.frequency
	}
	return f
}
