package strata

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"nightfloor/reports/wording"
)

// A State is what the rounds of a stratum have in common.
type State struct {
	Sources []SourceState // those whose states are strata, in order of their ids, but for what nobody knows and does not matter
	// Raised counts from 0, the lowest, how far the floor stands raised by what no known source
	// explains, of as many levels as Levels; By is by how many dB against the lowest.
	Raised, Levels int
	By             float64
	OrGain         bool // it may as well be a gain that is not known, and stepped
}

// A SourceState is whether one source was on.
type SourceState struct {
	ID int
	On bool
}

// String names the state as reports do: "source 2 on", "source 1 on, 2 off", "floor raised, no source
// known", "floor or gain raised, no source known". It is empty where there is one stratum only.
func (s State) String() string {
	var sources, parts []string
	for _, x := range s.Sources {
		word := map[bool]string{true: " on", false: " off"}[x.On]
		switch {
		case x.ID == 0:
			parts = append(parts, raisedWords("floor", x.On))
		case len(sources) == 0:
			sources = append(sources, fmt.Sprintf("source %d%s", x.ID, word))
		default:
			sources = append(sources, fmt.Sprintf("%d%s", x.ID, word))
		}
	}
	what := "floor"
	if s.OrGain {
		what = "floor or gain"
	}
	besides := len(parts) > 0 // steps that no source explains are one already
	switch {
	case besides && s.Levels > 1 && s.Raised > 0:
		parts = append(parts, fmt.Sprintf("raised further by %.0f dB", s.By))
	case besides && s.Levels > 1:
		parts = append(parts, "not raised further")
	case s.Levels > 2 && s.Raised > 0:
		parts = append(parts, fmt.Sprintf("%s raised by %.0f dB, no source known", what, s.By))
	case s.Levels > 1:
		parts = append(parts, raisedWords(what, s.Raised > 0))
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

func raisedWords(what string, raised bool) string {
	if raised {
		return what + " raised, no source known"
	}
	return what + " not raised"
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

// Reasons says why rounds do not count, each reason once with the sources it goes for, as it follows "left out: ".
func Reasons(left []Left) string {
	left = slices.Clone(left)
	slices.SortFunc(left, func(a, b Left) int { return cmp.Or(cmp.Compare(a.Why, b.Why), cmp.Compare(a.Source, b.Source)) })
	left = slices.CompactFunc(left, func(a, b Left) bool { return a.Why == b.Why && a.Source == b.Source })
	var all []string
	for len(left) > 0 {
		why, ids := left[0].Why, []string{}
		for len(left) > 0 && left[0].Why == why {
			ids, left = append(ids, fmt.Sprint(left[0].Source)), left[1:]
		}
		all = append(all, why.of(ids))
	}
	return strings.Join(all, "; ")
}

// of puts a reason into words; it goes for sources of these ids, "0" for what raises the floor.
func (r Reason) of(ids []string) string {
	who, was := "source "+wording.List(ids), "was"
	switch {
	case ids[0] == "0" && len(ids) == 1:
		who = "what raises the floor"
	case ids[0] == "0":
		who, was = "what raises the floor and source "+wording.List(ids[1:]), "were"
	case len(ids) > 1:
		who, was = "sources "+wording.List(ids), "were"
	}
	switch r {
	case SwitchedInMidst:
		return who + " " + was + " switched in the midst of the round"
	case NotKnown:
		return "not known whether " + who + " " + was + " on"
	case RaisedInMidst:
		return "the floor rose or fell in the midst of the round"
	case FloorNotKnown:
		return "the floor is not known, and so not which state of it"
	}
	return "in a state of the noise sources that was met in one round only"
}
