package page

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

const (
	// shownSources, shownHours and shownOwn are how many noise sources, stretches of time of
	// one and lines of the receiver's own the page shows; JSON has them all.
	shownSources, shownHours, shownOwn = 8, 12, 12
	// toldHours is how many stretches of time a sentence names.
	toldHours = 3
	// shownSegments is how many segments stand beside each other in a table of strengths.
	shownSegments = 6
)

// A noiseView is what was found of noise sources.
type noiseView struct {
	Lead        string
	Sources     []sourceView
	MoreSources int    // that are not shown
	Alt         string // of the timeline; "" where there is none
	Silent      bool   // it shows times when nothing was measured
	Steps       bool   // it shows steps of the floor
	Rises       []riseView
	MoreRises   int // before these, that are not shown
	Nights      *nightView
	Own         []sourceView // combs that are the receiver's own
	OwnLines    []result.OwnLine
	MoreLines   int
}

// A sourceView is one noise source.
type sourceView struct {
	result.NoiseSource
	What, Likely string
	Hours        hoursView
	Strongest    string // a sentence; "" where no strength is known
	Facts        string
	Strengths    []strengthTable
}

// An hoursView tells when a source was on. Told are the stretches that the sentence names;
// where they are too many, it names the first and the last moment and how often.
type hoursView struct {
	Told  []spanView
	Times int
	All   []spanView // listed apart; empty where Told are all
	More  int        // that are not listed
}

// A spanView is a stretch of time; To is nil where it is a moment, Long tells that it
// needs a date at its end too.
type spanView struct {
	From time.Time
	To   *time.Time
	Long bool
}

// A strengthTable is how strong a source is, a row a setup, a column a segment.
type strengthTable struct {
	Of       string
	Segments []string
	Rows     []strengthRow
}

type strengthRow struct {
	Setup string
	Cells []cell
}

// noiseOf puts the noise sources into words; nil where the report was not asked for them.
func noiseOf(r result.NoiseSources, n *names) *noiseView {
	if r.Schema == "" {
		return nil
	}
	v := &noiseView{}
	for _, s := range r.Sources {
		switch shown := sourceOf(s, n); {
		case s.Likely == result.LikelyOwn:
			v.Own = append(v.Own, shown)
		case len(v.Sources) == shownSources:
			v.MoreSources++
		default:
			v.Sources = append(v.Sources, shown)
		}
	}
	v.OwnLines = r.OwnLines[:min(shownOwn, len(r.OwnLines))]
	v.MoreLines = len(r.OwnLines) - len(v.OwnLines)
	v.Lead = v.lead(r)
	v.Rises, v.Nights, v.MoreRises = risesOf(r.Rises)
	return v
}

// lead says how many sources were found, or that none was, or none was sought.
func (v *noiseView) lead(r result.NoiseSources) string {
	switch all := len(v.Sources) + v.MoreSources; {
	case all == 1:
		return "1 noise source was found."
	case all > 1:
		return fmt.Sprintf("%d noise sources were found.", all)
	case slices.ContainsFunc(r.Doubts, func(d doubt.Doubt) bool { return d.Kind == doubt.NotSought }):
		return "Of noise sources nothing is known: no reading holds a finding. Findings were not sought by the version that recorded it, or no channel was free of signals."
	case len(v.Own)+len(v.OwnLines) > 0:
		return "No noise source was found, only lines of the receiver's own."
	}
	return "No noise source was found."
}

// sourceOf shows one source.
func sourceOf(s result.NoiseSource, n *names) sourceView {
	v := sourceView{NoiseSource: s, What: upper(wording.Printable(s.String())), Likely: upper(wording.Printable(s.LooksLike())),
		Hours: hoursOn(s.Hours), Strongest: strongest(s), Strengths: strengthsOf(s, n)}
	v.Facts = upper(text.SourceFacts(&s, "heard", "drift of the spacing")) + "."
	return v
}

// hoursOn tells when a source was on.
func hoursOn(hours []result.NoiseHours) hoursView {
	v := hoursView{Times: len(hours)}
	if v.Times > toldHours {
		v.All, v.More = spansOf(hours[:min(shownHours, v.Times)]), max(0, v.Times-shownHours)
		hours = []result.NoiseHours{{From: hours[0].From, To: text.LastEnd(hours)}}
	}
	v.Told = spansOf(hours)
	return v
}

