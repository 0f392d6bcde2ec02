package page

import (
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
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
		n.labels = append(n.labels, label(s))
	}
}

// Index gives the setup's number.
func (n *names) Index(s survey.Setup) int { return slices.Index(n.setups, s) }

// Spoken gives the setup as a sentence calls it: "the loop (loft, 40°)", and
// only "the whip" where no other setup has that antenna.
func (n *names) Spoken(s survey.Setup) string {
	same := 0
	for _, t := range n.setups {
		if t.Antenna == s.Antenna {
			same++
		}
	}
	name := "the " + wording.Printable(s.Antenna)
	if same < 2 {
		return name
	}
	if where := strings.Join(where(s), ", "); where != "" {
		name += " (" + where + ")"
	}
	return name
}

// upper begins a text like a sentence.
func upper(text string) string {
	first, size := utf8.DecodeRuneInString(text)
	if size == 0 {
		return ""
	}
	return string(unicode.ToUpper(first)) + text[size:]
}

// label gives the setup as tables and charts call it, and as --reference takes
// it: "loop@loft:40".
func label(s survey.Setup) string {
	return wording.Printable(strings.TrimSuffix(s.String(), "@"))
}

// where gives placement and bearing, as far as there are any.
func where(s survey.Setup) []string {
	var parts []string
	if s.Placement != "" {
		parts = append(parts, wording.Printable(s.Placement))
	}
	if s.Bearing.Known {
		parts = append(parts, strconv.FormatFloat(s.Bearing.Deg, 'f', -1, 64)+"°")
	}
	return parts
}
