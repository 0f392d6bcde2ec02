package strata

import (
	"fmt"
	"slices"
	"strings"
)

// A State is what the rounds of a stratum have in common.
type State struct {
	Sources []SourceState // those whose states are strata, in order of their ids
	// Raised counts from 0, the lowest, how far the floor stands raised by what no known source
	// explains, of as many levels as Levels; By is by how many dB against the lowest.
	Raised, Levels int
	By             float64
}

// A SourceState is whether one source was on.
type SourceState struct {
	ID int
	On bool
}

// String names the state as reports do: "source 2 on", "source 1 on, 2 off", "floor raised, no source
// known". It is empty where there is one stratum only.
func (s State) String() string {
	var sources, parts []string
	for _, x := range s.Sources {
		word := map[bool]string{true: " on", false: " off"}[x.On]
		switch {
		case x.ID == 0:
			parts = append(parts, raisedWords(x.On))
		case len(sources) == 0:
			sources = append(sources, fmt.Sprintf("source %d%s", x.ID, word))
		default:
			sources = append(sources, fmt.Sprintf("%d%s", x.ID, word))
		}
	}
	switch {
	case s.Levels > 2 && s.Raised > 0:
		parts = append(parts, fmt.Sprintf("floor raised by %.0f dB, no source known", s.By))
	case s.Levels > 1:
		parts = append(parts, raisedWords(s.Raised > 0))
	}
	if len(sources) > 0 {
		parts = append([]string{strings.Join(sources, ", ")}, parts...)
	}
	return strings.Join(parts, "; ")
}

// Known names the part of the state that the known sources make; it is empty where they make none.
func (s State) Known() string { return State{Sources: s.Sources}.String() }

// Names gives the names of the states that the stratum belongs to: that of the sources whose states
// are strata, which is the same for all pairs, and where something unknown moves the floors of this pair
// besides, the whole name too.
func (s State) Names() (names []string) {
	if known := s.Known(); known != "" {
		names = append(names, known)
	}
	if whole := s.String(); whole != "" && !slices.Contains(names, whole) {
		names = append(names, whole)
	}
	return names
}

func raisedWords(raised bool) string {
	if raised {
		return "floor raised, no source known"
	}
	return "floor not raised"
}

// A Reason is why a round does not count.
type Reason int

// Reasons why rounds do not count.
const (
	SwitchedInMidst Reason = iota // a known source came or went between the two visits
	NotKnown                      // nobody knows whether a source was on that makes strata
	RaisedInMidst                 // something unknown came or went between the two visits
	FloorNotKnown                 // there are groups, and no difference of floors to tell which
	OneRoundOnly                  // no other round was in that state
)

// A Left is a round that does not count, and why.
type Left struct {
	Round  int
	Why    Reason
	Source int // its id, for the first two reasons
}

// String gives the reason in words, as they follow "left out: ".
func (l Left) String() string {
	source := fmt.Sprintf("source %d", l.Source)
	if l.Source == 0 {
		source = "what raises the floor"
	}
	switch l.Why {
	case SwitchedInMidst:
		return source + " was switched in the midst of the round"
	case NotKnown:
		return "not known whether " + source + " was on"
	case RaisedInMidst:
		return "the floor rose or fell in the midst of the round"
	case FloorNotKnown:
		return "the floor is not known, and so not which state of it"
	}
	return "in a state of the noise sources that was met in one round only"
}
