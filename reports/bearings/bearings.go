package bearings

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/noise"
	"nightfloor/reports/result"
	"nightfloor/reports/stations"
	"nightfloor/reports/stats"
	"nightfloor/reports/wording"
	"nightfloor/survey"
	"nightfloor/survey/level"
)

const (
	// leastDepth is what the low end of a depth's interval must reach for a null to be
	// claimed: what is shallower is of no use, and may be chance (STATISTICS.md 6.5).
	// TestNoNullIsClaimed fails when it moves.
	leastDepth = 3.0 // dB
	// leastBearings is how many bearings a null needs: one more than the pattern has
	// unknowns (STATISTICS.md 6.5). TestNoNullIsClaimed fails when it moves.
	leastBearings = 4
	// widestGap is the widest gap between bearings, in degrees, over which a null is claimed.
	// Chosen (STATISTICS.md 6.5); TestNoNullIsClaimed fails when it moves.
	widestGap = 90.0
	// sameBearing is within how many degrees bearings that were reached count as one. Chosen
	// (STATISTICS.md 6.5); TestOppositesReached fails when it moves.
	sameBearing = 2.0
)

// Of gives the pattern of each antenna that was heard in several bearings at one
// placement, in each segment: one of the floor, one of each carrier heard in enough
// rounds, one of each comb and of noise modulated by the mains. Null and depth
// come of the antenna's own bearings. Levels are against the reference setup; where it does
// not compare, against the antenna's first bearing, and the doubts say so, as they say what
// was left out. Found are the noise sources of the selection, nil where none were sought: their
// lines are no carriers.
func Of(in input.Selection, found *noise.Found) result.Bearings {
	b := result.Bearings{Schema: result.SchemaBearings, Simulated: in.Simulated(), Reference: in.Reference, Patterns: []result.Pattern{}, Doubts: []doubt.Doubt{}}
	if !anyTurned(in) {
		return b
	}
	controls, antennas := in.Controls(), in.Antennas()
	var sources []noise.Measured
	if found != nil {
		sources = found.Measured()
	}
	for _, segment := range in.Ranked() {
		m := matrix.New(in.Input, segment)
		k := slices.Index(m.Setups, in.Reference)
		finder := stations.New(m, stations.Known{Found: found, Controls: controls})
		for _, group := range turned(m.Setups) {
			antenna := m.Setups[group[0]]
			if controls[antenna] {
				continue
			}
			p := turns{matrix: m, asked: in.Reference, ref: k, setups: group, heard: sources, finder: finder}
			for e, s := range m.Setups {
				if antennas[s].Isolates(antennas[antenna]) {
					p.ends = append(p.ends, e)
				}
				if antennas[s].Serves(antennas[antenna]) {
					p.dummies = append(p.dummies, e)
				}
			}
			b.Patterns = append(b.Patterns, p.patterns()...)
			b.Doubts = append(b.Doubts, p.doubts...)
		}
	}
	return b
}

// anyTurned tells whether an antenna was heard in several bearings at one placement.
func anyTurned(in input.Selection) bool { return len(turned(in.Setups())) > 0 }

// turned gives the setups, by index, that are one antenna at one placement in several
// bearings, in order of bearing.
func turned(setups []survey.Setup) (groups [][]int) {
	for k, s := range setups {
		if !s.Bearing.Known {
			continue
		}
		i := slices.IndexFunc(groups, func(g []int) bool {
			return setups[g[0]].Antenna == s.Antenna && setups[g[0]].Placement == s.Placement
		})
		if i < 0 {
			i = len(groups)
			groups = append(groups, nil)
		}
		groups[i] = append(groups[i], k)
	}
	groups = slices.DeleteFunc(groups, func(g []int) bool { return len(g) < 2 })
	for _, g := range groups {
		slices.SortFunc(g, func(a, b int) int {
			return cmp.Compare(setups[a].Bearing.Deg, setups[b].Bearing.Deg)
		})
	}
	return groups
}

// turns are the visits of one antenna at one placement in its bearings, in one
// segment, beside those of the reference.
type turns struct {
	matrix  *matrix.Matrix
	asked   survey.Setup     // the reference asked for
	ref     int              // setup of the matrix that levels are against; −1: not measured
	setups  []int            // in order of bearing
	ends    []int            // controls that show what leaks into the antenna
	dummies []int            // those of them whose noise is taken out of its floor: in place of its element
	rounds  []int            // of the matrix, in which there is something to compare
	cells   [][]*matrix.Cell // by round and column, as in a bearingSeries; nil where nothing compares
	passed  [][]controlCell  // by round: what came through controls
	apart   bool             // of some it is not known how much that is, since a gain is not known
	factor  [][]float64
	own     []bool      // by column: most of its readings show the receiver's own noise
	taken   doubt.Doubt // that another reference was taken; zero where not
	doubts  []doubt.Doubt
	finder  *stations.Finder
	heard   []noise.Measured // sources whose patterns are asked for
	floor   *bearingSeries   // where it tells a pattern
}

