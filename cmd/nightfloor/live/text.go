package live

import (
	"slices"
	"strings"
	"time"

	"github.com/jedib0t/go-pretty/v6/text"

	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A part is a piece of the line.
type part struct {
	text string
	rank rank
}

// A rank says which parts go first where there is no room for all: the last.
type rank int

const (
	rankWhere rank = iota // in which round, through which setup
	rankEnd
	rankFlag
	rankFloor
	rankUnit // of the floors that are shown
	ranks
)

const (
	gap = "  " // between two parts
	// leastName is how many characters a setup is shortened to at least: fewer name none.
	leastName = 8
)

// fit joins as many parts as a width holds, in their order, those of the first rank first. The unit
// goes with figures only.
func fit(parts []part, width int) string {
	shown, used, figures := make([]bool, len(parts)), -len(gap), false
	for rank := range ranks {
		for i, p := range parts {
			need := len(gap) + text.StringWidthWithoutEscSequences(p.text)
			if p.rank != rank || p.text == "" || used+need > width || rank == rankUnit && !figures {
				continue
			}
			shown[i], used, figures = true, used+need, figures || rank == rankFloor
		}
	}
	var texts []string
	for i, p := range parts {
		if shown[i] {
			texts = append(texts, p.text)
		}
	}
	return strings.Join(texts, gap)
}

// text gives the line, no wider than width; 0: whole.
func (l *Line) text(now time.Time, width int) string {
	const whole = 1 << 20
	if width == 0 {
		width = whole
	}
	round := l.roundText()
	parts := []part{{round, rankWhere}, {l.setupText(max(leastName, width-len(round)-len(gap))), rankWhere}}
	if silent := now.Sub(l.stored); silent >= max(longSilence, 2*l.plan.Every) {
		parts = append(parts, part{"nothing stored for " + wording.Duration(silent), rankEnd})
	} else if l.condition == inPlace && len(round) <= width { // else figures would not say that they are simulated
		parts = append(parts, heardParts(l.heard[l.setup])...)
	}
	return fit(append(parts, part{l.endText(now), rankEnd}), width)
}

func (l *Line) roundText() string {
	text := "no round begun"
	if l.round.number > 0 {
		text = survey.RoundOf(l.round.number, l.plan.Rounds)
	}
	if l.simulated {
		text = "simulated: " + text
	}
	return text
}

// setupText names the setup, and says where it is not in place if there is room for that.
func (l *Line) setupText(room int) string {
	if l.round.number == 0 {
		return ""
	}
	setup := l.setup.String()
	words := setup
	switch l.condition {
	case changing:
		words = "changing to " + setup
	case notInPlace:
		words = setup + " not in place"
	}
	if text.StringWidthWithoutEscSequences(words) > room {
		return survey.Shorten(l.setup.Short(room), room)
	}
	return words
}

// heardParts gives the floors and the flags of a sweep's segments.
func heardParts(heard []heardSegment) (parts []part) {
	var flags []string
	on := map[string][]string{} // flag → segments
	for _, s := range heard {
		if s.floor != nil { // of others the flags tell
			parts = append(parts, part{wording.Printable(s.name) + " " + wording.Figure(s.floor, 1), rankFloor})
		}
		for _, flag := range s.flags {
			if on[flag] == nil {
				flags = append(flags, flag)
			}
			on[flag] = append(on[flag], wording.Printable(s.name))
		}
	}
	if len(parts) > 0 {
		parts = append(parts, part{"dBFS/Hz", rankUnit})
	}
	slices.Sort(flags)
	if at := slices.Index(flags, survey.FlagOverload); at > 0 { // it makes levels wrong
		flags = slices.Insert(slices.Delete(flags, at, at+1), 0, survey.FlagOverload)
	}
	for _, flag := range flags {
		where := wording.List(on[flag])
		if len(on[flag]) == len(heard) && len(heard) > 2 {
			where = "all segments"
		}
		parts = append(parts, part{flag + " on " + where, rankFlag})
	}
	return parts
}

// endText says when the survey will end: at the time that it was given, or once its rounds are
// done, which are reckoned to take as long as those made so far.
func (l *Line) endText(now time.Time) string {
	end, about := l.until, ""
	if made := l.round.number - l.first.number; made > 0 && l.plan.Rounds > 0 {
		each := l.round.at.Sub(l.first.at) / time.Duration(made)
		done := l.round.at.Add(each * time.Duration(l.plan.Rounds-l.round.number+1))
		if done.After(now) && (end.IsZero() || done.Before(end)) {
			end, about = done, "≈ "
		}
	}
	if end.IsZero() {
		if l.plan.Rounds > 0 {
			return ""
		}
		return "until interrupted"
	}
	form := "15:04 MST"
	if end.Sub(now) >= 20*time.Hour { // the same hour may be meant of another day
		form = "Mon 15:04 MST"
	}
	return "ends " + about + end.Local().Format(form)
}
