package text

import (
	"fmt"
	"strings"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// shownRises is how many rises a person is shown, the latest, shownInSummary how many in a
// summary; JSON has them all.
const shownRises, shownInSummary = 20, 5

const riseLegend = `A step is how far the floor moves when it comes and goes, any other rise how far it stands over its own lower decile; through the setup that hears it best, with the 95 % interval.
`

// riseBlock prints the rises of the floor, those of the ionosphere last.
func riseBlock(b *Sheet, all []result.Rise, zone *time.Location) {
	if len(all) == 0 {
		return
	}
	b.WriteString("\nRises of the floor\n")
	for _, r := range latest(b, all, shownRises, "; --format json lists all") {
		b.Wrap(r.Kind+": "+riseLine(r, zone), "  ", "    ")
		evidenceBlock(b, "    ", r.Evidence, r.Against)
		over := "the floor over its own lower decile"
		if r.Kind == result.RiseStep {
			over = "the floor over what it is without it"
		}
		strengthBlock(b, over, r.Strength)
	}
	if text := nightText(all, zone); text != "" {
		b.Wrap("night: "+text, "  ", "    ")
	}
	b.WriteString("\n")
	b.Paragraphs(riseLegend)
}

// latest gives the last rises that are interference, and says how many more there were.
func latest(b *Sheet, all []result.Rise, most int, more string) (rises []*result.Rise) {
	for i := range all {
		if all[i].Kind != result.RiseNight {
			rises = append(rises, &all[i])
		}
	}
	left := max(0, len(rises)-most)
	if left > 0 {
		fmt.Fprintf(b, "  %s before these%s\n", survey.Count(left, "rise"), more)
	}
	return rises[left:]
}

// nightText says in a sentence what the ionosphere did, "" where it raised nothing.
func nightText(all []result.Rise, zone *time.Location) string {
	var nights []*result.Rise
	var most survey.DB
	for i := range all {
		if r := &all[i]; r.Kind == result.RiseNight {
			nights = append(nights, r)
			if r.Level != nil {
				most = max(most, *r.Level)
			}
		}
	}
	switch {
	case len(nights) == 0:
		return ""
	case len(nights) == 1:
		return riseLine(nights[0], zone)
	}
	return fmt.Sprintf("%d times between %s the floor rises in the dark, by up to %s dB, with no sign of a device: the ionosphere, no interference",
		len(nights), wording.Span(*nights[0].From, *nights[len(nights)-1].To, zone), wording.Number(float64(most), 1))
}

// summaryRises says in a line for each rise what it is; of nights in one for all.
func summaryRises(b *Sheet, all []result.Rise, zone *time.Location) {
	if len(all) == 0 {
		return
	}
	b.WriteString("\nRises of the floor\n")
	for _, r := range latest(b, all, shownInSummary, "") {
		b.Wrap(riseLine(r, zone), "  ", "     ")
	}
	if text := nightText(all, zone); text != "" {
		b.Wrap(text, "  ", "     ")
	}
}

// RiseVerdicts say what a rise is that the house makes.
var RiseVerdicts = map[string]string{
	result.RiseStep:      "one device switching",
	result.RiseBroadband: "interference over most of the free spectrum",
}

// SourceList names noise sources by their numbers: source 1, sources 1 and 2; "" of none.
func SourceList(sources []int) string {
	var ids []string
	for _, id := range sources {
		ids = append(ids, fmt.Sprint(id))
	}
	switch len(ids) {
	case 0:
		return ""
	case 1:
		return "source " + ids[0]
	}
	return "sources " + wording.List(ids)
}

// riseLine says in a line what the rise is and when it was, times in the given zone.
func riseLine(r *result.Rise, zone *time.Location) string {
	text := fmt.Sprintf("%s, floor up %s dB on %s", riseWhen(r, zone), riseLevel(r), riseWhere(r))
	if r.Kind == result.RiseNight {
		text += " at night with no sign of a device: the ionosphere, no interference"
	} else {
		text += ": " + RiseVerdicts[r.Kind]
	}
	for _, e := range r.Events {
		text += fmt.Sprintf("; noted %s: %s", e.At.In(zone).Format("15:04"), wording.Printable(e.Text))
	}
	if len(r.Sources) > 0 {
		text += "; with " + SourceList(r.Sources)
	}
	return text
}

// riseLevel writes by how much the floor is raised through the setup that hears it best.
func riseLevel(r *result.Rise) string {
	if r.Level == nil {
		return wording.None
	}
	text := wording.Figure(r.Level, 1)
	if r.Low != nil && r.High != nil {
		text += " (" + wording.Figure(r.Low, 1) + " … " + wording.Figure(r.High, 1) + ")"
	}
	return text
}

func riseWhen(r *result.Rise, zone *time.Location) string {
	switch {
	case r.From == nil:
		return "until " + r.To.In(zone).Format("2 Jan 2006 15:04 MST")
	case r.To == nil:
		return "from " + r.From.In(zone).Format("2 Jan 2006 15:04 MST") + " on, not seen to end"
	}
	return wording.Span(*r.From, *r.To, zone)
}

// riseWhere says in which segments the rise is seen.
func riseWhere(r *result.Rise) string {
	text := fmt.Sprintf("%d of %s", len(r.Segments), survey.Count(r.Measured, "segment"))
	const most = 4
	if len(r.Segments) > most || len(r.Segments) == 1 && r.Measured == 1 {
		return text
	}
	return text + " (" + strings.Join(wording.Printables(r.Segments), ", ") + ")"
}