// A controlCell is a cell of a control, and what brings its powers to the gain of its round.
type controlCell struct {
	setup  int
	cell   *matrix.Cell
	factor float64
	atMost bool // its gain does not compare: the factor is the greatest that it may be
}

// patterns gives the patterns of the floor, of the carriers and of the noise sources.
func (p *turns) patterns() (out []result.Pattern) {
	if !p.gather() {
		p.doubt(doubt.FewerThanTwo)
		return nil
	}
	if p.limited() {
		p.doubt(doubt.LimitedPattern)
	} else {
		floor := p.series(false, func(c *matrix.Cell) (power, sigma float64) { return c.External.Floor, c.External.Sigma })
		floor.floors = p.cells
		if pattern, ok := p.pattern(floor, result.OfFloor); ok {
			out = append(out, pattern)
		}
	}
	if p.taken.Kind != "" && len(out) == 0 {
		p.doubt(p.taken.Kind, p.taken.Figures...)
	}
	m := p.matrix
	heard := p.finder.In(p.rounds)
	lines := append(heard.Stations, heard.Unproven...) // any line that stays has a pattern
	slices.SortFunc(lines, func(a, b int) int { return cmp.Compare(m.Lines[a], m.Lines[b]) })
	for _, line := range lines {
		t := p.series(false, func(c *matrix.Cell) (power, sigma float64) { return c.Snr[line] * c.Floor, c.Sigma[line] * c.Floor })
		if pattern, ok := p.pattern(t, result.OfCarrier); ok && pattern.Rounds >= stats.MinRounds {
			frequency := survey.Hz(m.Lines[line])
			pattern.Frequency = &frequency
			out = append(out, pattern)
		}
	}
	return append(out, p.sources()...)
}

// doubt notes what speaks against the antenna's patterns in this segment.
func (p *turns) doubt(k doubt.Kind, figures ...any) {
	s := p.matrix.Setups[p.setups[0]]
	s.Bearing = survey.Bearing{}
	p.doubts = append(p.doubts, doubt.Doubt{Kind: k, About: []survey.Setup{s}, Segment: p.matrix.Segment.Name, Figures: figures})
}

// gather finds the reference, and the rounds, bearings and cells of which levels
// compare; ok is false where no two bearings are left.
func (p *turns) gather() (ok bool) {
	measured := p.compare()
	own := slices.Contains(p.setups, p.ref)
	if p.ref < 0 || own && measured[p.ref] == 0 || !own && 2*measured[p.ref] < len(p.rounds) {
		p.refer(measured)
		measured = p.compare()
	}
	p.tellLeftOut(measured)
	all := p.setups
	p.setups = slices.DeleteFunc(slices.Clone(all), func(k int) bool { return measured[k] == 0 })
	if len(p.setups) < 2 {
		p.setups = all[:1]
		return false
	}
	p.compare()
	return true
}

// columns gives the setups, by column.
func (p *turns) columns() []int {
	if p.ref < 0 || slices.Contains(p.setups, p.ref) {
		return p.setups
	}
	return append(slices.Clone(p.setups), p.ref)
}

// compare finds the rounds in which two columns compare, with their cells, and in how many of
// them each setup does.
func (p *turns) compare() (measured map[int]int) {
	p.rounds, p.cells, p.factor, p.passed, p.apart, measured = nil, nil, nil, nil, false, map[int]int{}
	columns := p.columns()
	for n := range p.matrix.Rounds {
		base, some := p.base(n), 0
		cells, factor := make([]*matrix.Cell, len(columns)), make([]float64, len(columns))
		for c, k := range columns {
			if lower, ok := against(p.matrix.Cells[k][n], base); ok {
				cells[c], factor[c], some = p.matrix.Cells[k][n], stats.FromDecibel(-float64(lower)), some+1
			}
		}
		if some < 2 {
			continue
		}
		p.rounds, p.cells, p.factor, p.passed = append(p.rounds, n), append(p.cells, cells), append(p.factor, factor), append(p.passed, p.through(n, base))
		for c, k := range columns {
			if cells[c] != nil {
				measured[k]++
			}
		}
	}
	return measured
}

