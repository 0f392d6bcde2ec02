package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"nightfloor/reports"
	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/store"
	"nightfloor/survey"
)

// overlapping stores two surveys of one evening, the second begun half an hour into
// the first, through a whip at 20 and 30 dB of gain in turn and a loop at 25 dB. The
// density is −120 dBFS/Hz at 20 dB, throughout. It gives the database's path.
func overlapping(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "two.db")
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	whip, loop := survey.Setup{Antenna: "whip", Placement: "attic"}, survey.Setup{Antenna: "loop", Placement: "loft", Bearing: survey.BearingOf(110)}
	for begin := range 2 {
		start := time.Date(2026, 11, 3, 19, 30*begin, 0, 0, time.UTC)
		id, err := db.BeginSurvey(t.Context(), survey.Survey{Kind: survey.KindRecord, First: whip, Start: start})
		if err != nil {
			t.Fatal(err)
		}
		for i := range 60 {
			setup, gain := whip, survey.DB(20+10*(i/2%2))
			if i%2 == 1 {
				setup, gain = loop, 25
			}
			at := start.Add(time.Duration(i) * time.Minute)
			level := -120 + gain - 20
			spectrum := &survey.Spectrum{First: 9.4e6, Step: 5000, ENBW: 1.5, Looks: 10, Density: make([]float32, 100)}
			for b := range spectrum.Density {
				spectrum.Density[b] = float32(level)
			}
			err := db.AddSweep(t.Context(), &survey.Sweep{Survey: id, Round: i/2 + 1, Visit: i + 1, Setup: setup, Start: at, Readings: []survey.Reading{{
				Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}, Start: at, Duration: time.Second, Centre: 9.65e6, SampleRate: 1e6,
				BinWidth: 73, Resolution: 110, Gain: survey.Gain{DB: gain, Known: true, Exact: true},
				Floor:    &survey.Floor{Density: survey.DBFSPerHz(level), Sigma: 0.1, Quiet: survey.DBFSPerHz(level)},
				Carriers: []survey.Carrier{{Frequency: 9.5e6, Power: 1e-7, Sigma: 1e-10, Detected: true}}, Spectrum: spectrum}}})
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	return path
}

func TestReportNamesTheFilterAtFault(t *testing.T) {
	zone := time.Local
	time.Local = time.FixedZone("CET", 3600)
	t.Cleanup(func() { time.Local = zone })
	path := overlapping(t)
	for _, test := range []struct {
		args   []string
		status int
		want   string
	}{
		{[]string{"--segment", "49 m"}, 1, `segment "49 m": not in the database; there are 31 m`},
		{[]string{"--survey", "7"}, 1, "survey 7: there are 1 and 2"},
		{[]string{"--from", "2026-11-05T00:00:00Z"}, 1, "nothing from 5 Nov 2026 01:00:00 CET on; the database covers 3 Nov 2026 20:00:00 CET to 3 Nov 2026 21:29:00 CET"},
		{[]string{"--from", "2026-11-03T20:00:00Z", "--to", "2026-11-03T19:00:00Z"}, 2, "--to 3 Nov 2026 20:00:00 CET lies before --from 3 Nov 2026 21:00:00 CET"},
		{[]string{"--reference", "lop"}, 1, `reference "lop": no such setup in what was recorded; there is whip@attic, loop@loft:110`},
	} {
		status, out, errOut := command(t, append([]string{"report", "--db", path}, test.args...)...)
		if status != test.status || out != "" || !strings.Contains(errOut, test.want) {
			t.Errorf("%v: status %d, %q; want %d and %q", test.args, status, errOut, test.status, test.want)
		}
	}
	status, out, errOut := command(t, "report", "rank", "--db", path, "--segment", "31m", "--reference", "loop@loft:110", "--format", "json")
	var rank result.Rank
	if status != 0 || json.Unmarshal([]byte(out), &rank) != nil || rank.Reference.Antenna != "loop" || len(rank.Segments) == 0 {
		t.Errorf("31m against loop@loft:110: status %d, %s, %s", status, errOut, out)
	}
}

// Surveys that overlap make one page, and steps of the receiver's gain none of the
// floor's.
func TestReportOfOverlappingSurveys(t *testing.T) {
	t.Parallel()
	path := overlapping(t)
	html := filepath.Join(t.TempDir(), "report.html")
	if status, _, errOut := command(t, "report", "--db", path, "--html", html); status != 0 {
		t.Fatalf("status %d: %s", status, errOut)
	}
	if info, err := os.Stat(html); err != nil || info.Size() == 0 {
		t.Fatal(err)
	}
	db, err := store.OpenReadOnly(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	report, _, err := loadReport(t.Context(), db, input.Options{}, reports.All, true)
	if err != nil || len(report.Pictures) != 2 || len(report.Floor.Rows) != 4 {
		t.Fatalf("%d pictures, %d rows, %v", len(report.Pictures), len(report.Floor.Rows), err)
	}
	for _, p := range report.Pictures {
		if p.Gain == nil || *p.Gain != 20 || len(p.Times) != 60 {
			t.Errorf("%v: %d rows at %v", p.Setup, len(p.Times), p.Gain)
		}
		for _, level := range p.DBFSHz {
			if level < -120.001 || level > -119.999 {
				t.Fatalf("%v: %v dBFS/Hz, want −120", p.Setup, level)
			}
		}
	}
	for _, r := range report.Floor.Rows {
		if q := r.DBFSHz; r.Gain == nil || *r.Gain != 20 || q.P10 < -120.001 || q.P90 > -119.999 {
			t.Errorf("%v: %+v at %v", r.Setup, q, r.Gain)
		}
	}
}
