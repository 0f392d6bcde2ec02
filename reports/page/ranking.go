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
	ID, Segment, Range string
	Period             string
	Charted            bool
	Alt                string
	Rows               []rankRow
	Doubts             []doubtView
}

// A rankRow is one line of the table.
type rankRow struct {
	result.RankSetup
	Setup, Advantage, Interval, Signal, Floor, Share string
	Reference                                        bool
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
		v := rankView{
			ID:      fmt.Sprintf("rank-%d", i),
			Segment: wording.Printable(s.Segment),
			Range:   survey.Edges(s.Low, s.High, " to "),
			Period:  s.Period,
			Doubts:  doubtsOf(s.Doubts, "", n),
		}
		d := rankData{Reference: -1}
		for _, row := range s.Setups {
			shown := rankRowOf(row, text.Places(s.Setups), row.Setup == r.Rank.Reference)
			v.Rows = append(v.Rows, shown)
			if row.SNRAdvantage == nil {
				continue
			}
			v.Charted = true
			d.add(row, n, shown)
		}
		v.Alt = fmt.Sprintf("Chart: SNR advantage over %s in dB on %s, with 95 %% intervals, one dot a setup. The table below holds the same figures.",
			n.Spoken(r.Rank.Reference), v.Segment)
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

// rankRowOf writes one setup's figures, with as many decimals as the segment's. The reference is compared with itself: 0 by definition, no interval.
func rankRowOf(row result.RankSetup, places int, reference bool) rankRow {
	out := rankRow{
		RankSetup: row,
		Setup:     label(row.Setup),
		Advantage: wording.Signed(row.SNRAdvantage, places),
		Interval:  wording.Interval(row.Low, row.High, places),
		Signal:    wording.Signed(row.SignalChange, places),
		Floor:     wording.Signed(row.FloorChange, places),
		Share:     wording.Share(row.BestShare),
		Reference: reference,
	}
	if zero := wording.Number(0, places); reference {
		out.Advantage, out.Interval, out.Signal, out.Floor = zero, "reference", zero, zero
	}
	return out
}