// through gives what came through controls in a round, brought to the gain of the antenna's cell.
func (p *turns) through(n int, base *matrix.Cell) (passed []controlCell) {
	for _, k := range p.ends {
		c := p.matrix.Cells[k][n]
		switch lower, ok := against(c, base); {
		case c == nil:
		case ok:
			passed = append(passed, controlCell{k, c, stats.FromDecibel(-float64(lower)), false})
		case c.Gain.Known && base.Gain.Known:
			passed = append(passed, controlCell{k, c, stats.FromDecibel(float64(level.MostStep - lower)), true})
		default:
			p.apart = true
		}
	}
	return passed
}

// base gives the antenna's cell of a round with which the most of its cells compare, of
// equally many one with which the reference's does; nil where it was not measured.
func (p *turns) base(n int) (best *matrix.Cell) {
	most := 0
	for _, k := range p.setups {
		b, sum := p.matrix.Cells[k][n], 0
		for _, j := range p.columns() {
			if _, ok := against(p.matrix.Cells[j][n], b); ok {
				sum++
				if slices.Contains(p.setups, j) {
					sum++
				}
			}
		}
		if sum > most {
			best, most = b, sum
		}
	}
	return best
}

// refer takes the antenna's own first bearing for the reference: the first that was
// measured in at least half as many rounds as any.
func (p *turns) refer(measured map[int]int) {
	there, most := 0, 0
	for _, n := range p.rounds {
		if p.ref >= 0 && p.matrix.Cells[p.ref][n] != nil {
			there++
		}
	}
	for _, k := range p.setups {
		most = max(most, measured[k])
	}
	if most == 0 {
		return
	}
	why := doubt.New(doubt.GainsApart, p.asked, p.gainless())
	switch {
	case there == 0:
		why = doubt.New(doubt.NotInItsRounds, p.asked)
	case 2*there < len(p.rounds):
		why = doubt.New(doubt.InFewOfItsRounds, p.asked, there, doubt.Count{N: len(p.rounds), Noun: "round"})
	}
	p.ref = p.setups[slices.IndexFunc(p.setups, func(k int) bool { return 2*measured[k] >= most })]
	p.taken = doubt.New(doubt.LevelsAgainst, p.matrix.Setups[p.ref], why)
}

// tellLeftOut tells of the visits that are left out, and what to do.
func (p *turns) tellLeftOut(measured map[int]int) {
	alone, apart := 0, 0
	for n := range p.matrix.Rounds {
		there, own := 0, 0
		for _, k := range p.columns() {
			if p.matrix.Cells[k][n] != nil {
				there++
				if slices.Contains(p.setups, k) {
					own++
				}
			}
		}
		if there == 1 {
			alone += own
		} else {
			apart += own
		}
	}
	for _, k := range p.setups {
		apart -= measured[k]
	}
	if alone > 0 {
		p.doubt(doubt.OneBearing, doubt.Count{N: alone, Noun: "round"})
	}
	if apart > 0 {
		advice := p.gainless()
		if advice.Kind == "" {
			advice.Kind = doubt.OneGain
		}
		p.doubt(doubt.VisitsApart, doubt.Count{N: apart, Noun: "visit"}, advice)
	}
}

// gainless gives advice where the gain of some recording is not known at all.
func (p *turns) gainless() doubt.Doubt {
	for _, k := range p.columns() {
		for _, c := range p.matrix.Cells[k] {
			if c != nil && !c.Gain.Known {
				return doubt.New(doubt.GiveGain)
			}
		}
	}
	return doubt.Doubt{}
}

// against gives by how much levels of a cell are to be lowered to compare with another's
// of the same round; ok is false where one was not measured.
func against(c, other *matrix.Cell) (lower survey.DB, ok bool) {
	if c == nil || other == nil {
		return 0, false
	}
	if c == other {
		return 0, true
	}
	return c.Gain.Comparable(other.Gain)
}

// limited tells whether most readings of all bearings, or of a reference that is none of
// them, show the receiver's own noise; own then holds for which bearings they do.
func (p *turns) limited() bool {
	columns := len(p.cells[0])
	own, readings := make([]int, columns), make([]int, columns)
	p.own = make([]bool, columns)
	var allOwn, all int
	for _, cells := range p.cells {
		for c, cell := range cells {
			if cell != nil {
				own[c], readings[c] = own[c]+cell.Limited, readings[c]+cell.Readings
			}
		}
	}
	for c := range own {
		p.own[c] = 2*own[c] > readings[c]
		if c < len(p.setups) {
			allOwn, all = allOwn+own[c], all+readings[c]
		}
	}
	return 2*allOwn > all || columns > len(p.setups) && p.own[p.refColumn()]
}

