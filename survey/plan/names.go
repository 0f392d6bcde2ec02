package plan

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
)

// mostMistyped is how many letters of a name that stands nowhere else may differ from one that was meant (chosen;
// fails: TestNamesThatCannotBeMeant).
const mostMistyped = 2

// numbering matches what tells apart names that are meant to be alike, as loop 1 and loop 2, whip a and whip b.
var numbering = regexp.MustCompile(`\d+|(?:^|[\s_-])\pL$|\p{Lu}$`)

// misspelt counts the letters by which two names differ, capitals or not; many where they are one or differ by a
// number or a letter at their end.
func misspelt(a, b string) int {
	plain := func(name string) string { return strings.TrimSpace(numbering.ReplaceAllString(name, "")) }
	if plain(a) == plain(b) {
		return mostMistyped + 1
	}
	return distance(strings.ToLower(a), strings.ToLower(b))
}

// nearly tells whether two names differ by one letter, or by capitals.
func nearly(a, b string) bool { return misspelt(a, b) <= 1 }

// mostCompared is how many names a name is compared with: in a plan of more none is sought, so that the time that
// plans take grows with their length alone (chosen; fails: TestPlansTakeLinearTime).
const mostCompared = 100

// meant gives the name that was meant by one that stands nowhere, "" where none is near.
func meant(name string, names map[string]bool) (near string) {
	if len(names) > mostCompared {
		return ""
	}
	least := min(mostMistyped, len(name)-1) + 1
	for _, other := range slices.Sorted(maps.Keys(names)) {
		if n := misspelt(name, other); n < least {
			least, near = n, other
		}
	}
	return near
}

// didYouMean asks for the name that was meant, if one is near.
func didYouMean(name string, names map[string]bool) string {
	if near := meant(name, names); near != "" {
		return "; did you mean " + near + "?"
	}
	return ""
}

// checkNames finds setups whose antenna is nearly one that the plan describes and no setup has. What else is wrong
// for that is not told.
func (file *document) checkNames(found *mistakes) {
	if found.unread["setup"] || found.unread["antenna"] {
		return
	}
	used := file.antennas()
	described, idle := map[string]bool{}, map[string]bool{}
	for _, a := range file.Antenna {
		if described[a.Name] = true; !used[a.Name] {
			idle[a.Name] = true
		}
	}
	for i, s := range file.Setup {
		if described[s.Antenna] {
			continue
		}
		if near := meant(s.Antenna, idle); near != "" {
			found.unreadable(fmt.Sprintf("setup[%d].antenna", i), fmt.Errorf("no [[antenna]] is named %q, and no setup uses %s; did you mean %[2]s?", s.Antenna, near))
		}
	}
}

// names doubts antennas of setups whose names are nearly those of others, and one that the plan does not describe
// while it describes all others.
func (d *doubtList) names() {
	p, described := d.plan, d.plan.known()
	var names []string                    // that the plan does not describe
	heard, others := map[string]bool{}, 0 // others are described, and neither controls nor conditions
	for _, s := range p.Setups {
		if heard[s.Antenna] {
			continue
		}
		heard[s.Antenna] = true
		if a, ok := described[s.Antenna]; !ok {
			names = append(names, s.Antenna)
		} else if a.Of == "" && !a.Control() {
			others++
		}
	}
	if len(heard) > mostCompared {
		return
	}
	for i, name := range names {
		line := p.lines.of(p.antennaKeys[name])
		near := meant(name, heard)
		switch {
		case others > 0 && near != "":
			d.add("line %d: %q has no [[antenna]], and others have; did you mean %s? Else add [[antenna]] with name = %[2]q", line, name, near)
		case others > 1 && len(names) == 1:
			d.add("line %d: %q has no [[antenna]], and others have; add one with name = %[2]q and its kind, or mend the name", line, name)
		case nearly(name, near) && slices.Contains(names[:i], near):
			d.add("line %d: %q is nearly %s; did you mean %[3]s? Else add [[antenna]] with name = %[2]q", line, name, near)
		}
	}
}