func spansOf(hours []result.NoiseHours) (out []spanView) {
	for _, h := range hours {
		out = append(out, spanOf(h))
	}
	return out
}

func spanOf(h result.NoiseHours) spanView {
	v := spanView{From: h.From, Long: h.To.Sub(h.From) >= 20*time.Hour}
	if h.To.Sub(h.From) >= time.Minute {
		v.To = &h.To
	}
	return v
}

// strongest names the setup that hears the source best, where it does, and the one that
// hears it least there. Of notches, whose levels say how deep they are, it says nothing.
func strongest(s result.NoiseSource) string {
	heard := slices.DeleteFunc(slices.Clone(s.Strength), func(x result.NoiseStrength) bool { return x.Level == nil })
	if s.Kind == survey.FindingNotch || len(heard) == 0 {
		return ""
	}
	best := slices.MaxFunc(heard, func(a, b result.NoiseStrength) int { return cmp.Compare(*a.Level, *b.Level) })
	there := slices.DeleteFunc(slices.Clone(s.Strength), func(x result.NoiseStrength) bool { return x.Segment != best.Segment || bound(x) == nil })
	least := slices.MinFunc(there, func(a, b result.NoiseStrength) int { return cmp.Compare(*bound(a), *bound(b)) })
	text := fmt.Sprintf("Strongest on %s through %s: %s dB", wording.Printable(best.Segment), best.Setup.Short(wording.SentenceRoom), wording.Figure(best.Level, 1))
	if least.Setup != best.Setup {
		than := ""
		if least.Level == nil {
			than = "less than "
		}
		text += fmt.Sprintf("; there weakest through %s: %s%s dB", least.Setup.Short(wording.SentenceRoom), than, wording.Figure(bound(least), 1))
	}
	return text + "."
}

// bound gives the level, or where it is not known what it is under.
func bound(x result.NoiseStrength) *survey.DB {
	if x.Level != nil {
		return x.Level
	}
	return x.High
}

// strengthsOf gives the strengths, so many segments a table, setups in the page's order.
func strengthsOf(s result.NoiseSource, n *names) (out []strengthTable) {
	var segments []string
	for _, x := range s.Strength {
		if !slices.Contains(segments, x.Segment) {
			segments = append(segments, x.Segment)
		}
	}
	for some := range slices.Chunk(segments, shownSegments) {
		t := strengthTable{Of: text.OverWhat[s.Kind], Segments: wording.Printables(some)}
		for i, setup := range n.setups {
			row := strengthRow{Setup: n.labels[i], Cells: slices.Repeat([]cell{{Figure: wording.None}}, len(some))}
			known := false
			for _, x := range s.Strength {
				if at := slices.Index(some, x.Segment); at >= 0 && x.Setup == setup {
					row.Cells[at], known = cellOf(x), true
				}
			}
			if known {
				t.Rows = append(t.Rows, row)
			}
		}
		out = append(out, t)
	}
	return out
}

// cellOf writes a level with its 95 % interval, or the bound it stays under.
func cellOf(x result.NoiseStrength) cell {
	switch {
	case x.Level == nil && x.High != nil:
		return cell{Figure: "< " + wording.Figure(x.High, 1)}
	case x.Level == nil:
		return cell{Figure: wording.None}
	case x.Low == nil || x.High == nil:
		return cell{wording.Figure(x.Level, 1), "(no interval)"}
	}
	return cell{wording.Figure(x.Level, 1), "(" + fromTo(x.Low, x.High, 1) + ")"}
}

// ownPlace says where a line of the receiver's own stands.
func ownPlace(l result.OwnLine) string {
	switch {
	case l.Frequency != nil:
		return l.Frequency.String()
	case l.Offset != nil && *l.Offset < 0:
		return (-*l.Offset).String() + " under the tuning"
	case l.Offset != nil:
		return l.Offset.String() + " over the tuning"
	}
	return "somewhere"
}
