package page

import (
	"slices"
	"unicode"
	"unicode/utf8"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// names numbers the setups of a report, so that each keeps one colour and one
// mark over the whole page, and says how each is called.
type names struct {
	setups []survey.Setup
	labels []string

	explained map[doubt.Kind]bool // doubts whose meaning the page has told
}

// namesOf collects the setups: the reference first, then in order of
// appearance.
func namesOf(r *result.Report) *names {
	n := &names{explained: map[doubt.Kind]bool{}}
	if r.Rank.Reference != (survey.Setup{}) {
		n.add(r.Rank.Reference)
	}
	for _, s := range r.Rank.Segments {
		for _, row := range s.Setups {
			n.add(row.Setup)
		}
	}
	for _, row := range r.Floor.Rows {
		n.add(row.Setup)
	}
	for _, p := range r.Pictures {
		n.add(p.Setup)
	}
	for _, s := range r.Noise.Sources {
		for _, x := range s.Strength {
			n.add(x.Setup)
		}
	}
	for _, rise := range r.Noise.Rises {
		n.add(rise.Setup)
	}
	return n
}

func (n *names) add(s survey.Setup) {
	if !slices.Contains(n.setups, s) {
		n.setups = append(n.setups, s)
		n.labels = append(n.labels, s.String())
	}
}

// Index gives the setup's number.
func (n *names) Index(s survey.Setup) int { return slices.Index(n.setups, s) }

// upper begins a text like a sentence.
func upper(text string) string {
	first, size := utf8.DecodeRuneInString(text)
	if size == 0 {
		return ""
	}
	return string(unicode.ToUpper(first)) + text[size:]
}