// refColumn gives the reference's column: of its bearing, or one past them.
func (p *turns) refColumn() int {
	if i := slices.Index(p.setups, p.ref); i >= 0 {
		return i
	}
	return len(p.setups)
}

// series gives one thing's powers, or the squares of them, as value takes them out of a cell.
func (p *turns) series(square bool, value func(c *matrix.Cell) (power, sigma float64)) *bearingSeries {
	t := &bearingSeries{ref: p.refColumn(), factor: p.factor, square: square}
	for c := range p.setups {
		t.bearings = append(t.bearings, p.bearing(c))
	}
	take := func(c *matrix.Cell, f float64) (power, sigma float64) {
		if c == nil {
			return math.NaN(), 0
		}
		if square {
			f *= f
		}
		power, sigma = value(c)
		return power * f, sigma * f
	}
	for r, cells := range p.cells {
		power, sigma := make([]float64, len(cells)), make([]float64, len(cells))
		for c, cell := range cells {
			power[c], sigma[c] = take(cell, p.factor[r][c])
		}
		var passed []through
		for _, x := range p.passed[r] {
			if power, sigma := take(x.cell, x.factor); !math.IsNaN(power) {
				passed = append(passed, through{x.setup, power, sigma, x.cell.IsLimited() || slices.Contains(p.dummies, x.setup), x.atMost})
			}
		}
		t.power, t.sigma, t.through = append(t.power, power), append(t.sigma, sigma), append(t.through, passed)
	}
	return t
}

// bearing gives where a column's visits were seen to point, in the mean; the asked bearing
// where nothing measured it. Opposite bearings are one: it is given near the asked one.
func (p *turns) bearing(column int) float64 {
	asked := p.matrix.Setups[p.setups[column]].Bearing.Deg
	sum, seen := 0.0, 0.0
	for _, cells := range p.cells {
		if c := cells[column]; c != nil && c.Seen > 0 {
			sum, seen = sum+c.Off, seen+1
		}
	}
	if seen == 0 {
		return asked
	}
	return survey.BearingOf(math.Round(100*(asked+sum/seen)) / 100).Deg
}

// tellThin holds it against a pattern of the floor where the receiver's own noise, taken
// out of it, is not far under it.
func (p *turns) tellThin(out *result.Pattern) {
	thin, all := 0, 0
	for _, cells := range p.cells {
		for _, c := range cells {
			if c != nil {
				all++
				if c.External.Thin > 0 {
					thin++
				}
			}
		}
	}
	if thin > 0 {
		out.Doubts = append(out.Doubts, doubt.New(doubt.ThinFloor, thin, doubt.Count{N: all, Noun: "visit"}, input.PlainMargin))
	}
}

// pattern fits one thing's pattern; ok is false where there are no two levels.
func (p *turns) pattern(t *bearingSeries, of string) (out result.Pattern, ok bool) {
	m := p.matrix
	s := m.Setups[p.setups[0]]
	out = result.Pattern{Antenna: s.Antenna, State: s.State, Placement: s.Placement, Segment: m.Segment.Name, Low: m.Segment.Low, High: m.Segment.High,
		Of: of, Reference: m.Setups[p.ref], Doubts: []doubt.Doubt{}}
	if of == result.OfFloor {
		p.tellThin(&out)
		if p.taken.Kind != "" {
			out.Doubts = append(out.Doubts, p.taken)
		}
	}
	if of != result.OfFloor && p.apart && !slices.ContainsFunc(t.through, func(x []through) bool { return len(x) > 0 }) {
		out.Doubts = append(out.Doubts, doubt.New(doubt.LeakUnknown))
	}
	fit, fitted := t.fit()
	if !fitted {
		fit = t.plain()
	}
	out.Rounds = fit.whole.rounds
	points, unit := fit.points()
	for c, b := range t.bearings {
		if points[c] != nil {
			out.Points = append(out.Points, points[c].shown(b, t.toPower()))
		}
	}
	if len(out.Points) < 2 {
		return out, false
	}
	reason := t.unseen()
	switch {
	case reason.Kind != "":
	case !fitted:
		reason = doubt.New(doubt.NoPattern)
	default:
		unit = math.Pow(unit, t.toPower())
		out.Curve = &result.Curve{A0: 1 / unit, A1: fit.x[0] / unit, A2: fit.x[1] / unit}
		hidden := of == result.OfFloor && slices.Contains(p.own, true)
		if of == result.OfFloor {
			p.floor = t
		}
		reason = claimNull(&out, fit.direction(), hidden)
		judgeCurve(&out, points[:len(t.bearings)], t)
	}
	if reason.Kind != "" {
		out.NoNull = &reason
	}
	return out, true
}

