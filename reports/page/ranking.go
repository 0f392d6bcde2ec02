package page

import (
	"fmt"

	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/reports/verdict"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A rankView is one ranking: sentences, chart, text alternative and table; below them one of each
// state of the noise sources.
type rankView struct {
	*result.RankSegment
	ID        string
	Sentences []string
	Charted   bool // some setup has a figure beside another
	Told      bool // with intervals: what may be the best is worth telling
	Carriers  bool // setups were compared by carriers
	Places    int  // of decimals
	Changes   bool // of signal or floor are known
	Signals   bool // changes of signal are
	Nights    bool // some setup has an interval with the night as the unit
	Rows      []rankRow
	Halves    []verdict.HalvesTable // what changes of the wiring at half time did
	Caution   string                // of all of them
	Doubts    []doubtView
	States    []rankView
}

// A rankRow is one line of the table: the reference is compared with itself, without an interval.
type rankRow struct {
	result.RankSetup
	Setup, Advantage, Interval, Nights string
	Reference                          bool
}

// rankData is one ranking as the script draws it, best first; null where there
// is no figure.
type rankData struct {
	Setups    []int        `json:"setups"`
	Advantage []*survey.DB `json:"advantage_db"`
	Low       []*survey.DB `json:"low_db"`
	High      []*survey.DB `json:"high_db"`
	MayBeBest []bool       `json:"may_be_best"`
	Reference int          `json:"reference"` // −1 where it is not among them
	Text      []string     `json:"text"`
}

// ranksOf gives all rankings for template and script. A ranking of one state of the noise sources
// stands below that of all states, without a chart.
func ranksOf(r *result.Report, n *names) ([]rankView, map[string]rankData) {
	var views []rankView
	drawn := map[string]rankData{}
	entries := verdict.Entries(r.Rank)
	for i := range entries {
		s := &entries[i]
		v, d := rankOver(s, r.Rank.Reference, n)
		if last := len(views) - 1; s.State != nil && last >= 0 && views[last].SameSegment(s) && views[last].Period == s.Period {
			views[last].States = append(views[last].States, v)
			continue
		}
		v.ID = fmt.Sprintf("rank-%d", i)
		views = append(views, v)
		drawn[v.ID] = d
	}
	return views, drawn
}

// rankOver gives one ranking.
func rankOver(s *result.RankSegment, reference survey.Setup, n *names) (rankView, rankData) {
	v := rankView{RankSegment: s, Sentences: sentencesOf(s, reference), Places: text.Places(s.Setups), Told: verdict.Marked(s),
		Carriers: s.Of != result.OfTransmissions, Changes: text.ChangesKnown(s.Setups, reference), Doubts: doubtsOf(verdict.Doubts(s), "", n)}
	v.Halves, v.Caution = verdict.Halves(s, reference)
	d := rankData{Reference: -1}
	for _, row := range s.Setups {
		shown := rankRowOf(row, v.Places, row.Setup == reference)
		v.Nights = v.Nights || row.Nights != nil
		v.Signals = v.Signals || row.SignalChange != nil && row.Setup != reference
		v.Rows = append(v.Rows, shown)
		if row.SNRAdvantage == nil || s.Verdict == nil {
			continue
		}
		v.Charted = true
		row.MayBeBest = row.MayBeBest && v.Told
		d.add(row, n, shown)
	}
	return v, d
}

// add appends one setup to what is drawn.
func (d *rankData) add(row result.RankSetup, n *names, shown rankRow) {
	if shown.Reference {
		d.Reference = len(d.Setups)
	}
	d.Setups = append(d.Setups, n.Index(row.Setup))
	d.Advantage = append(d.Advantage, row.SNRAdvantage)
	d.Low = append(d.Low, row.Low)
	d.High = append(d.High, row.High)
	d.MayBeBest = append(d.MayBeBest, row.MayBeBest)
	text := shown.Advantage + " dB"
	if row.Low != nil && row.High != nil && !shown.Reference {
		text += " (" + shown.Interval + ")"
	}
	d.Text = append(d.Text, text)
}

// rankRowOf writes one setup's figures, with as many decimals as the segment's.
func rankRowOf(row result.RankSetup, places int, reference bool) rankRow {
	out := rankRow{RankSetup: row, Setup: row.Setup.String(), Advantage: wording.Signed(row.SNRAdvantage, places),
		Interval: wording.Interval(row.Low, row.High, places), Nights: wording.None, Reference: reference}
	if row.SNRAdvantage != nil && row.Low == nil && !reference {
		out.Advantage = "≈ " + out.Advantage
	}
	switch {
	case reference:
		out.Interval, out.Nights = "reference", "reference"
	case row.Nights != nil:
		out.Nights = wording.Interval(row.Nights.Low, row.Nights.High, places)
	}
	return out
}
