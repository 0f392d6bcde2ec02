package text

import (
	"bytes"
	"encoding/csv"
	"math"
	"strings"
	"testing"

	"nightfloor/reports/result"
	"nightfloor/survey"
)

// A spreadsheet that opens the file finds no formula in a name, and numbers as they are.
func TestCSVHoldsNoFormula(t *testing.T) {
	minus, plus := survey.DB(-4.5), survey.DB(2.25)
	for name, want := range map[string]string{
		"=1+1": "'=1+1", "+1": "'+1", "-1": "'-1", "@SUM(A1)": "'@SUM(A1)", "  =1+1": "'  =1+1", "'quoted'": "''quoted'",
		"\t=1": `\x09=1`, "\r=1": `\x0d=1`, "＝1+1": "'＝1+1", "＋1": "'＋1", "－1": "'－1", "＠A": "'＠A", // wide ones count too, in East Asian settings
		"a;=1+1": "a;'=1+1", "-1; +1;b": "'-1;' +1;b", // where the semicolon parts cells
		"loop = best": "loop = best", "loop": "loop", "": "",
	} {
		r := result.Rank{Reference: survey.Setup{Antenna: name, Placement: name}, Segments: []result.RankSegment{{
			Segment: name, Period: name, Low: 9.4e6, High: 9.9e6,
			Setups: []result.RankSetup{{Setup: survey.Setup{Antenna: name, Placement: name}, SNRAdvantage: &minus, High: &plus, Rounds: 3, Flags: []string{name}}}}}}
		var b bytes.Buffer
		if err := WriteCSV(&b, r); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(&b).ReadAll()
		if err != nil || len(rows) != 2 {
			t.Fatal(rows, err)
		}
		for i, column := range rows[0] {
			got := rows[1][i]
			switch column {
			case "segment", "period", "antenna", "placement", "flags":
				if got != want {
					t.Errorf("%s of %q: %q, want %q", column, name, got, want)
				}
			case "snr_advantage_db":
				if got != "-4.5" {
					t.Errorf("%s: %q, want -4.5", column, got)
				}
			case "reference": // antenna@placement, as --reference takes it
				back, err := survey.ParseSetup(strings.ReplaceAll(strings.TrimPrefix(got, "'"), ";'", ";"))
				if name != "" && (err != nil || back != r.Reference) || strings.HasPrefix(want, "'") && strings.HasPrefix(got, name) {
					t.Errorf("reference of %q: %q", name, got)
				}
			}
		}
	}
}

// What is infinite or no number is an empty field.
func TestCSVHoldsNoInfiniteFigure(t *testing.T) {
	x := survey.DB(math.Inf(1))
	if row := fields(math.NaN(), math.Inf(-1), &x); row[0]+row[1]+row[2] != "" {
		t.Errorf("%q", row)
	}
}
