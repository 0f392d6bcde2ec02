package page

import (
	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/reports/wording"
)

// A servedView is a calibration that levels, margins and lines left out rest on.
type servedView struct {
	Number         int64
	Kind, Receiver string
	At             stamp
	Note           string
	Words          []string // verdicts and doubts
}

// servedOf puts the calibrations that served into words.
func servedOf(q result.Quality) []servedView {
	var out []servedView
	for _, c := range q.Calibrations {
		v := servedView{Number: c.Calibration, Kind: wording.Printable(c.Kind), Receiver: wording.Printable(c.Receiver), At: stampOf(c.At), Note: wording.Printable(c.Note)}
		if verdicts := text.VerdictsText(c); verdicts != "" {
			v.Words = append(v.Words, verdicts)
		}
		for _, d := range c.Doubts {
			v.Words = append(v.Words, d.String())
		}
		out = append(out, v)
	}
	return out
}
