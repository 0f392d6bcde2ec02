package onair

import (
	"math"
	"slices"
	"sync"

	"nightfloor/reports/input"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A band is one amateur band, its visits put together by setup and round.
type band struct {
	segment survey.Segment
	slots   int
	house   map[input.RoundKey][]bool // slots that hold what the house makes, in rounds where that was found
	cells   map[cellKey]*cell
	open    visit // to which readings are still being added
	judging sync.Mutex
	judged  bool // the cells have their quantiles
}

// A cell is what one round holds through one setup.
type cell struct {
	readings float64
	excess   []float64 // by slot: mean over the readings
	quiet    []float64 // by slot: lower quartile over the readings, mean over the visits, over the noise about it
	sigma    float64   // of excess where nothing is on the air
	quantile []float64 // of excess over the slots that count; nil: too few of them do
	counted  int       // slots
}

// A visit is the readings of a stay, by reading and slot.
type visit struct {
	key     visitKey
	seconds float64
	slots   [][]float64 // over the floor
}

func newBand(segment survey.Segment) *band {
	return &band{segment: segment, slots: slotCount(segment), house: map[input.RoundKey][]bool{}, cells: map[cellKey]*cell{}}
}

// lineReach is how far the power of a comb's line reaches, in Hz, beside half its wobble: a
// line modulated by the mains has sidebands of twice and four times 60 Hz, and each is seen two
// resolutions wide. Chosen; TestCombLinesDoNotCount.
const lineReach = 500.0

// leaveOut notes the slots that hold the lines of combs, and humps narrower than the noise about
// them is averaged over, that were found in a reading.
func (b *band) leaveOut(round input.RoundKey, r *survey.Reading) {
	for _, f := range r.Findings {
		switch {
		case !f.Detected():
		case f.Kind == survey.FindingComb && f.Spacing > 0:
			first := math.Ceil(float64((b.segment.Low - lineReach) / f.Spacing))
			for n := survey.Hz(first); n*f.Spacing < b.segment.High+lineReach; n++ {
				reach := lineReach + n*f.Width/2
				b.take(round, n*f.Spacing-reach, n*f.Spacing+reach)
			}
		case f.Kind == survey.FindingHump && f.High-f.Low < (2*aboutSlots+1)*SlotWidth:
			b.take(round, f.Low, f.High)
		}
	}
}

// take leaves the slots between two frequencies out of a round.
func (b *band) take(round input.RoundKey, low, high survey.Hz) {
	if b.house[round] == nil {
		b.house[round] = make([]bool, b.slots)
	}
	at := func(f survey.Hz) int { return int(math.Floor(float64((f - b.segment.Low) / SlotWidth))) }
	for i := max(0, at(low)); i <= min(at(high), b.slots-1); i++ {
		b.house[round][i] = true
	}
}

// add adds a reading to its visit.
func (b *band) add(key visitKey, slots []float64, seconds float64) {
	if len(slots) == 0 || !(seconds > 0) {
		return
	}
	if key != b.open.key {
		b.close()
		b.open = visit{key: key}
	}
	b.open.slots, b.open.seconds, b.judged = append(b.open.slots, slots), b.open.seconds+seconds, false
}

// close puts the open visit into its cell.
func (b *band) close() {
	v := b.open
	b.open = visit{}
	if len(v.slots) == 0 {
		return
	}
	c := b.cells[v.key.cellKey]
	if c == nil {
		c = &cell{excess: make([]float64, b.slots), quiet: make([]float64, b.slots)}
		b.cells[v.key.cellKey] = c
	}
	n := float64(len(v.slots))
	level, sigma := v.noise(b.slots)
	all, old := c.readings+n, c.readings
	one := make([]float64, len(v.slots))
	for i := range b.slots {
		for j, slots := range v.slots {
			one[j] = slots[i]/level[i] - 1
		}
		mean, _ := stats.MeanVariance(one)
		slices.Sort(one)
		c.excess[i] = (old*c.excess[i] + n*mean) / all
		// What noise alone would have there is added, so that a quiet slot has 0.
		c.quiet[i] = (old*c.quiet[i] + n*(stats.Quantile(one, 0.25)+quietBias*sigma)) / all
	}
	variance := sigma * sigma / n
	c.sigma = math.Sqrt(old*old*c.sigma*c.sigma+n*n*variance) / all
	c.readings = all
}

// The noise about a slot is told by the slots within aboutSlots on either side, 50 kHz in all as
// in METHODS.md 4.1, in all readings of the visit: their lower quartile stands 0.674 standard
// deviations under the mean of what is quiet, the twentieth part 1.645. In so busy a band that half of
// the slots are taken the level reads up to a standard deviation too high (3 % of the noise in half a second).
// Chosen; a third of it serves as well, with three times as much
// TestWhichSlotsAndQuantilesCount fails.
const (
	aboutSlots  = 10
	lowQuartile = 0.674
	lowest      = 1.645
	// quietBias is by how many of a reading's standard deviations the lower quartile over rounds, of
	// lower quartiles over a visit's readings, stands under the mean where there is only noise: 0.65
	// with one reading a visit, 0.75, 0.82, 0.84 and 0.79 with 2, 3, 5 and 30, in 24 rounds (simulated).
	quietBias = 0.8
)

// noise gives the level of the noise about each slot, and the standard deviation of one
// reading's slot in parts of it.
func (v visit) noise(slots int) (level []float64, sigma float64) {
	level = make([]float64, slots)
	var spreads []float64
	const group = aboutSlots/2 + 1 // slots that share a level
	var about []float64
	for from := 0; from < slots; from += group {
		to := min(slots, from+group)
		first := max(0, min((from+to)/2-aboutSlots, slots-2*aboutSlots-1))
		about = about[:0]
		for _, s := range v.slots {
			about = append(about, s[first:min(slots, first+2*aboutSlots+1)]...)
		}
		slices.Sort(about)
		quartile := stats.Quantile(about, 0.25)
		spread := (quartile - stats.Quantile(about, 0.05)) / (lowest - lowQuartile)
		for i := from; i < to; i++ {
			level[i] = quartile + lowQuartile*spread
		}
		spreads = append(spreads, spread/level[from])
	}
	// Steady noise scatters by no less than this.
	least := 1 / math.Sqrt(float64(SlotWidth)*v.seconds/float64(len(v.slots)))
	return level, max(least, stats.Median(spreads))
}
