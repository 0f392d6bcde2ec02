package main

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/result"
	"nightfloor/store"
	"nightfloor/survey"
)

// A stored calibration serves the report on a survey of the same receiver: a loop at
// 30 dB of gain whose floor stands 5.46 dB over the receiver's own noise, and a whip
// 1.19 dB over it. With full scale at −20 dBm the loop hears −145.99 dBm/Hz on top of
// −150 dBm/Hz of the receiver, of which −173.98 dBm/Hz are the terminator's.
func TestReportUsesCalibrations(t *testing.T) {
	const receiver = "Generic 2832U, R820T, serial 00000042, 2400000 samples/s (rtlsdr:)"
	path := filepath.Join(t.TempDir(), "calibrated.db")
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	band := survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}
	start := time.Date(2026, 11, 3, 19, 0, 0, 0, time.UTC)
	loop, whip := survey.Setup{Antenna: "loop", Placement: "loft"}, survey.Setup{Antenna: "whip", Placement: "loft"}
	id, err := db.BeginSurvey(t.Context(), survey.Survey{Kind: survey.KindRecord, Receiver: receiver, First: loop, Start: start})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 20 {
		setup, floor, at := loop, survey.DBFSPerHz(-130+5.46), start.Add(time.Duration(i)*time.Minute)
		if i%2 == 1 {
			setup, floor = whip, -130+1.19
		}
		err := db.AddSweep(t.Context(), &survey.Sweep{Survey: id, Round: i/2 + 1, Visit: i + 1, Setup: setup, Start: at, Readings: []survey.Reading{{
			Segment: band, Start: at, Duration: time.Second, Centre: 9.65e6, SampleRate: 2.4e6, BinWidth: 73, Resolution: 110,
			Gain: survey.Gain{DB: 30, Known: true}, Floor: &survey.Floor{Density: floor, Sigma: 0.1, Quiet: floor},
			Carriers: []survey.Carrier{{Frequency: 9.5e6, Power: 1e-7, Sigma: 1e-10, Detected: true}, {Frequency: 9.6e6, Power: 1e-7, Sigma: 1e-10, Detected: true}}}}})
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []survey.Calibration{
		{Kind: survey.CalibrateNoise, Noise: []survey.SelfNoise{{Segment: band, Gain: 30, Density: -130, Sigma: 0.05}}},
		{Kind: survey.CalibrateLevel, Levels: []survey.LevelReference{{Frequency: 9.65e6, Gain: 30, FullScale: -20, Sigma: 0.3, Basis: survey.BasisGenerator}}},
		{Kind: survey.CalibrateLines, Lines: []survey.OwnLine{{Frequency: 9.6e6, Gain: 30, Level: -70}}},
	} {
		c.Receiver, c.At = receiver, start.Add(-time.Hour)
		if err := db.AddCalibration(t.Context(), &c); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	page := filepath.Join(t.TempDir(), "report.html")
	if status, _, errOut := command(t, "report", "--db", path, "--html", page); status != 0 {
		t.Fatalf("status %d, %s", status, errOut)
	}
	text, err := os.ReadFile(page)
	for _, part := range []string{"margin 5.5 dB, −146 dBm/Hz ± 2.3 dB", "margin 1.2 dB, ≤ −149 dBm/Hz ± 2.3 dB"} {
		if err != nil || !strings.Contains(string(text), part) {
			t.Errorf("the page does not say %q: %v", part, err)
		}
	}
	_, list, _ := command(t, "calibrate", "list", "--db", path)
	_, table, _ := command(t, "report", "quality", "--db", path)
	for what, said := range map[string]string{"page": string(text), "list": list, "quality": strings.Join(strings.Fields(table), " ")} {
		if !strings.Contains(said, "serial 00000042, 2.4 MS/s (rtlsdr:)") || strings.Contains(said, "samples/s") {
			t.Errorf("%s: the receiver's rate is not in MS/s", what)
		}
	}
	status, out, errOut := command(t, "report", "--db", path, "--format", "json")
	var all struct {
		Rank    result.Rank
		Floor   result.FloorTable
		Quality result.Quality
	}
	if status != 0 || json.Unmarshal([]byte(out), &all) != nil || len(all.Floor.Rows) != 2 || len(all.Rank.Segments) != 1 {
		t.Fatalf("status %d, %s, %s", status, errOut, out)
	}
	for i, want := range []struct{ margin, input float64 }{{5.46, -145.99}, {1.19, -148.81}} {
		r := all.Floor.Rows[i]
		if r.Margin == nil || math.Abs(float64(*r.Margin)-want.margin) > 0.01 || r.DBmHz == nil || math.Abs(r.DBmHz.P50-want.input) > 0.01 {
			t.Errorf("%v: margin %v, %+v; want %v", r.Setup, r.Margin, r.DBmHz, want)
		}
	}
	for _, s := range all.Rank.Segments[0].Setups {
		if s.Setup == whip && (s.FloorChange != nil || s.SNRAdvantage == nil || s.Carriers != 1 || len(s.Flags) != 1 || s.Flags[0] != survey.FlagReceiverLimited) {
			t.Errorf("%+v", s)
		}
	}
	if n := all.Quality.Surveys[0].Flagged[survey.FlagReceiverLimited]; n != 10 {
		t.Errorf("%d readings receiver-limited, want 10", n)
	}
}
