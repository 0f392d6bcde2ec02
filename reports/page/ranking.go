package page

import (
	"fmt"

	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A rankView is one ranking: chart, text alternative and table.
type rankView struct {
	*result.RankSegment
	ID      string
	Charted bool
	Places  int // of decimals
	Rows    []rankRow
	Doubts  []doubtView
}

// A rankRow is one line of the table: the reference is compared with itself, without an interval.
type rankRow struct {
	result.RankSetup
	Setup, Advantage, Interval string
	Reference                  bool
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

// ranksOf gives all rankings for template and script.
func ranksOf(r *result.Report, n *names) ([]rankView, map[string]rankData) {
	var views []rankView
	drawn := map[string]rankData{}
	for i, s := range r.Rank.Segments {
		v := rankView{RankSegment: &s, ID: fmt.Sprintf("rank-%d", i), Places: text.Places(s.Setups), Doubts: doubtsOf(s.Doubts, "", n)}
		d := rankData{Reference: -1}
		for _, row := range s.Setups {
			shown := rankRowOf(row, v.Places, row.Setup == r.Rank.Reference)
			v.Rows = append(v.Rows, shown)
			if row.SNRAdvantage == nil {
				continue
			}
			v.Charted = true
			d.add(row, n, shown)
		}
		views = append(views, v)
		drawn[v.ID] = d
	}
	return views, drawn
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
	interval := wording.Interval(row.Low, row.High, places)
	if reference {
		interval = "reference"
	}
	return rankRow{row, row.Setup.String(), wording.Signed(row.SNRAdvantage, places), interval, reference}
}
