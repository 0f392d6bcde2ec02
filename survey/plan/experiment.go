package plan

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"nightfloor/survey"
)

// What an experiment needs to answer. An hour is how long conditions are taken to last (STATISTICS.md 1.6;
// fails: TestRoundsThatAreTooLong). A null is claimed from four bearings over half a turn with no gap over 90°,
// bearings within 2° being one (STATISTICS.md 6.5), and a verdict from three lines where these are listed. Fails:
// TestExperimentsThatCannotAnswer.
const (
	longestRound    = time.Hour
	leastBearings   = 4
	widestGap       = 90.0 // degrees
	sameBearing     = 2.0  // degrees
	leastListed     = 3
	bearingsOfANull = "[20, 65, 110, 155]"
)

// experiment doubts whether setups, rounds and bearings can answer what the plan asks: what is compared must
// differ in one thing alone.
func (d *doubtList) experiment() {
	p := d.plan
	known := p.known()
	control := func(s survey.Setup) bool { return known[s.Antenna].Control() }
	antennas := slices.DeleteFunc(slices.Clone(p.Setups), control)
	if len(antennas) == 0 {
		d.add("only controls: they say what is no antenna's, and there is none; add a [[setup]] with an antenna, first")
		return
	}
	d.when(control(p.Setups[0]), "the first setup is the reference that all are compared with, and %v is a control; put an antenna's first", p.Setups[0])
	d.when(len(known[p.Setups[0].Antenna].Removed) > 0,
		"the first setup is the reference that all are compared with, and %v has others removed and no rank; put one with all in place first", p.Setups[0])
	d.when(len(antennas) == 1, "one setup of an antenna, %v: it is compared with nothing, and nothing is ranked; add a [[setup]] with another antenna in the same placement", antennas[0])
	occupied, present := map[string]bool{}, map[survey.Setup]bool{}
	for _, s := range antennas {
		occupied[s.Placement], present[s] = true, true
	}
	for _, s := range antennas {
		same := s
		same.Antenna = known[s.Antenna].Of
		d.when(len(known[s.Antenna].Removed) > 0 && !present[same],
			"%v has others removed, and nothing is there to compare it with: add a [[setup]] of %s in the same placement, at the same bearing", s, cmp.Or(same.Antenna, "the antenna that it is (then say of)"))
	}
	for _, s := range p.Setups {
		d.when(control(s) && known[s.Antenna].At != survey.AtReceiver && !occupied[s.Placement],
			"%v is the control of a placement in which no antenna stands: it tells of another feed line; put it where the antennas are", s)
	}
	d.confounded(antennas)
	d.turned(antennas)
	d.when(d.outlook.Round > longestRound && len(p.Setups) > 1,
		"a round takes %s, and what is compared in it is heard under other conditions; fewer setups, sweeps or segments, or a shorter every", DurationText(d.outlook.Round))
	for _, s := range p.Segments {
		n := len(p.Listed[s.Name])
		d.when(n > 0 && n < leastListed, "%s is ranked by %s alone: under %d there is no verdict; list %[3]d or more, or none", s.Name, survey.Count(n, "listed line"), leastListed)
	}
}

// known gives what the plan says of each antenna in its setups.
func (p Plan) known() map[string]survey.Antenna {
	said := map[string]survey.Antenna{survey.KindTerminator: p.Antenna(survey.KindTerminator)}
	for _, a := range p.Antennas {
		said[a.Name] = a
	}
	return said
}

// confounded doubts setups that differ from the first in antenna and placement at once, by whatever chain of
// setups one comes from it to them.
func (d *doubtList) confounded(antennas []survey.Setup) {
	next := map[string]string{} // of an antenna or a placement that hang together: towards the last of them
	end := func(name string) string {
		for next[name] != "" {
			if beyond := next[next[name]]; beyond != "" {
				next[name] = beyond
			}
			name = next[name]
		}
		return name
	}
	for _, s := range antennas {
		if from, to := end("of "+s.Antenna), end("in "+s.Placement); from != to {
			next[from] = to
		}
	}
	reference, first := antennas[0], survey.Setup{}
	var apart []string
	told := map[string]bool{}
	for _, s := range antennas {
		name := s.Antenna + " in " + s.Placement
		if end("of "+s.Antenna) == end("of "+reference.Antenna) || told[name] {
			continue
		}
		told[name] = true
		if apart = append(apart, name); len(apart) == 1 {
			first = s
		}
	}
	d.when(apart != nil, "nothing tells the antenna from its placement: %s, compared with %s in %s, with neither in common; add a [[setup]] with antenna = %q and placement = %q",
		strings.Join(apart, ", "), reference.Antenna, reference.Placement, reference.Antenna, first.Placement)
}

// A stand is an antenna in a placement, at whatever bearing.
type stand struct{ antenna, placement string }

// turned doubts antennas that are turned and not to enough bearings for a null, and those that are turned
// to no bearing in one placement that they have in another.
func (d *doubtList) turned(antennas []survey.Setup) {
	var stands []stand
	bearings := map[stand][]float64{}
	for _, s := range antennas {
		if at := (stand{s.Antenna, s.Placement}); s.Bearing.Known {
			if bearings[at] == nil {
				stands = append(stands, at)
			}
			bearings[at] = append(bearings[at], math.Mod(s.Bearing.Deg, 180))
		}
	}
	first := map[string]stand{}
	for _, at := range stands {
		deg := bearings[at]
		slices.Sort(deg)
		d.doubtBearings(at, deg)
		if before, ok := first[at.antenna]; !ok {
			first[at.antenna] = at
		} else if !anyShared(deg, bearings[before]) {
			d.add("nothing tells the bearing from the placement: %s is at no bearing in %s that it has in %s; give both one in common", at.antenna, at.placement, before.placement)
		}
	}
}

// doubtBearings doubts bearings of half a turn that are too few for a null, in order. Those within 2° count
// once.
func (d *doubtList) doubtBearings(at stand, deg []float64) {
	n, gap := 0, 0.0
	for i := range deg {
		ahead := math.Mod(deg[(i+1)%len(deg)]-deg[i]+180, 180)
		if gap = max(gap, ahead); ahead > sameBearing {
			n++
		}
	}
	switch {
	case n < 2:
	case n < leastBearings:
		d.add("%s in %s is turned to %d bearings, which are compared with each other alone: a null takes %d and more over half a turn, as bearings = %s", at.antenna, at.placement, n, leastBearings, bearingsOfANull)
	case gap > widestGap:
		d.add("%s in %s is turned nowhere in %.0f° of half a turn: a null that lies there is not found; spread the bearings, as bearings = %s", at.antenna, at.placement, gap, bearingsOfANull)
	}
}

// anyShared tells whether two lists of bearings over half a turn, in order, have one in common.
func anyShared(a, b []float64) bool {
	for _, x := range a {
		i, _ := slices.BinarySearch(b, x)
		for _, y := range []float64{b[i%len(b)], b[(i+len(b)-1)%len(b)]} {
			if math.Abs(math.Remainder(x-y, 180)) <= sameBearing {
				return true
			}
		}
	}
	return false
}
