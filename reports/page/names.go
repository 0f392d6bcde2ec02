package page

import (
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// names numbers the setups of a report, so that each keeps one colour and one
// mark over the whole page, and says how each is called.
type names struct {
	setups []survey.Setup
	labels []string
	spoken *strings.Replacer // of the written forms by the spoken ones

	explained map[string]bool // doubts whose meaning the page has told
}

// namesOf collects the setups: the reference first, then in order of
// appearance.
func namesOf(r *result.Report) *names {
	n := &names{explained: map[string]bool{}}
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
	n.spoken = n.speaker()
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

// Retell gives a sentence made elsewhere with the setups in it called as this
// page's sentences call them, and begun like a sentence.
func (n *names) Retell(text string) string {
	return upper(n.spoken.Replace(wording.Printable(text)))
}

// upper begins a text like a sentence.
func upper(text string) string {
	first, size := utf8.DecodeRuneInString(text)
	if size == 0 {
		return ""
	}
	return string(unicode.ToUpper(first)) + text[size:]
}

// speaker puts the spoken form in place of "loop@loft 040°", as the terminal
// writes setups, and of "loop@loft:40". Of two forms that begin alike the longer
// goes first. A bare antenna is left alone: its name may be any word.
func (n *names) speaker() *strings.Replacer {
	type form struct{ written, spoken string }
	var forms []form
	for _, s := range n.setups {
		if s.Placement == "" {
			continue
		}
		place := survey.Setup{Antenna: s.Antenna, Placement: s.Placement}
		forms = append(forms, form{label(s), n.Spoken(s)})
		if s.Bearing.Known {
			forms = append(forms, form{label(place) + " " + s.Bearing.String(), n.Spoken(s)})
		}
	}
	slices.SortStableFunc(forms, func(a, b form) int { return len(b.written) - len(a.written) })
	var pairs []string
	for _, f := range forms {
		pairs = append(pairs, f.written, f.spoken)
	}
	return strings.NewReplacer(pairs...)
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

// printables makes every text of a list safe to show.
func printables(list []string) []string {
	var out []string
	for _, s := range list {
		out = append(out, wording.Printable(s))
	}
	return out
}
