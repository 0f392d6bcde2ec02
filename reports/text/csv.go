package text

import (
	"encoding/csv"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// WriteCSV writes a Rank, a FloorTable, Bearings, NoiseSources or a Quality as
// comma-separated values with a heading: units in the headings, times in UTC, an empty field where a
// figure does not apply. A text that a spreadsheet would take for a formula has an apostrophe before
// it (plainText); numbers stay as they are. Every row of simulated data says so. It panics on another
// type.
func WriteCSV(w io.Writer, answer any) error {
	var rows [][]string
	switch r := answer.(type) {
	case result.Rank:
		rows = rankCSV(r)
	case result.FloorTable:
		rows = floorCSV(r)
	case result.Bearings:
		rows = bearingsCSV(r)
	case result.NoiseSources:
		rows = noiseCSV(r)
	case result.Quality:
		rows = qualityCSV(r)
	default:
		panic(fmt.Sprintf("text: no CSV of a %T", answer))
	}
	out := csv.NewWriter(w)
	if err := out.WriteAll(rows); err != nil {
		return err
	}
	return out.Error()
}

func rankCSV(r result.Rank) [][]string {
	rows := [][]string{{"segment", "low_hz", "high_hz", "period", "state", "of", "antenna", "placement", "bearing_deg", "rank",
		"snr_advantage_db", "low_db", "high_db", "signal_change_db", "floor_change_db", "best_share", "may_be_best", "apart",
		"rounds", "carriers", "nights", "nights_low_db", "nights_high_db", "flags", "reference",
		"verdict", "verdict_setups", "lead_db", "lead_low_db", "lead_high_db", "more_rounds", "simulated"}}
	for _, seg := range r.Segments {
		verdict := verdictCSV(seg.Verdict)
		for _, s := range seg.Setups {
			var rank *int
			if s.Rank > 0 {
				rank = &s.Rank
			}
			nights := fields("", "", "")
			if s.Nights != nil {
				nights = fields(s.Nights.Count, s.Nights.Low, s.Nights.High)
			}
			rows = append(rows, slices.Concat(fields(seg.Segment, seg.Low, seg.High, seg.Period, seg.State, seg.Of, s.Antenna, s.Placement, s.Bearing, rank,
				s.SNRAdvantage, s.Low, s.High, s.SignalChange, s.FloorChange, s.BestShare, s.MayBeBest, s.Apart, s.Rounds, s.Carriers), nights,
				fields(strings.Join(s.Flags, " "), r.Reference), verdict, fields(r.Simulated)))
		}
	}
	return rows
}

// verdictCSV gives the columns of a verdict, which every setup of its ranking bears; setups stand apart
// by semicolons.
func verdictCSV(v *result.Verdict) []string {
	if v == nil {
		return fields("", "", "", "", "", "")
	}
	var setups []string
	for _, s := range v.Setups {
		setups = append(setups, s.String())
	}
	return fields(v.Kind, strings.Join(setups, "; "), v.Lead, v.Low, v.High, v.MoreRounds)
}

func floorCSV(t result.FloorTable) [][]string {
	rows := [][]string{{"segment", "low_hz", "high_hz", "antenna", "placement", "bearing_deg", "from_utc", "to_utc", "readings",
		"floor_p10_dbfs_hz", "floor_p50_dbfs_hz", "floor_p90_dbfs_hz", "floor_p10_dbm_hz", "floor_p50_dbm_hz", "floor_p90_dbm_hz",
		"fa_p10_db", "fa_p50_db", "fa_p90_db", "floor_dbm_sigma_db", "receiver_margin_db", "receiver_limited", "gain_db", "margin_over", "floor_dbm_bound", "simulated"}}
	for _, r := range t.Rows {
		row := fields(r.Segment, r.Low, r.High, r.Antenna, r.Placement, r.Bearing, r.From, r.To, r.Readings)
		for _, q := range []*result.Quantiles{r.DBFSHz, r.DBmHz, r.Fa} {
			if q == nil {
				row = append(row, "", "", "")
				continue
			}
			row = append(row, fields(q.P10, q.P50, q.P90)...)
		}
		rows = append(rows, append(row, fields(r.DBmSigma, r.Margin, r.Limited, r.Gain, r.MarginOver, r.DBmBound, t.Simulated)...))
	}
	return rows
}

// bearingsCSV gives a row a point, with the figures of its pattern.
func bearingsCSV(b result.Bearings) [][]string {
	rows := [][]string{{"antenna", "placement", "segment", "low_hz", "high_hz", "of", "frequency_hz", "spacing_hz", "envelope_hz",
		"null_deg", "null_low_deg", "null_high_deg", "peak_deg", "depth_db", "depth_low_db", "depth_high_db", "no_null", "rounds",
		"bearing_deg", "point_level_db", "point_low_db", "point_high_db", "visits", "reference", "simulated"}}
	for _, p := range b.Patterns {
		for _, x := range p.Points {
			rows = append(rows, fields(p.Antenna, p.Placement, p.Segment, p.Low, p.High, p.Of, p.Frequency, p.Spacing, p.Envelope,
				p.Null, p.NullLow, p.NullHigh, p.Peak, p.Depth, p.DepthLow, p.DepthHigh, p.NoNull, p.Rounds,
				x.Bearing, x.Level, x.Low, x.High, x.Visits, p.Reference, b.Simulated))
		}
	}
	return rows
}

// noiseCSV gives a row for each source and strength, and for each rise and strength; a
// source without any has one row.
func noiseCSV(r result.NoiseSources) [][]string {
	rows := [][]string{{"id", "kind", "spacing_hz", "envelope_hz", "mains_hz", "rate_hz", "depth", "shape", "first_utc", "last_utc",
		"share_of_rounds", "hours_utc", "drift_hz_per_hour", "confidence", "detections", "likely", "evidence", "against",
		"antenna", "placement", "bearing_deg", "segment", "low_hz", "high_hz", "strength_level_db", "strength_low_db", "strength_high_db", "rounds", "simulated"}}
	for _, s := range r.Sources {
		var hours []string
		for _, h := range s.Hours {
			hours = append(hours, wording.UTC(h.From)+"/"+wording.UTC(h.To))
		}
		own := []any{s.ID, s.Kind, s.Spacing, s.Envelope, s.Mains, s.Rate, s.Depth, s.Shape, s.First, s.Last, s.ShareOfRounds, strings.Join(hours, " "),
			s.Drift, s.Confidence, s.Detections, s.Likely, strings.Join(s.Evidence, "; "), strings.Join(s.Against, "; ")}
		if len(s.Strength) == 0 {
			rows = append(rows, fields(append(own, "", "", "", "", "", "", "", "", "", "", r.Simulated)...))
		}
		rows = append(rows, strengthCSV(own, s.Strength, r.Simulated)...)
	}
	for _, x := range r.Rises {
		own := []any{"", x.Kind, "", "", "", "", "", "", x.From, x.To, "", strings.Join(fields(x.From, x.To), "/"), "", "", "", "",
			strings.Join(x.Evidence, "; "), strings.Join(x.Against, "; ")}
		rows = append(rows, strengthCSV(own, x.Strength, r.Simulated)...)
	}
	return rows
}

// strengthCSV gives a row for each strength of a source or a rise, what is known of that before it.
func strengthCSV(own []any, all []result.NoiseStrength, simulated bool) (rows [][]string) {
	for _, x := range all {
		rows = append(rows, fields(slices.Concat(own, []any{x.Antenna, x.Placement, x.Bearing, x.Segment, x.SegmentLow, x.SegmentHigh, x.Level, x.Low, x.High, x.Rounds, simulated})...))
	}
	return rows
}

// qualityFlags are the flags in the order of their columns.
var qualityFlags = []string{survey.FlagOverload, survey.FlagReceiverLimited, survey.FlagLowDrive, survey.FlagDroppedSamples,
	survey.FlagNyquistImage, survey.FlagCrowded, survey.FlagShort, survey.FlagLineAtCentre, survey.FlagFilterEdge, survey.FlagSetupDoubt, survey.FlagClockSet}

func qualityCSV(q result.Quality) [][]string {
	heading := []string{"survey", "name", "first_utc", "last_utc", "rounds", "sweeps", "readings"}
	for _, flag := range qualityFlags {
		heading = append(heading, "flagged_"+strings.ReplaceAll(flag, "-", "_"))
	}
	rows := [][]string{append(heading, "gaps", "gaps_s", "ending", "simulated")}
	for _, s := range q.Surveys {
		row := fields(s.Survey, s.Name, s.First, s.Last, s.Rounds, s.Sweeps, s.Readings)
		for _, flag := range qualityFlags {
			row = append(row, fields(s.Flagged[flag])...)
		}
		var silent time.Duration
		for _, g := range s.Gaps {
			silent += g.To.Sub(g.From)
		}
		rows = append(rows, append(row, fields(len(s.Gaps), silent.Seconds(), s.Ending, s.Simulated)...))
	}
	return rows
}

// fields writes values as fields of a row, an empty one where a value is nil, not known, infinite or
// no number: numbers as WriteJSON does, times in UTC.
func fields(values ...any) []string {
	row := make([]string, len(values))
	for i, x := range values {
		v := reflect.ValueOf(x)
		if v.Kind() == reflect.Pointer {
			if v.IsNil() {
				continue
			}
			v = v.Elem()
		}
		switch x := v.Interface().(type) {
		case time.Time:
			row[i] = wording.UTC(x)
		case survey.Bearing:
			if x.Known {
				row[i] = plainNumber(x.Deg)
			}
		default:
			switch {
			case v.CanFloat():
				row[i] = plainNumber(v.Float())
			case v.CanInt():
				row[i] = fmt.Sprint(x)
			default:
				row[i] = plainText(wording.Printable(fmt.Sprint(x)))
			}
		}
	}
	return row
}

// plainText puts an apostrophe before a text that a spreadsheet would take for a formula, and before
// one that begins with an apostrophe, so that whoever takes the first one away has the text. It does
// so behind each semicolon: where the comma belongs to numbers, spreadsheets take that for the end of a cell.
// Spreadsheets set to East Asian languages take the wide forms of these characters, too.
func plainText(text string) string {
	cells := strings.Split(text, ";")
	for i, cell := range cells {
		if strings.IndexAny(strings.TrimLeft(cell, " "), "=+-@＝＋－＠'") == 0 {
			cells[i] = "'" + cell
		}
	}
	return strings.Join(cells, ";")
}

// plainNumber writes a number as WriteJSON does, nothing for what is infinite or no number.
func plainNumber(x float64) string {
	if !stats.Finite(x) {
		return ""
	}
	return result.RoundNumber(strconv.FormatFloat(x, 'f', -1, 64))
}
