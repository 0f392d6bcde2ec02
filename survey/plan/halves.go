package plan

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"nightfloor/survey"
)

// halvesTable is [halves]: a state as a text, or two as a list, the first and the second half of the time's.
type halvesTable struct {
	FeedLines any `toml:"feed_lines"`
	Idle      any
	Chokes    any
}

// readHalves reads what feed lines, idle antennas and chokes are in each half of the time.
func (p *Plan) readHalves(file *document, found *mistakes) {
	t := file.Halves
	changing := ""
	for i, written := range []any{t.FeedLines, t.Idle, t.Chokes} {
		part := survey.WiringParts[i]
		key := "halves." + part.Key
		states, err := statesOf(written, part)
		if found.unreadable(key, err); len(states) == 0 {
			continue
		}
		part.Set(&p.Halves[0], states[0])
		part.Set(&p.Halves[1], states[len(states)-1])
		switch {
		case len(states) == 1:
		case changing != "":
			found.add(key, fmt.Errorf("it changes at half time together with %s, and what did what could not be told; give one of them a single value, and the other night to the other", changing))
		case p.Change.By != ByPerson && p.Change.By != ByCommand:
			found.add(key, errors.New("nobody changes it at half time; give [change] by = \"person\" or by = \"command\", or keep one value"))
		}
		if len(states) > 1 {
			changing = part.Key
		}
	}
}

// statesOf reads the states of a part of the wiring, none, one or two.
func statesOf(written any, part survey.WiringPart) (states []string, err error) {
	choose := fmt.Sprintf("choose %s", strings.Join(quoted(part.States), " or "))
	list, isList := written.([]any)
	if !isList && written != nil {
		list = []any{written}
	}
	for _, x := range list {
		state, isText := x.(string)
		if !isText || !slices.Contains(part.States, state) {
			return nil, fmt.Errorf("%v is not known; %s, or two of them in a list to change it at half time", x, choose)
		}
		states = append(states, state)
	}
	switch {
	case isList && len(states) == 0, len(states) > 2:
		return nil, fmt.Errorf("%d values; %s, or two of them, for one half of the time each", len(states), choose)
	case len(states) == 2 && states[0] == states[1]:
		return nil, fmt.Errorf("both are %q; give two that differ, or one", states[0])
	}
	return states, nil
}

func quoted(texts []string) (out []string) {
	for _, text := range texts {
		out = append(out, fmt.Sprintf("%q", text))
	}
	return out
}

// Changing gives the part of the wiring that changes at half time; ok is false where none does.
func (p Plan) Changing() (part survey.WiringPart, ok bool) {
	i := slices.IndexFunc(survey.WiringParts, func(part survey.WiringPart) bool { return part.Of(p.Halves[0]) != part.Of(p.Halves[1]) })
	if i < 0 {
		return part, false
	}
	return survey.WiringParts[i], true
}

// SecondHalf tells whether a round that is to begin is of the second half: half of the plan's rounds are made, or
// as many as fit into what is left until the end, whichever comes first. Rounds are reckoned to take so long
// each; 0: that is not known. A left of 0: there is no end.
func (p Plan) SecondHalf(made int, each, left time.Duration) bool {
	return p.Rounds > 0 && 2*made >= p.Rounds || left > 0 && each > 0 && made >= int(left/each)
}

// feedLines counts the antennas and places that have a feed line of their own, controls aside.
func (p Plan) feedLines() int {
	lines := map[survey.Setup]bool{}
	for _, s := range p.Setups {
		if a := p.Antenna(s.Antenna); !a.Control() && len(a.Removed) == 0 {
			lines[survey.Setup{Antenna: s.Antenna, Placement: s.Placement}] = true
		}
	}
	return len(lines)
}
