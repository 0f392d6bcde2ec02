package text

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// WriteCSV writes a Rank, a FloorTable, Bearings, NoiseSources or a Quality as
// comma-separated values with a heading: units in the headings, times in UTC, an empty field where a figure does not
// apply. Every row of simulated data says so. It panics on another type.
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
	rows := [][]string{{"segment", "low_hz", "high_hz", "period", "antenna", "placement", "bearing_deg", "rank",
		"snr_advantage_db", "low_db", "high_db", "signal_change_db", "floor_change_db", "best_share", "may_be_best",
		"rounds", "carriers", "flags", "reference", "simulated"}}
	for _, seg := range r.Segments {
		for _, s := range seg.Setups {
			rank := ""
			if s.Rank > 0 {
				rank = strconv.Itoa(s.Rank)
			}
			row := append([]string{wording.Printable(seg.Segment), plainNumber(float64(seg.Low)), plainNumber(float64(seg.High)), seg.Period},
				setupCSV(s.Setup)...)
			rows = append(rows, append(row, rank, optional(s.SNRAdvantage), optional(s.Low), optional(s.High),
				optional(s.SignalChange), optional(s.FloorChange), optional(s.BestShare), strconv.FormatBool(s.MayBeBest),
				strconv.Itoa(s.Rounds), strconv.Itoa(s.Carriers), strings.Join(s.Flags, " "),
				wording.Printable(r.Reference.String()), strconv.FormatBool(r.Simulated)))
		}
	}
	return rows
}

func floorCSV(t result.FloorTable) [][]string {
	heading := []string{"segment", "low_hz", "high_hz", "antenna", "placement", "bearing_deg", "from_utc", "to_utc", "readings"}
	for _, figure := range []string{"floor_%s_dbfs_hz", "floor_%s_dbm_hz", "fa_%s_db"} {
		for _, q := range []string{"p10", "p50", "p90"} {
			heading = append(heading, fmt.Sprintf(figure, q))
		}
	}
	rows := [][]string{append(heading, "floor_dbm_sigma_db", "receiver_margin_db", "receiver_limited", "gain_db", "simulated")}
	for _, r := range t.Rows {
		row := append([]string{wording.Printable(r.Segment), plainNumber(float64(r.Low)), plainNumber(float64(r.High))}, setupCSV(r.Setup)...)
		row = append(row, wording.UTC(r.From), wording.UTC(r.To), strconv.Itoa(r.Readings))
		for _, q := range []*result.Quantiles{r.DBFSHz, r.DBmHz, r.Fa} {
			if q == nil {
				row = append(row, "", "", "")
				continue
			}
			row = append(row, plainNumber(q.P10), plainNumber(q.P50), plainNumber(q.P90))
		}
		rows = append(rows, append(row, optional(r.DBmSigma), optional(r.Margin), strconv.Itoa(r.Limited), optional(r.Gain), strconv.FormatBool(t.Simulated)))
	}
	return rows
}

// bearingsCSV gives a row a point, with the figures of its pattern.
func bearingsCSV(b result.Bearings) [][]string {
	rows := [][]string{{"antenna", "placement", "segment", "low_hz", "high_hz", "of", "frequency_hz", "spacing_hz", "envelope_hz",
		"null_deg", "null_low_deg", "null_high_deg", "peak_deg", "depth_db", "depth_low_db", "depth_high_db", "no_null", "rounds",
		"bearing_deg", "point_level_db", "point_low_db", "point_high_db", "visits", "reference", "simulated"}}
	for _, p := range b.Patterns {
		why := ""
		if p.NoNull != nil {
			why = p.NoNull.String()
		}
		for _, x := range p.Points {
			rows = append(rows, []string{wording.Printable(p.Antenna), wording.Printable(p.Placement), wording.Printable(p.Segment), plainNumber(float64(p.Low)), plainNumber(float64(p.High)),
				p.Of, optional(p.Frequency), optional(p.Spacing), optional(p.Envelope),
				optional(p.Null), optional(p.NullLow), optional(p.NullHigh), optional(p.Peak), optional(p.Depth), optional(p.DepthLow), optional(p.DepthHigh),
				why, strconv.Itoa(p.Rounds), plainNumber(x.Bearing), optional(x.Level), optional(x.Low), optional(x.High), strconv.Itoa(x.Visits),
				wording.Printable(p.Reference.String()), strconv.FormatBool(b.Simulated)})
		}
	}
	return rows
}

// qualityFlags are the flags in the order of their columns.
var qualityFlags = []string{survey.FlagOverload, survey.FlagReceiverLimited, survey.FlagLowDrive, survey.FlagDroppedSamples,
	survey.FlagNyquistImage, survey.FlagCrowded, survey.FlagShort, survey.FlagSetupDoubt, survey.FlagClockSet}

func qualityCSV(q result.Quality) [][]string {
	heading := []string{"survey", "first_utc", "last_utc", "rounds", "sweeps", "readings"}
	for _, flag := range qualityFlags {
		heading = append(heading, "flagged_"+strings.ReplaceAll(flag, "-", "_"))
	}
	rows := [][]string{append(heading, "gaps", "gaps_s", "ending", "simulated")}
	for _, s := range q.Surveys {
		row := []string{strconv.FormatInt(s.Survey, 10), optionalTime(s.First), optionalTime(s.Last),
			strconv.Itoa(s.Rounds), strconv.Itoa(s.Sweeps), strconv.Itoa(s.Readings)}
		for _, flag := range qualityFlags {
			row = append(row, strconv.Itoa(s.Flagged[flag]))
		}
		var silent time.Duration
		for _, g := range s.Gaps {
			silent += g.To.Sub(g.From)
		}
		ending := ""
		if s.Ending != nil {
			ending = wording.Printable(*s.Ending)
		}
		rows = append(rows, append(row, strconv.Itoa(len(s.Gaps)), plainNumber(silent.Seconds()), ending, strconv.FormatBool(s.Simulated)))
	}
	return rows
}

func setupCSV(s survey.Setup) []string {
	bearing := ""
	if s.Bearing.Known {
		bearing = plainNumber(s.Bearing.Deg)
	}
	return []string{wording.Printable(s.Antenna), wording.Printable(s.Placement), bearing}
}

// plainNumber writes a number as WriteJSON does.
func plainNumber(x float64) string { return result.RoundNumber(strconv.FormatFloat(x, 'f', -1, 64)) }

func optional[F ~float64](x *F) string {
	if x == nil {
		return ""
	}
	return plainNumber(float64(*x))
}

func optionalTime(t *time.Time) string {
	if t == nil {
		return ""
	}
	return wording.UTC(*t)
}
