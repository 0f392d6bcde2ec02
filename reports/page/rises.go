package page

import (
	"fmt"
	"strings"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// shownRises is how many rises of the floor the page tells of, the latest; JSON has them all.
const shownRises = 6

// A riseView is one rise of the floor.
type riseView struct {
	result.Rise
	Through string
	Span    spanView // where one end is not known, the other
}

// A nightView is what the ionosphere did.
type nightView struct {
	Times int
	Span  spanView // from the first to the last
	Most  string   // the highest rise; "" where none is known
}

// risesOf puts the rises into words, those of the ionosphere in one; more is how many
// earlier ones are left out.
func risesOf(all []result.Rise) (rises []riseView, nights *nightView, more int) {
	var dark []result.Rise
	for _, r := range all {
		if r.Kind == result.RiseNight {
			dark = append(dark, r)
		} else {
			rises = append(rises, riseOf(r))
		}
	}
	more = max(0, len(rises)-shownRises)
	return rises[more:], nightsOf(dark), more
}

func riseOf(r result.Rise) riseView {
	v := riseView{r, r.Setup.Short(wording.SentenceRoom), spanOf(riseHours(r))}
	if r.From == nil || r.To == nil {
		v.Span.To = nil
	}
	return v
}

// riseHours gives from when to when the floor was raised.
func riseHours(r result.Rise) result.NoiseHours { return stretch(r.From, r.To) }

// stretch gives a stretch of time; of one that was not seen to begin or to end, the instant that is
// known.
func stretch(from, to *time.Time) result.NoiseHours {
	switch {
	case from == nil:
		from = to
	case to == nil:
		to = from
	}
	return result.NoiseHours{From: *from, To: *to}
}

// riseLevel writes by how much the floor was raised.
func riseLevel(r result.Rise) string {
	switch {
	case r.Level == nil:
		return ""
	case r.Low == nil || r.High == nil:
		return wording.Figure(r.Level, 1) + " dB"
	}
	return fmt.Sprintf("%s dB (95\u00a0%% interval %s dB)", wording.Figure(r.Level, 1), fromTo(r.Low, r.High, 1))
}

// riseWhere says in which segments the rise was seen: "2 of 4 segments (49 m, 31 m)".
func riseWhere(r result.Rise) string {
	text := fmt.Sprintf("%d of %s", len(r.Segments), survey.Count(r.Measured, "segment"))
	if len(r.Segments) > shownSegments {
		return text
	}
	return text + " (" + strings.Join(wording.Printables(r.Segments), ", ") + ")"
}

// nightsOf takes rises in the dark together; nil where there are none.
func nightsOf(dark []result.Rise) *nightView {
	if len(dark) == 0 {
		return nil
	}
	v := &nightView{Times: len(dark)}
	whole, most := riseHours(dark[0]), dark[0].Level
	for _, r := range dark[1:] {
		if h := riseHours(r); h.To.After(whole.To) {
			whole.To = h.To
		}
		if r.Level != nil && (most == nil || *r.Level > *most) {
			most = r.Level
		}
	}
	v.Span = spanOf(whole)
	if most != nil {
		v.Most = wording.Figure(most, 1)
	}
	return v
}
