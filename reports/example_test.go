package reports_test

import (
	"fmt"
	"os"
	"time"

	"nightfloor/reports"
	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// A report is made of stored rows, here of three simulated readings of one hour, and holds the
// results that are asked for. Each can be written as a JSON document; what is not known is null.
func ExampleNewReport() {
	whip, start := survey.Setup{Antenna: "whip", Placement: "attic"}, time.Date(2026, 11, 3, 20, 0, 0, 0, time.UTC)
	in := input.Input{Surveys: []survey.Survey{{ID: 1, Kind: survey.KindRecord, Simulated: true, First: whip, Start: start}}}
	for i, density := range []survey.DBFSPerHz{-104, -103, -99} {
		at := start.Add(time.Duration(i) * time.Minute)
		in.Sweeps = append(in.Sweeps, &survey.Sweep{Survey: 1, Round: i + 1, Visit: i + 1, Setup: whip, Start: at, Readings: []survey.Reading{{
			Segment: survey.SegmentOf(9.4e6, 9.9e6), Start: at, Duration: time.Second, Floor: &survey.Floor{Density: density},
			Gain: survey.Gain{DB: 20, Known: true, Exact: true}}}})
	}
	selected, err := input.Select(in, input.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	report := reports.NewReport(selected, nil, reports.Asked{Floor: true}, 1, time.UTC)
	if err := result.WriteJSON(os.Stdout, report.Floor); err != nil {
		fmt.Println(err)
	}
	// Output:
	// {
	//   "schema": "nightfloor/floor/1",
	//   "simulated": true,
	//   "rows": [
	//     {
	//       "segment": "31 m",
	//       "low_hz": 9400000,
	//       "high_hz": 9900000,
	//       "antenna": "whip",
	//       "placement": "attic",
	//       "bearing_deg": null,
	//       "from": "2026-11-03T20:00:00Z",
	//       "to": "2026-11-03T21:00:00Z",
	//       "readings": 3,
	//       "gain_db": 20,
	//       "floor_dbfs_hz": {
	//         "p10": -103.8,
	//         "p50": -103,
	//         "p90": -99.8
	//       },
	//       "floor_dbm_hz": null,
	//       "floor_dbm_bound": null,
	//       "floor_dbm_sigma_db": null,
	//       "floor_dbm_budget": null,
	//       "fa_db": null,
	//       "receiver_margin_db": null,
	//       "margin_over": null,
	//       "receiver_limited": 0
	//     }
	//   ],
	//   "doubts": []
	// }
}