// unseen says why bearings tell no null whatever was measured; zero where they may.
func (t *bearingSeries) unseen() doubt.Doubt {
	var deg []float64
	for _, b := range t.bearings {
		same := func(d float64) bool { return math.Abs(math.Remainder(b-d, 180)) < sameBearing }
		if !slices.ContainsFunc(deg, same) {
			deg = append(deg, halfTurn(b))
		}
	}
	slices.Sort(deg)
	if n := len(deg); n < leastBearings {
		return doubt.New(doubt.FewBearings, doubt.Count{N: n, Noun: "bearing"}, leastBearings)
	}
	gap := deg[0] + 180 - deg[len(deg)-1]
	for i := 1; i < len(deg); i++ {
		gap = max(gap, deg[i]-deg[i-1])
	}
	if gap > widestGap {
		return doubt.New(doubt.WideGap, gap, widestGap)
	}
	return doubt.Doubt{}
}

// claimNull sets null, peak and depth, and says why no null is claimed; zero where one is.
// Hidden: the receiver's own noise fills the null, which is deeper by an unknown amount.
func claimNull(p *result.Pattern, d direction, hidden bool) (reason doubt.Doubt) {
	if hidden {
		p.Doubts = append(p.Doubts, doubt.New(doubt.HiddenNull))
		d.least = 0
	}
	p.Depth, p.Isolation = under(d.share), d.leak.isolation
	if d.leak.matters(d.share) {
		into := doubt.New(doubt.LeakIntoNull, wording.Figure(p.Isolation.DB, 1))
		if d.leak.atMost {
			into = doubt.New(doubt.LeakPerhaps, float64(level.MostStep))
		}
		p.Doubts = append(p.Doubts, into)
	}
	if !d.bounded {
		return doubt.New(doubt.FewRoundsForNull, doubt.Count{N: p.Rounds, Noun: "round"}, stats.MinRounds)
	}
	p.DepthLow, p.DepthHigh = under(min(1, d.most)), under(d.least)
	if *p.DepthLow < leastDepth {
		if p.DepthHigh != nil && *p.DepthHigh < leastDepth {
			return doubt.New(doubt.Shallow, leastDepth)
		}
		return doubt.New(doubt.PerhapsShallow, leastDepth)
	}
	peak := halfTurn(d.null + 90)
	p.Null, p.NullLow, p.NullHigh, p.Peak = &d.null, &d.low, &d.high, &peak
	p.Fall = fallOf(ofMean(d.share), ofMean(d.least), ofMean(d.most))
	return doubt.Doubt{}
}

// judgeCurve holds it against the pattern where more points than chance puts there lie
// off its curve by more than their intervals.
func judgeCurve(p *result.Pattern, points []*point, t *bearingSeries) {
	off, all := 0, 0
	for c, x := range points {
		if x == nil {
			continue
		}
		low, high, ok := x.own.Interval()
		if !ok || low == high { // the reference itself
			continue
		}
		all++
		on := p.Curve.At(t.bearings[c])
		if t.square {
			on = math.Copysign(on*on, on)
		}
		if on < low || on > high {
			off++
		}
	}
	if off >= 3 && 4*off > all { // of twelve, chance puts four there once in 500 patterns
		p.Doubts = append(p.Doubts, doubt.New(doubt.OffCurve, off, doubt.Count{N: all, Noun: "bearing"}))
	}
}

// shown gives the point in dB against the reference. A power that is not over nothing
// has no level: its interval's high end is the bound. Raised toPower the point is a power.
func (p *point) shown(bearing, toPower float64) result.PatternPoint {
	over := func(x float64) *survey.DB {
		if x <= 0 {
			return nil
		}
		return result.DB(toPower * stats.Decibel(x))
	}
	out := result.PatternPoint{Bearing: bearing, Level: over(p.Full), Visits: p.visits}
	if low, high, ok := p.Interval(); ok && p.visits >= stats.MinRounds {
		out.Low, out.High = over(low), over(high)
		if low, high, ok = p.own.Interval(); ok {
			out.OwnLow, out.OwnHigh = over(low), over(high)
		}
	}
	return out
}
